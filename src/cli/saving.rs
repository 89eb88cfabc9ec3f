//! The options by which work is saved while it is done: gone on with after a stop, or done in shards by several machines.

use crate::cli::asked::Asked;
use crate::cli::outputs;
use crate::cli::progress::Progress;
use crate::cli::wrong;
use crate::decide::{Job, Keeper, Part, ProgressSink, Shard, Values, build, whole};
use crate::design::Design;
use crate::engine::{End, Outcomes};
use crate::error::{Error, Result};
use crate::io::file::{Log, read_log};
use crate::io::{Destination, Dimension, Output, quantity, typed};
use crate::model::Model;
use crate::report::{Header, read_part, write_part};
use crate::study::Trials;
use clap::Args;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Saving takes no more than one part in so many of the time.
const SHARE: u32 = 100;

/// Saved and shared work.
#[derive(Clone, Debug, Args)]
pub(super) struct Saving {
    /// Save what is done in this file; the same command goes on from it
    #[arg(long, value_name = "FILE")]
    pub resume: Option<PathBuf>,
    /// Time between two saves at least
    #[arg(long, value_name = "TIME", value_parser = time, default_value = "30 s", requires = "resume")]
    pub save_every: Duration,
    /// Do one shard of the work, such as 3/8, for `beamyield merge`
    #[arg(long, value_name = "I/K", value_parser = shard, requires = "resume")]
    pub shard: Option<Shard>,
}

/// Options of a command that a merge does not repeat, and whether a value follows.
const LEFT_OUT: [(&str, bool); 10] = [
    ("--resume", true),
    ("--shard", true),
    ("--save-every", true),
    ("--keep-units", false),
    ("--threads", true),
    ("--json", true),
    ("--csv", true),
    ("--trials-out", true),
    ("--report", true),
    ("--require-yield", true),
];

fn time(text: &str) -> std::result::Result<Duration, String> {
    let seconds = quantity::parse(text, Dimension::Time).ok();
    let time = seconds.filter(|of| *of > 0.0).and_then(|of| Duration::try_from_secs_f64(of).ok());
    time.ok_or_else(|| "expected a time above 0, such as \"30 s\" or \"5 min\"".to_owned())
}

fn shard(text: &str) -> std::result::Result<Shard, String> {
    let numbers = text.split_once('/').and_then(|(i, k)| Some((i.parse().ok()?, k.parse().ok()?)));
    match numbers {
        Some((number, of)) if (1..=of).contains(&number) && of <= 1_000_000 => Ok(Shard { number, of }),
        _ => Err("expected the number of the shard and how many there are, from 1/K to K/K, such as 3/8"
            .to_owned()),
    }
}

/// The words of this command line that say what is built, without those that say where it goes.
pub(super) fn command() -> Vec<String> {
    let mut words = std::env::args_os().skip(1).map(|word| word.to_string_lossy().into_owned());
    let mut kept = Vec::new();
    while let Some(word) = words.next() {
        let named =
            |option: &str| word == option || word.strip_prefix(option).is_some_and(|of| of.starts_with('='));
        match LEFT_OUT.iter().find(|(option, _)| named(option)) {
            Some((option, true)) if word == *option => drop(words.next()),
            Some(_) => {}
            None => kept.push(word),
        }
    }
    kept
}

/// The words of a command that makes the results of parts in one process: theirs, and where this one writes them.
pub(super) fn as_one(command: &[String]) -> Vec<String> {
    let mut words = std::env::args_os().skip(1).map(|word| word.to_string_lossy().into_owned());
    let mut all: Vec<String> = command.iter().map(|word| typed(word)).collect();
    while let Some(word) = words.next() {
        let outputs = LEFT_OUT[5..].iter().map(|(option, _)| *option);
        for option in outputs {
            if word == option {
                all.extend([typed(&word), typed(&words.next().unwrap_or_default())]);
                break;
            } else if word.strip_prefix(option).is_some_and(|of| of.starts_with('=')) {
                all.push(typed(&word));
            }
        }
    }
    all
}

/// What is built, as a part names it.
pub(super) fn header(opened: &Design, models: &[Model], vary: &[String], command: Vec<String>) -> Header {
    let model = opened.model();
    let rule = match model.trials {
        Trials::Fixed(_) => String::new(),
        Trials::UntilYield { half_width, .. } => format!("until the yield's half width is {half_width}"),
    };
    Header {
        study_hash: model.study_hash.clone(),
        seed: model.seed,
        plans: model.calibrations.iter().map(|of| of.name.clone()).collect(),
        vary: vary.to_vec(),
        trials: models[0].trials.most(),
        stopping_rule: rule,
        ..Header::new(command)
    }
}

/// The file beside a part that holds every unit.
pub(super) fn units_beside(part: &Path) -> PathBuf {
    let mut name = part.as_os_str().to_owned();
    name.push(".units");
    PathBuf::from(name)
}

/// Hands every unit of a part to `take`, in order.
pub(super) fn each_unit(
    part: &Path,
    header: &Header,
    mut take: impl FnMut(&Outcomes) -> Result<()>,
) -> Result<()> {
    let units = units_beside(part);
    let damaged = || Error::Part { path: units.clone(), reason: "it is damaged".to_owned() };
    read_log(&units, header.units_bytes.unwrap_or(0), |record| {
        take(&postcard::from_bytes::<Outcomes>(record).map_err(|_| damaged())?)
    })
}

/// The work that a command asks for.
pub(super) struct Wanted<'a> {
    pub models: &'a [Model],
    pub header: Header,
    pub values: Values,
    /// Whether every unit is kept on the disk.
    pub keeps_units: bool,
}

/// The work of a command, as far as it is done.
pub(super) struct Done {
    pub part: Part,
    pub end: End,
    /// The header of the file that holds it, where there is one.
    pub header: Option<Header>,
}

impl Done {
    /// Ends a shard of the work.
    pub(super) fn end_of(&self, shard: Shard, models: &[Model]) -> Result<()> {
        let (done, jobs) = (self.part.trials(), shard.jobs(models));
        let all: u64 = jobs.iter().map(|job| job.trials.end - job.trials.start).sum();
        let Shard { number, of } = shard;
        if !is_done(&self.part, &jobs, models) {
            let stopped = format!(
                "stopped after {done} of {all} units of shard {number}/{of}; the same command goes on"
            );
            return Err(Error::Interrupted(stopped));
        }
        let text = format!(
            "Shard {number} of {of} is done: {done} units. `beamyield merge` reports all shards together.\n"
        );
        outputs::write(Output::stdout(), &text)
    }
}

impl Saving {
    /// The files of the saved work, which no output may replace.
    pub(super) fn files(&self) -> Vec<PathBuf> {
        self.resume.iter().flat_map(|path| [path.clone(), units_beside(path)]).collect()
    }

    /// Refuses what a shard of the work cannot do.
    pub(super) fn refuse(&self, asked: &Asked, outputs: &[(&str, bool)]) -> Result<()> {
        if self.shard.is_none() {
            return Ok(());
        }
        let given = outputs.iter().find(|(_, is_given)| *is_given);
        if let Some((option, _)) = given {
            return Err(wrong(&format!(
                "one shard of the work has no results of its own: give {option} to `beamyield merge`"
            )));
        }
        if asked.file.study == Path::new("-") {
            return Err(wrong(
                "a merge reads the study again: give a shard the study's file, not standard input",
            ));
        }
        Ok(())
    }

    /// Does the work, or what is left of it; `take` sees every unit that is built here, unless units are kept.
    ///
    /// # Errors
    /// When the file is of other work; as [`build`].
    pub(super) fn build(
        &self,
        asked: &Asked,
        wanted: Wanted,
        progress: &mut Progress,
        take: &mut (dyn FnMut(&[Outcomes]) -> Result<()> + Send),
    ) -> Result<Done> {
        let Wanted { models, header, values, keeps_units } = wanted;
        let control = asked.control()?;
        let jobs = self.jobs(models, &header)?;
        let total = jobs.iter().map(|job| job.trials.end - job.trials.start).sum();
        let (mut part, mut saved) = match &self.resume {
            None => (Part::default(), None),
            Some(path) => {
                let shard = self.shard.map(|of| [of.number, of.of]);
                let (part, file) =
                    SavedPart::open(path, Header { shard, ..header }, keeps_units, self.save_every)?;
                (part, Some(file))
            }
        };
        let is_begun = part.trials() > 0;
        progress.begin(total);
        let mut keeper = Working {
            done: part.trials(),
            progress,
            take,
            saved: saved.as_mut(),
            is_done: &|part| is_done(part, &jobs, models),
        };
        // From the beginning on the file shows that this is under way.
        let begun = if is_begun { Ok(()) } else { keeper.save(&part) };
        let end = begun.and_then(|()| build(models, &jobs, values, &mut part, control, &mut keeper));
        progress.end();
        Ok(Done { part, end: end?, header: saved.map(|of| of.header) })
    }

    fn jobs(&self, models: &[Model], wanted: &Header) -> Result<Vec<Job>> {
        let Some(shard) = self.shard else { return Ok(whole(models)) };
        if !wanted.stopping_rule.is_empty() {
            return Err(wrong(
                "a run that stops by its yield cannot be shared out: ask for a number of units by --trials",
            ));
        }
        Ok(shard.jobs(models))
    }
}

/// Whether all jobs are done.
pub(super) fn is_done(part: &Part, jobs: &[Job], models: &[Model]) -> bool {
    jobs.iter().all(|job| part.is_done(job, &models[job.design]))
}

/// The file of a part.
struct SavedPart {
    path: PathBuf,
    header: Header,
    units: Option<Log>,
    every: Duration,
    next: Instant,
}

impl SavedPart {
    fn open(
        path: &Path,
        mut header: Header,
        keeps_units: bool,
        every: Duration,
    ) -> Result<(Part, SavedPart)> {
        let refuse = |reason: String| Err(Error::Part { path: path.to_owned(), reason });
        let (mut part, mut kept) = (Part::default(), 0);
        if let Some((before, saved)) = read_part(path)? {
            // More trials of the same run are added to it.
            let grows = before.shard.is_none() && header.vary.is_empty() && header.stopping_rule.is_empty();
            let same = if grows && header.shard.is_none() && saved.end(0) <= header.trials {
                Header { trials: header.trials, stopping_rule: String::new(), ..before.clone() }
            } else {
                before.clone()
            };
            if let Some(differs) = same.differs(&header) {
                return refuse(format!("{differs}; name another file, or remove this one to begin anew"));
            }
            match before.units_bytes {
                Some(bytes) => kept = bytes,
                None if keeps_units && saved.trials() > 0 => {
                    return refuse(
                        "it was begun without keeping units, so they cannot be written now".into(),
                    );
                }
                None => {}
            }
            part = saved;
        }
        let destination = Destination::at(path)?;
        destination.open()?;
        let units = keeps_units.then(|| Log::open(&units_beside(path), kept)).transpose()?;
        header.units_bytes = units.as_ref().map(|_| kept);
        let next = Instant::now() + every;
        Ok((part, SavedPart { path: path.to_owned(), header, units, every, next }))
    }

    fn save(&mut self, part: &Part, is_done: bool) -> Result<()> {
        // The work waited since then.
        let begun = self.next.min(Instant::now());
        if let Some(units) = &mut self.units {
            self.header.units_bytes = Some(units.sync()?);
        }
        self.header.is_done = is_done;
        write_part(Destination::at(&self.path)?.open()?, &mut self.header, part)?;
        self.next = Instant::now() + self.every.max(begun.elapsed() * SHARE);
        Ok(())
    }
}

/// The keeper of a command's work.
struct Working<'a> {
    done: u64,
    progress: &'a mut Progress,
    take: &'a mut (dyn FnMut(&[Outcomes]) -> Result<()> + Send),
    saved: Option<&'a mut SavedPart>,
    is_done: &'a (dyn Fn(&Part) -> bool + Sync),
}

impl Keeper for Working<'_> {
    fn take(&mut self, outcomes: &[Outcomes]) -> Result<()> {
        match self.saved.as_mut().and_then(|saved| saved.units.as_mut()) {
            Some(units) => {
                let record = postcard::to_stdvec(&outcomes[0]);
                units.add(&record.map_err(|error| units.failure(std::io::Error::other(error)))?)?;
            }
            None => (self.take)(outcomes)?,
        }
        self.done += outcomes.iter().map(|of| of.trials).sum::<u64>();
        self.progress.at(self.done);
        Ok(())
    }

    fn until(&self) -> Option<Instant> {
        self.saved.as_ref().map(|saved| saved.next)
    }

    fn save(&mut self, part: &Part) -> Result<()> {
        let is_done = (self.is_done)(part);
        self.saved.as_mut().map_or(Ok(()), |saved| saved.save(part, is_done))
    }
}
