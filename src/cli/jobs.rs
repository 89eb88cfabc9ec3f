//! `beamyield jobs`: job files for a scheduler.

use crate::cli::asked::Asked;
use crate::cli::outputs::{Places, Reports, Wanted, write};
use crate::cli::{Arguments, Execute, wrong};
use crate::error::{Error, Result};
use crate::io::file::{make_folder, names_in, refuse_same};
use crate::io::{Amount, Destination, Dimension, Output, inert, quantity, read_text};
use crate::report::jobs::{Jobs, MARK, SCHEDULERS, Scheduler, is_plain, jobs_text, shards_of_part};
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use clap::parser::ValueSource;
use clap::{ArgMatches, Args, CommandFactory, FromArgMatches};
use std::path::{Path, PathBuf};

/// Write job files that run a study in shards on a cluster
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES, override_usage = USAGE)]
pub(super) struct JobsCommand {
    /// The scheduler
    #[arg(value_parser = scheduler())]
    scheduler: &'static dyn Scheduler,
    /// Number of shards, each a task of its own
    #[arg(long, value_name = "K", value_parser = clap::value_parser!(u32).range(2..=10_000))]
    shards: u32,
    /// A folder for job files, parts and logs; made if it is not there
    #[arg(long, value_name = "DIR")]
    folder: String,
    /// Threads of a shard
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u16).range(1..=1024))]
    cores: u16,
    /// Limit of the time of a job, such as "2 h"
    #[arg(long, value_name = "TIME", value_parser = seconds)]
    time: Option<u64>,
    /// Limit of the memory of a job, such as "500 MB"
    #[arg(long, value_name = "SIZE", value_parser = bytes)]
    memory: Option<u64>,
    /// The command: run STUDY or sweep STUDY, with its options
    #[arg(last = true, required = true, num_args = 1.., value_name = "COMMAND")]
    command: Vec<String>,
}

const USAGE: &str = "beamyield jobs SCHEDULER --shards K --folder DIR [OPTIONS] -- COMMAND...";

const NOTES: &str = "\
The merge gets --json, --csv, --trials-out, --report and --require-yield of the
command, the shards get all else. Job files that are there are replaced. Submit
them with the commands that this one prints.

On other schedulers start task I of K, I from 1 on, with
  beamyield run STUDY --resume DIR/I-of-K.part --shard I/K
and after all of them  beamyield merge DIR
K must stay the same when a few tasks are submitted again. Number of the task:
  scheduler               variable                     counts from
  Slurm                   SLURM_ARRAY_TASK_ID          as submitted
  LSF                     LSB_JOBINDEX                 as submitted, 1 or more
  Grid Engine             SGE_TASK_ID                  as submitted, 1 or more
  PBS                     PBS_ARRAY_INDEX              as submitted
  Kubernetes indexed Job  JOB_COMPLETION_INDEX         0: add 1
  AWS Batch array         AWS_BATCH_JOB_ARRAY_INDEX    0: add 1";

/// The commands that work in shards.
const SPLIT: [&str; 2] = ["run", "sweep"];

/// Options of such a command that are for the merge.
const OF_THE_MERGE: [&str; 5] = ["json", "csv", "trials_out", "report", "require_yield"];

/// Options that the job files set.
const SET_HERE: [(&str, &str); 3] = [
    ("threads", "give the threads of a shard by --cores"),
    ("resume", "the job files name a part file for each shard"),
    ("shard", "the job files number the shards"),
];

impl Execute for JobsCommand {
    const EXAMPLES: &'static [&'static str] =
        &["beamyield jobs slurm --shards 8 --folder tile -- run studies/tile-8x8.toml"];

    fn run(&self) -> Result<()> {
        let split = Split::read(&self.command)?;
        self.check()?;
        let jobs = Jobs {
            shards: self.shards,
            cores: self.cores,
            seconds: self.time,
            memory: self.memory,
            program: program(),
            shard: [split.shard, vec!["--threads".to_owned(), self.cores.to_string()]].concat(),
            merge: [vec!["merge".to_owned(), self.folder.clone()], split.merge].concat(),
            folder: self.folder.clone(),
        };
        let folder = Path::new(&self.folder);
        let files = self.scheduler.files(&jobs);
        let paths: Vec<PathBuf> = files.iter().map(|file| folder.join(file.name)).collect();
        paths.iter().try_for_each(|path| keep(path))?;
        make_folder(folder)?;
        let places = paths.iter().map(|path| Destination::at(path)).collect::<Result<Vec<_>>>()?;
        let named: Vec<(&str, &Destination)> = files.iter().map(|file| file.name).zip(&places).collect();
        refuse_same(&named)?;
        let outputs = places.into_iter().map(Destination::open).collect::<Result<Vec<Output>>>()?;
        let written = files.iter().zip(outputs).map(|(file, output)| write(output, &file.text));
        Error::of_all(written)?;
        write(Output::stdout(), &inert(&jobs_text(self.scheduler, &jobs)))
    }
}

impl JobsCommand {
    /// Refuses limits that the scheduler cannot keep, a folder whose name job files cannot hold, and one with parts of other jobs.
    fn check(&self) -> Result<()> {
        if (self.time.is_some() || self.memory.is_some()) && !self.scheduler.has_limits() {
            return refuse(&format!(
                "{} limits neither time nor memory: leave out --time and --memory",
                self.scheduler.word()
            ));
        }
        let refuse = |reason: String| Err(Error::Output { path: PathBuf::from(&self.folder), reason });
        if !is_plain(&self.folder) {
            return refuse("let the name have only letters, digits and . _ - + /".to_owned());
        }
        let names = names_in(Path::new(&self.folder))?;
        let is_other = |name: &&String| name.ends_with(".part") && shards_of_part(name) != Some(self.shards);
        match names.iter().find(is_other) {
            Some(name) => refuse(format!(
                "it has {name}, which is no part of {} shards; the merge would read it: name another folder",
                self.shards
            )),
            None => Ok(()),
        }
    }
}

/// A command line that is at fault.
fn refuse<T>(reason: &str) -> Result<T> {
    Err(wrong(reason))
}

/// Refuses to replace a file that this command has not written.
fn keep(path: &Path) -> Result<()> {
    if path.is_file() && !read_text(path).is_ok_and(|of| of.text.contains(MARK)) {
        let reason = "it is no job file of this program: name another folder, or move it away".to_owned();
        return Err(Error::Output { path: path.to_owned(), reason });
    }
    Ok(())
}

/// The file of this program, so that jobs need no search path.
fn program() -> String {
    let file = std::env::current_exe().ok().and_then(|file| file.into_os_string().into_string().ok());
    file.filter(|file| !file.contains(char::is_control)).unwrap_or_else(|| "beamyield".to_owned())
}

/// The words of a command, shared out among shards and merge.
#[derive(Debug)]
struct Split {
    shard: Vec<String>,
    merge: Vec<String>,
}

impl Split {
    /// Reads the words of a command as the program would.
    ///
    /// # Errors
    /// [`Error::Input`] for a command that is wrong or that cannot be split, and for a study that is wrong; [`Error::Output`] for an output
    /// that cannot be at its place.
    fn read(words: &[String]) -> Result<Split> {
        if words.iter().any(|word| word.contains(char::is_control)) {
            return refuse("a job file holds no control characters");
        }
        if !words.first().is_some_and(|word| SPLIT.contains(&word.as_str())) {
            return refuse(&format!("only {} can be split into shards", SPLIT.join(" and ")));
        }
        let all = Arguments::command();
        let given = all
            .clone()
            .try_get_matches_from(std::iter::once("beamyield").chain(words.iter().map(String::as_str)));
        let given = given.map_err(|wrong| Error::Input(inert(&wrong.to_string()).into_owned()))?;
        let Some((name, given)) = given.subcommand() else { return refuse("no command follows --") };
        check(given)?;
        let mut split = Split { shard: vec![name.to_owned()], merge: Vec::new() };
        for arg in all.find_subcommand(name).into_iter().flat_map(|of| of.get_arguments()) {
            let id = arg.get_id().as_str();
            if given.value_source(id) != Some(ValueSource::CommandLine) {
                continue;
            }
            let values = given.get_raw(id).into_iter().flatten().map(|value| value.to_string_lossy());
            let to = if OF_THE_MERGE.contains(&id) { &mut split.merge } else { &mut split.shard };
            match arg.get_long() {
                Some(long) if arg.get_action().takes_values() => {
                    to.extend(values.flat_map(|value| option(long, &value)))
                }
                Some(long) => to.push(format!("--{long}")),
                // A study whose name begins as an option does.
                None => to.extend(
                    values.map(|of| if of.starts_with('-') { format!("./{of}") } else { of.into_owned() }),
                ),
            }
        }
        let has_units = ["csv", "trials_out"].iter().any(|id| has(given, id));
        if name == SPLIT[0] && has_units && !has(given, "keep_units") {
            split.shard.push("--keep-units".to_owned());
        }
        Ok(split)
    }
}

/// An option with its value.
fn option(long: &str, value: &str) -> Vec<String> {
    if value.starts_with('-') {
        return vec![format!("--{long}={value}")];
    }
    vec![format!("--{long}"), value.to_owned()]
}

/// Whether an option that the command may not have was given.
fn has(given: &ArgMatches, id: &str) -> bool {
    given.try_contains_id(id).unwrap_or(false) && given.value_source(id) == Some(ValueSource::CommandLine)
}

/// Refuses options of the job files, a study that is wrong with its changes, and outputs that cannot be at their places: every job would fail.
fn check(given: &ArgMatches) -> Result<()> {
    if let Some((id, reason)) = SET_HERE.iter().find(|(id, _)| has(given, id)) {
        return refuse(&format!("--{id} is for the job files: {reason}"));
    }
    let asked = Asked::from_arg_matches(given)
        .map_err(|wrong| Error::Input(inert(&wrong.to_string()).into_owned()))?;
    if asked.file.study == Path::new("-") {
        return refuse("a job has no standard input: name the study's file");
    }
    let opened = asked.open()?;
    let path = |id: &str| given.try_get_one::<PathBuf>(id).ok().flatten().map(PathBuf::as_path);
    let wanted = Wanted { parquet: path("trials_out"), ..asked.wanted(path("csv"), path("report")) };
    Places::open(&wanted, &opened.inputs(), Reports::Pages).map(drop)
}

fn scheduler() -> impl TypedValueParser<Value = &'static dyn Scheduler> {
    let words = SCHEDULERS.iter().map(|of| PossibleValue::new(of.word()).help(of.title()));
    PossibleValuesParser::new(words).try_map(|word| {
        SCHEDULERS.iter().copied().find(|of| of.word() == word).ok_or_else(|| format!("no scheduler {word}"))
    })
}

/// A time in whole seconds, rounded up.
fn seconds(text: &str) -> std::result::Result<u64, String> {
    match quantity::parse(text, Dimension::Time) {
        Ok(time) if time >= 60.0 => Ok(time.ceil() as u64),
        Ok(_) => Err("a job needs a minute or more".to_owned()),
        Err(wrong) => Err(wrong.to_string()),
    }
}

/// A size of memory in bytes.
fn bytes(text: &str) -> std::result::Result<u64, String> {
    let units = [("MB", 1e6), ("GB", 1e9), ("TB", 1e12), ("MiB", 1048576.0), ("GiB", 1073741824.0)];
    let size = Amount::parse(text).and_then(|of| {
        let (_, factor) = units.iter().find(|(unit, _)| *unit == of.unit)?;
        Some(of.number * factor)
    });
    match size {
        Some(size) if (1e7..=1e15).contains(&size) => Ok(size.ceil() as u64),
        Some(_) => Err("a job needs 10 MB or more, and has 1000 TB at most".to_owned()),
        None => Err("expected a size in MB, GB, TB, MiB or GiB, such as \"500 MB\"".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STUDY: &str = "studies/line-64.toml";

    fn split(words: &[&str]) -> Result<Split> {
        Split::read(&words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>())
    }

    fn refused(words: &[&str]) -> String {
        let error = split(words).unwrap_err();
        assert_eq!(error.exit_code(), 2);
        error.to_string()
    }

    #[test]
    fn outputs_are_for_the_merge_and_the_rest_for_the_shards() {
        let of = split(&[
            "run",
            "--json",
            "a b.json",
            STUDY,
            "--set=shifter.bits=5",
            "--quiet",
            "--require-yield=0.95",
            "--seed",
            "7",
        ])
        .unwrap();
        assert_eq!(of.shard, ["run", STUDY, "--set", "shifter.bits=5", "--seed", "7", "--quiet"]);
        assert_eq!(of.merge, ["--json", "a b.json", "--require-yield", "0.95"]);
        let of = split(&["sweep", STUDY, "--vary", "shifter.bits=4, 5", "--csv", "-"]).unwrap();
        assert_eq!(of.shard, ["sweep", STUDY, "--vary", "shifter.bits=4, 5"]);
        assert_eq!(of.merge, ["--csv=-"]);
    }

    #[test]
    fn units_are_kept_for_their_tables() {
        let of = split(&["run", STUDY, "--csv", "units.csv"]).unwrap();
        assert_eq!(of.shard, ["run", STUDY, "--keep-units"]);
        assert!(!split(&["run", STUDY]).unwrap().shard.contains(&"--keep-units".to_owned()));
    }

    #[test]
    fn what_no_job_can_do_is_refused_at_once() {
        for (words, reason) in [
            (&["check", STUDY][..], "only run and sweep"),
            (&["run", STUDY, "--trails", "5"], "--trials"),
            (&["run", STUDY, "--trials", "0"], "at least one unit"),
            (&["run", "-"], "no standard input"),
            (&["run", "nowhere.toml"], "nowhere.toml"),
            (&["run", STUDY, "--set", "shifter.bits=99"], "bits"),
            (&["run", STUDY, "--calibration", "none such"], "none such"),
            (&["run", STUDY, "--threads", "4"], "by --cores"),
            (&["run", STUDY, "--report", "page.pdf"], ".html"),
            (&["run", STUDY, "--json", "nowhere/a.json"], "does not exist"),
            (&["run", STUDY, "--json", "a\nb"], "control characters"),
        ] {
            assert!(refused(words).contains(reason), "{words:?}: {}", refused(words));
        }
    }

    #[test]
    fn sizes_and_times() {
        assert_eq!((bytes("500 MB"), bytes("2GiB")), (Ok(500_000_000), Ok(2 << 30)));
        assert_eq!((seconds("2 h"), seconds("90.5 s")), (Ok(7200), Ok(91)));
        for text in ["500", "500 mb", "MB", "-1 GB", "1 MB", "1e9 TB"] {
            assert!(bytes(text).is_err(), "{text}");
        }
        for text in ["2", "30 s", "2 m", "-1 h"] {
            assert!(seconds(text).is_err(), "{text}");
        }
    }
}
