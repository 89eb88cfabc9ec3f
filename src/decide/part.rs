//! The part of the work on some designs that is done: it can be written down, gone on with, and merged with other parts. However the
//! work is parted, the results are those of one run, bit for bit.

use crate::decide::split::Job;
use crate::decide::{DesignRun, PassCollector, Passes};
use crate::engine::{CannotMerge, Control, End, Leg, Outcomes, Partial, Pool, Settled, run_leg};
use crate::error::Error;
use crate::model::Model;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::atomic::Ordering;
use std::time::Instant;

/// Designs that run side by side: enough to share nearly all common work, few enough that an interrupted run has complete results and
/// that memory stays small.
const AT_ONCE: usize = 8;

/// What is done, by the number of the design.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(crate) struct Part {
    designs: BTreeMap<usize, DesignPart>,
}

/// What is done of one design.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct DesignPart {
    results: Results,
    /// `[calibration]`
    passes: Vec<Passes>,
    /// Whether the study's stopping rule is met.
    is_tight: bool,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
enum Results {
    /// Trials can be added.
    Open(Partial),
    /// All trials are there.
    Settled(Settled),
}

/// Follows the work, and keeps what is done of it.
pub(crate) trait Keeper: Send {
    /// Sees the next outcomes of the designs at work, in trial order.
    ///
    /// # Errors
    /// Whatever shall end the work.
    fn take(&mut self, outcomes: &[Outcomes]) -> Result<(), Error>;

    /// When the work shall pause to be saved, if ever.
    fn until(&self) -> Option<Instant> {
        None
    }

    /// Saves the work: at pauses, and at its end.
    ///
    /// # Errors
    /// Whatever shall end the work.
    fn save(&mut self, _: &Part) -> Result<(), Error> {
        Ok(())
    }
}

/// Whether values of figures are kept once a design is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Values {
    /// They are.
    Kept,
    /// They are not: for runs of many designs.
    Forgotten,
}

/// Does what is left of some jobs, a few designs at a time, on the same units.
///
/// Errors: as [`run_leg`]; those of the keeper.
pub(crate) fn build(
    models: &[Model],
    jobs: &[Job],
    values: Values,
    part: &mut Part,
    control: Control,
    keeper: &mut dyn Keeper,
) -> Result<End, Error> {
    let mut end = End::Done;
    let pool = Pool::new(control.threads)?;
    while let Some((designs, trials)) = next(models, jobs, part) {
        let group = &models[designs.clone()];
        let stops_early = models[0].trials.stops_early();
        let before = stops_early.then(|| designs.clone().map(|of| part.words(of, &models[of])).collect());
        let leg = Leg { trials: trials.clone(), until: keeper.until(), before };
        let collector = |model| PassCollector::starting(model, trials.start);
        let mut collected: Vec<PassCollector> = group.iter().map(collector).collect();
        let (partials, how) = run_leg(group, &leg, control, &mut |outcomes| {
            collected.iter_mut().zip(outcomes).for_each(|(of, outcomes)| of.take(outcomes));
            keeper.take(outcomes)
        })?;
        let done = partials.into_iter().zip(collected);
        pool.install(|| {
            for ((design, model), (partial, collected)) in designs.zip(group).zip(done) {
                part.add(design, model, partial, &collected, how == End::Tight);
                if values == Values::Forgotten {
                    part.settle(design, model);
                }
            }
        });
        let is_stopped = control.interrupt.load(Ordering::Relaxed) && how == End::Interrupted;
        if is_stopped {
            end = End::Interrupted;
            break;
        }
        if keeper.until().is_some_and(|until| Instant::now() >= until) {
            keeper.save(part)?;
        }
    }
    keeper.save(part)?;
    let stops_early = models.first().is_some_and(|model| model.trials.stops_early());
    let is_tight = stops_early && !part.designs.is_empty() && part.designs.values().all(|of| of.is_tight);
    Ok(if end == End::Done && is_tight { End::Tight } else { end })
}

/// Designs that follow each other and lack the same trials, and those trials.
fn next(models: &[Model], jobs: &[Job], part: &Part) -> Option<(Range<usize>, Range<u64>)> {
    let lacking = |job: &Job| part.lacking(job, &models[job.design]);
    let first = jobs.iter().position(|job| lacking(job).is_some())?;
    let (design, trials) = (jobs[first].design, lacking(&jobs[first])?);
    let alike = jobs[first..].iter().zip(design..).take(AT_ONCE);
    let count = alike
        .take_while(|(job, design)| job.design == *design && lacking(job) == Some(trials.clone()))
        .count();
    Some((design..design + count, trials))
}

impl Part {
    /// Trials of a job that are not done.
    fn lacking(&self, job: &Job, model: &Model) -> Option<Range<u64>> {
        let Some(of) = self.designs.get(&job.design) else {
            return (!job.trials.is_empty()).then(|| job.trials.clone());
        };
        let is_tight = of.is_tight && job.trials.end == model.trials.most() && model.trials.stops_early();
        let lacking = of.end().max(job.trials.start)..job.trials.end;
        (!is_tight && !lacking.is_empty() && matches!(of.results, Results::Open(_))).then_some(lacking)
    }

    /// Whether a job is done.
    pub(crate) fn is_done(&self, job: &Job, model: &Model) -> bool {
        self.lacking(job, model).is_none()
    }

    /// Trials done, over all designs.
    pub(crate) fn trials(&self) -> u64 {
        self.designs.values().map(DesignPart::trials).sum()
    }

    /// The trial after the last one of a design.
    pub(crate) fn end(&self, design: usize) -> u64 {
        self.designs.get(&design).map_or(0, DesignPart::end)
    }

    /// Verdicts on the units of a design, `[calibration]`.
    fn words(&self, design: usize, model: &Model) -> Vec<&[u64]> {
        let passes = self.passes(design);
        (0..model.calibrations.len()).map(|plan| passes.get(plan).map_or(&[][..], Passes::words)).collect()
    }

    /// Which units of a design pass, `[calibration]`; empty without units.
    pub(crate) fn passes(&self, design: usize) -> &[Passes] {
        self.designs.get(&design).map_or(&[], |of| &of.passes)
    }

    fn add(
        &mut self,
        design: usize,
        model: &Model,
        partial: Partial,
        collected: &PassCollector,
        is_tight: bool,
    ) {
        if partial.trials() == 0 {
            return;
        }
        let passes = collected.passes();
        let Some(of) = self.designs.get_mut(&design) else {
            let of = DesignPart { results: Results::Open(partial), passes: passes.to_vec(), is_tight };
            self.designs.insert(design, of);
            return;
        };
        of.is_tight |= is_tight;
        if let Results::Open(before) = &mut of.results {
            // Trials that follow each other are in no two of them.
            let merged = before.merge(model, partial);
            debug_assert_eq!(merged, Ok(()));
        }
        of.passes.iter_mut().zip(passes).for_each(|(passes, next)| passes.append(next));
    }

    /// Settles a design that has all of its trials.
    fn settle(&mut self, design: usize, model: &Model) {
        let Some(of) = self.designs.remove(&design) else { return };
        let is_all = of.is_tight || of.trials() == model.trials.most();
        let results = match of.results {
            Results::Open(partial) if is_all => match partial.settle(model) {
                Some(mut settled) => {
                    settled.forget_values();
                    Results::Settled(settled)
                }
                None => return,
            },
            results => results,
        };
        self.designs.insert(design, DesignPart { results, ..of });
    }

    /// Whether it can be of these designs.
    pub(crate) fn fits(&self, models: &[Model]) -> bool {
        let fits = |(design, of): (&usize, &DesignPart)| {
            models.get(*design).is_some_and(|model| of.passes.len() == model.calibrations.len())
        };
        self.designs.iter().all(fits)
    }

    /// Adds another part, whose trials come after those that are here.
    ///
    /// # Errors
    /// When it has other units, or when some trials are in both.
    pub(crate) fn merge(&mut self, models: &[Model], other: Part) -> Result<(), CannotMerge> {
        for (design, of) in other.designs {
            let Some(mine) = self.designs.get_mut(&design) else {
                let mut passes: Vec<Passes> =
                    models[design].calibrations.iter().map(|_| Passes::new(&models[design])).collect();
                passes.iter_mut().zip(&of.passes).for_each(|(passes, next)| passes.append(next));
                self.designs.insert(design, DesignPart { passes, ..of });
                continue;
            };
            match (&mut mine.results, of.results) {
                (Results::Open(mine), Results::Open(partial)) => mine.merge(&models[design], partial)?,
                _ => return Err(CannotMerge::Overlap(0..models[design].trials.most())),
            }
            mine.passes.iter_mut().zip(&of.passes).for_each(|(passes, next)| passes.append(next));
        }
        Ok(())
    }

    /// The results of all designs; `None` of one without trials, or where some that share lots are missing between others.
    ///
    /// Errors: threads that cannot be started.
    pub(crate) fn into_runs(
        self,
        models: &[Model],
        control: Control,
    ) -> Result<Vec<Option<DesignRun>>, Error> {
        let mut designs = self.designs;
        let of = |(number, model): (usize, &Model)| {
            let DesignPart { results, passes, is_tight } = designs.remove(&number)?;
            let summary = match results {
                Results::Settled(settled) => settled.summary(model),
                Results::Open(partial) => partial.summary(model)?,
            };
            let is_cut = !is_tight && summary.trials < model.trials.most();
            Some(DesignRun { summary, passes, is_cut })
        };
        Ok(Pool::new(control.threads)?.install(|| models.iter().enumerate().map(of).collect()))
    }
}

impl DesignPart {
    fn trials(&self) -> u64 {
        self.passes.first().map_or(0, Passes::units)
    }

    fn end(&self) -> u64 {
        self.passes.first().map_or(0, Passes::end)
    }
}
