//! `beamyield merge`: reports parts of a run or a sweep that several processes did.

use crate::cli::asked::{Asked, share};
use crate::cli::console::say;
use crate::cli::saving::{Done, each_unit, units_beside};
use crate::cli::{Arguments, Commands, Execute, wrong};
use crate::decide::Part;
use crate::engine::{End, MOST_THREADS, Outcomes};
use crate::error::{Error, Result};
use crate::io::file::names_in;
use crate::model::Model;
use crate::report::{Header, read_part};
use clap::{Args, Parser};
use std::path::PathBuf;

/// Report the shards of a run or a sweep as one
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct MergeCommand {
    /// Files that shards were saved in, or folders of them: all *.part there
    #[arg(required = true, value_name = "PART")]
    parts: Vec<PathBuf>,
    /// Report what is there, though shards are missing or unfinished
    #[arg(long)]
    partial: bool,
    /// Write the results to this file as JSON; - is standard output
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Write the CSV of that command to this file; - is standard output
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Write every unit to this file as Parquet, with units of measure
    #[arg(long, value_name = "FILE.parquet")]
    pub trials_out: Option<PathBuf>,
    /// Write a page with charts to this .html file; - is standard output
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
    /// Exit with 1 if the lower end of a yield interval is below this share
    #[arg(long, value_name = "SHARE", value_parser = share)]
    pub require_yield: Option<f64>,
    /// Number of threads, 0 for one per core; results do not depend on it
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true, value_parser = clap::value_parser!(u16).range(0..=MOST_THREADS as i64))]
    threads: u16,
    /// Do not count warnings
    #[arg(long)]
    quiet: bool,
}

const NOTES: &str = "\
The results are those of one process, byte for byte but for the time it took.
The study is read again, from where the shards read it. Shares of different
runs, and two of the same number, are refused.";

impl Execute for MergeCommand {
    const EXAMPLES: &'static [&'static str] = &["beamyield merge shards --json yield.json"];

    fn run(&self) -> Result<()> {
        let parts = Parts::read(&self.parts, self.partial)?;
        let words = std::iter::once("beamyield").chain(parts.command().iter().map(String::as_str));
        let read = Arguments::try_parse_from(words)
            .map_err(|error| wrong(&format!("the command of the shards: {error}")))?;
        match read.command {
            Commands::Run(run) => run.writing_to(self).merge(&parts),
            Commands::Sweep(sweep) => sweep.writing_to(self)?.merge(&parts),
            _ => Err(wrong("the shards are of no run and of no sweep")),
        }
    }
}

impl MergeCommand {
    /// Sets what all commands have: where the JSON goes, threads, whether warnings are counted.
    pub(super) fn outputs_of(&self, asked: &mut Asked) {
        asked.json.clone_from(&self.json);
        asked.threads = self.threads;
        asked.quiet |= self.quiet;
    }

    /// Refuses the outputs that runs alone have.
    pub(super) fn refuse_outputs_of_runs(&self) -> Result<()> {
        let given =
            [("--trials-out", self.trials_out.is_some()), ("--require-yield", self.require_yield.is_some())];
        match given.into_iter().find(|(_, is_given)| *is_given) {
            Some((option, _)) => Err(wrong(&format!("a sweep has no {option}"))),
            None => Ok(()),
        }
    }
}

/// The files of shards that belong together, in order.
pub(super) struct Parts {
    files: Vec<(PathBuf, Header)>,
    /// Whether all of the work is done.
    is_whole: bool,
}

impl Parts {
    /// Reads what all files are parts of. Shares must be of the same work, none twice; unless `partial`, none may be missing or unfinished.
    fn read(named: &[PathBuf], partial: bool) -> Result<Parts> {
        let mut files: Vec<(PathBuf, Header)> = Vec::new();
        for path in expand(named)? {
            let Some((header, _)) = read_part(&path)? else {
                return Err(Error::Part { path, reason: "it does not exist".to_owned() });
            };
            files.push((path, header));
        }
        files.sort_by_key(|(_, header)| header.shard);
        let (first, of) = (&files[0].0, &files[0].1);
        for (path, header) in &files[1..] {
            let reason = match (header.shard, of.shard) {
                (Some([_, mine]), Some([number, theirs])) if mine == theirs => {
                    Header { shard: Some([number, theirs]), ..header.clone() }.differs(of)
                }
                _ => header.differs(of).or(Some("both are the whole".to_owned())),
            };
            if let Some(reason) = reason {
                let reason = format!("it does not belong to {}: {reason}", first.display());
                return Err(Error::Part { path: path.clone(), reason });
            }
        }
        for two in files.windows(2) {
            if let (Some([number, of]), true) = (two[0].1.shard, two[0].1.shard == two[1].1.shard) {
                let reason = format!("shard {number}/{of} is in {} as well", two[0].0.display());
                return Err(Error::Part { path: two[1].0.clone(), reason });
            }
        }
        let lacking = lacking(&files);
        let is_whole = lacking.is_empty();
        if let Some(lacking) = (!is_whole).then(|| lacking.join("; ")) {
            if !partial {
                return Err(wrong(&format!("{lacking}. Run them, or report what is there by --partial")));
            }
            say(&format!("partial results: {lacking}"));
        }
        Ok(Parts { files, is_whole })
    }

    /// The words of the command that the shards belong to.
    pub(super) fn command(&self) -> &[String] {
        &self.files[0].1.command
    }

    /// All files, those of units too.
    pub(super) fn files(&self) -> Vec<PathBuf> {
        self.files.iter().flat_map(|(path, _)| [path.clone(), units_beside(path)]).collect()
    }

    /// Compares the shards with what their command asks for now.
    pub(super) fn check(&self, now: &Header) -> Result<()> {
        let (path, header) = &self.files[0];
        match header.differs(&Header { shard: header.shard, ..now.clone() }) {
            Some(reason) => Err(Error::Part { path: path.clone(), reason }),
            None => Ok(()),
        }
    }

    /// Refuses shards that keep no units.
    pub(super) fn need_units(&self) -> Result<()> {
        let lacks = |(_, header): &&(PathBuf, Header)| header.units_bytes.is_none() && header.trials_done > 0;
        let Some((path, _)) = self.files.iter().find(lacks) else { return Ok(()) };
        let reason = "it keeps no units to write: run the shards with --keep-units".to_owned();
        Err(Error::Part { path: path.clone(), reason })
    }

    /// Merges the results of all shards, one after the other.
    pub(super) fn merge(&self, models: &[Model]) -> Result<Done> {
        let mut all = Part::default();
        for (path, _) in &self.files {
            let gone = || Error::Part { path: path.clone(), reason: "it is gone".to_owned() };
            let (_, part) = read_part(path)?.ok_or_else(gone)?;
            let refused = |reason: String| Error::Part { path: path.clone(), reason };
            if !part.fits(models) {
                return Err(refused("it does not hold what its first line says".to_owned()));
            }
            all.merge(models, part).map_err(|error| refused(error.to_string()))?;
        }
        let end = if self.is_whole { End::Done } else { End::Interrupted };
        Ok(Done { part: all, end, header: None })
    }

    /// Hands every unit to `take`, in order.
    pub(super) fn each_unit(&self, mut take: impl FnMut(&Outcomes) -> Result<()>) -> Result<()> {
        self.files.iter().try_for_each(|(path, header)| each_unit(path, header, &mut take))
    }
}

/// All files that are named, and those in folders that are named.
fn expand(named: &[PathBuf]) -> Result<Vec<PathBuf>> {
    let mut all = Vec::new();
    for path in named {
        if !path.is_dir() {
            all.push(path.clone());
            continue;
        }
        // Hidden files are still being written.
        let is_part = |name: &&String| name.ends_with(".part") && !name.starts_with('.');
        let mut inside: Vec<PathBuf> =
            names_in(path)?.iter().filter(is_part).map(|name| path.join(name)).collect();
        if inside.is_empty() {
            let reason = "no file in this folder ends in .part".to_owned();
            return Err(Error::Part { path: path.clone(), reason });
        }
        inside.sort();
        all.append(&mut inside);
    }
    Ok(all)
}

/// Which shards are missing and which unfinished, in words.
fn lacking(files: &[(PathBuf, Header)]) -> Vec<String> {
    let of = files[0].1.shard.map_or(1, |[_, of]| of);
    let has = |number: u64| files.iter().any(|(_, header)| header.shard.is_none_or(|[own, _]| own == number));
    let missing: Vec<String> =
        (1..=of).filter(|number| !has(*number)).map(|number| format!("{number}/{of}")).collect();
    let unfinished = files.iter().filter(|(_, header)| !header.is_done);
    let unfinished: Vec<String> = unfinished
        .map(|(path, header)| {
            let units = header.trials_done;
            let shard = header.shard.map_or("all".to_owned(), |[number, of]| format!("{number}/{of}"));
            format!("{shard} ({units} units, {})", path.display())
        })
        .collect();
    let words = [("missing", missing), ("unfinished", unfinished)];
    let named = words.into_iter().filter(|(_, shards)| !shards.is_empty());
    named.map(|(what, shards)| format!("{what} shards: {}", shards.join(", "))).collect()
}
