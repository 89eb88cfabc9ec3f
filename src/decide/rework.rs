//! Units that fail, mended: parts replaced, calibrated again by the same plan, judged again, as often as the study allows.

use crate::decide::Passes;
use crate::engine::{CHUNK, Control, End, PlanOutcomes, run_together};
use crate::error::Error;
use crate::model::Model;
use crate::stats::Estimate;
use crate::study::Rework;

/// Rework of the units that fail after a calibration plan.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct ReworkResult {
    /// The attempts in order; each reworks the units that still fail after the one before.
    pub attempts: Vec<Attempt>,
    /// Units that are good in the end: those that passed at first, and those that rework mended.
    pub passes: Passes,
    /// Their share of all units built: the yield after rework.
    pub good: Estimate,
}

/// One attempt, over all units that need it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Attempt {
    /// Units reworked.
    pub tried: u64,
    /// Of these, units that then pass.
    pub mended: u64,
    /// Bench time of their new calibration, s, in total.
    pub bench_seconds: f64,
}

impl ReworkResult {
    /// Units that fail at first.
    pub(crate) fn failing(&self) -> u64 {
        self.attempts.first().map_or(0, |first| first.tried)
    }

    /// A sum over attempts for each unit that fails at first; `None` where none does.
    fn each(&self, of: impl Fn(&Attempt) -> f64) -> Option<f64> {
        let failing = self.failing();
        (failing > 0).then(|| self.attempts.iter().map(of).sum::<f64>() / failing as f64)
    }

    /// Share of the units that fail at first and are good in the end.
    pub(crate) fn success(&self) -> Option<f64> {
        self.each(|of| of.mended as f64)
    }

    /// Attempts for each unit that fails at first.
    pub(crate) fn attempts_each(&self) -> Option<f64> {
        self.each(|of| of.tried as f64)
    }

    /// Bench time of the new calibration for each of them, s.
    pub(crate) fn seconds_each(&self) -> Option<f64> {
        self.each(|of| of.bench_seconds)
    }
}

/// Reworks the failing units of a model after each of its calibration plans, `[calibration]`; `passes` says which fail at first. An inner
/// `None` where the study states no parts to replace; an outer `None` after an interrupt.
///
/// Attempt k of all units is a run of its own, in which the replaced parts are drawn from streams of the attempt: a unit's attempts
/// depend neither on which other units fail nor on how they are grouped into batches. Errors: as [`run_together`].
pub(crate) fn mend(
    model: &Model,
    rework: Option<&Rework>,
    passes: &[&Passes],
    confidence: f64,
    control: Control,
    progress: &mut (dyn FnMut(u64) + Send),
) -> Result<Option<Vec<Option<ReworkResult>>>, Error> {
    let units = passes.first().map_or(0, |first| first.units());
    let Some(replacing) = rework.and_then(Rework::replacing).filter(|_| units > 0) else {
        return Ok(Some(vec![None; passes.len()]));
    };
    let none = vec![Attempt::default(); replacing.attempts as usize];
    let mut all: Vec<(Passes, Vec<Attempt>)> = vec![(Passes::new(model), none.clone()); passes.len()];
    if passes.iter().all(|first| first.passed() == units) {
        all = passes.iter().map(|first| ((*first).clone(), none.clone())).collect();
    } else {
        let attempt = |number| model.attempt(replacing, number, units);
        let models: Vec<Model> = (1..=replacing.attempts).map(attempt).collect();
        let together = run_together(&models, control, |outcomes| {
            let chunk = outcomes[0].first_trial as usize / CHUNK;
            for (calibration, ((good, attempts), first)) in all.iter_mut().zip(passes).enumerate() {
                let mut passed = first.word(chunk);
                for (attempt, of) in attempts.iter_mut().zip(outcomes) {
                    passed |= attempt.take(&of.calibrations[calibration], passed);
                }
                good.push_word(outcomes[0].trials as u32, passed);
            }
            progress(outcomes[0].first_trial + outcomes[0].trials);
            Ok(())
        })?;
        if together.end == End::Interrupted {
            return Ok(None);
        }
    }
    let mended = |(passes, attempts): (Passes, Vec<Attempt>)| {
        let good = passes.convergence(confidence).pop()?;
        Some(ReworkResult { attempts, passes, good })
    };
    Ok(Some(all.into_iter().map(mended).collect()))
}

impl Attempt {
    /// Reworks the units of a chunk that did not pass before, and returns those that pass now.
    fn take(&mut self, outcomes: &PlanOutcomes, passed_before: u64) -> u64 {
        let tried = outcomes.all() & !passed_before;
        let mended = tried & outcomes.passed();
        self.tried += u64::from(tried.count_ones());
        self.mended += u64::from(mended.count_ones());
        let seconds = outcomes.seconds().iter().enumerate().filter(|(unit, _)| tried >> unit & 1 == 1);
        self.bench_seconds += seconds.map(|(_, seconds)| seconds).sum::<f64>();
        mended
    }
}
