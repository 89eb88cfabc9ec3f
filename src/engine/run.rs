//! Chunks of trials on threads, taken in order, gathered in order.
//!
//! A chunk has a constant size, whatever the threads. Threads take chunks by counting up and compute the results of each by itself;
//! one thread at a time then merges them, in the order of trials, so results do not depend on which thread was faster
//! ([`Line`] gives out the tasks). When a run is stopped, the chunks already begun are the first ones without a gap:
//! they are finished if that does not take long, else the first of them ends with the batch in hand, and what comes after it is dropped.

use crate::engine::accumulator::{Accumulator, Counted};
use crate::engine::forecast::{ahead, fit};
use crate::engine::line::{Line, Merged, Task};
use crate::engine::observer::Nobody;
use crate::engine::outcomes::{CHUNK, Outcomes};
use crate::engine::partial::{Partial, accumulators};
use crate::engine::sharing::Sharing;
use crate::engine::summary::{Reducer, Summary};
use crate::engine::threads::Pool;
use crate::engine::trial::{LANES, trial};
use crate::engine::workspace::Workspace;
use crate::error::Error;
use crate::model::Model;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant};

/// So long after a stop was heard a chunk may still be finished.
const TO_FINISH: Duration = Duration::from_millis(500);

/// How a run is driven.
#[derive(Clone, Copy, Debug)]
pub struct Control<'a> {
    /// Threads; 0 for one a core.
    pub threads: usize,
    /// Set from outside to stop after the units in hand.
    pub interrupt: &'a AtomicBool,
}

impl Default for Control<'_> {
    /// As many threads as the environment asks for, else one a core, and no stop.
    fn default() -> Self {
        static NEVER: AtomicBool = AtomicBool::new(false);
        Control { threads: 0, interrupt: &NEVER }
    }
}

/// The result of a run.
#[derive(Clone, Debug)]
pub(crate) struct Finish {
    /// What the trials say; `None` when there are none.
    pub summary: Option<Summary>,
    /// Why there are no more.
    pub end: End,
}

/// Why a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// All trials are done.
    Done,
    /// The yields are as tight as the study asks.
    Tight,
    /// It was stopped from outside.
    Interrupted,
}

/// A chunk of trials of every model, and its sums for each of a model's calibrations.
struct Chunk {
    outcomes: Vec<Outcomes>,
    accumulators: Vec<Vec<Accumulator>>,
    /// Whether a stop came before all of its trials were done.
    is_cut: bool,
}

/// The chunks that are merged so far.
struct Course<'p, 'w, 'f> {
    /// `[model]`
    reducers: Vec<Reducer<'p>>,
    watch: &'w mut Watch<'f>,
    /// Whether the study's stopping rule holds.
    stops_early: bool,
    is_tight: bool,
    result: Result<(), Error>,
}

impl Course<'_, '_, '_> {
    /// Takes the next chunk; true when no more is wanted.
    fn take(
        &mut self,
        outcomes: &[Outcomes],
        accumulators: Vec<Vec<Accumulator>>,
        counted: &[Counted],
    ) -> bool {
        self.result = (self.watch)(outcomes);
        let mut is_tight = self.stops_early;
        let models = self.reducers.iter_mut().zip(outcomes).zip(accumulators).zip(counted);
        for (((reducer, outcomes), accumulators), counted) in models {
            is_tight &= reducer.take(outcomes, accumulators, counted).is_break();
        }
        self.is_tight = is_tight;
        self.result.is_err() || self.is_tight
    }
}

/// Runs the model's trials and lets `watch` see all outcomes that count, in trial order. What it sees and the summary do not depend
/// on threads.
///
/// Errors: whatever `watch` fails with; a thread pool that cannot be made.
pub(crate) fn run(
    model: &Model,
    control: Control,
    mut watch: impl FnMut(&Outcomes) -> Result<(), Error> + Send,
) -> Result<Finish, Error> {
    let mut watch = |outcomes: &[Outcomes]| watch(&outcomes[0]);
    let Together { summaries, end } = run_wide(std::slice::from_ref(model), control, &mut watch)?;
    Ok(Finish { summary: summaries.and_then(|mut of| of.pop()), end })
}

/// Runs several models on the same units: trial n of each has the same deviations wherever they have sources of the same name
/// and seed, and what they share is worked out once. `watch` sees the outcomes of every model at once, in trial order. Each has
/// the result of its own run, but that a stopping rule has to be met by all.
///
/// Runs as many trials as the first model asks for. Errors: as [`run`].
///
/// # Panics
/// Without a model.
pub(crate) fn run_together(
    models: &[Model],
    control: Control,
    mut watch: impl FnMut(&[Outcomes]) -> Result<(), Error> + Send,
) -> Result<Together, Error> {
    run_wide(models, control, &mut watch)
}

/// The results of models that ran together.
#[derive(Clone, Debug)]
pub(crate) struct Together {
    /// What the trials say, `[model]`; `None` when there are none.
    pub summaries: Option<Vec<Summary>>,
    /// Why there are no more.
    pub end: End,
}

/// Compiled here once, whoever calls: the engine is large.
#[inline(never)]
fn run_wide(models: &[Model], control: Control, watch: Watch) -> Result<Together, Error> {
    run_by::<LANES>(models, control, watch)
}

/// Sees all outcomes that count, `[model]`, in trial order.
pub(crate) type Watch<'w> = &'w mut (dyn FnMut(&[Outcomes]) -> Result<(), Error> + Send);

/// The same as [`run_together`], W trials at a time: any other width gives the same bits, which is what this is for.
///
/// Errors: as [`run`].
pub(crate) fn run_by<const W: usize>(
    models: &[Model],
    control: Control,
    watch: Watch,
) -> Result<Together, Error> {
    let (partial, end) = go::<W>(models, &Leg::whole(models), control, watch)?;
    let summary = |(partial, model): (Partial, &Model)| partial.summary(model);
    let summaries =
        Pool::new(control.threads)?.install(|| partial.into_iter().zip(models).map(summary).collect());
    Ok(Together { summaries, end })
}

/// Runs some of a model's trials, whatever its stopping rule says; `watch` sees their outcomes in trial order. The result can be merged
/// with that of other trials of the model.
///
/// Errors: as [`run`].
pub(crate) fn accumulate(
    model: &Model,
    trials: Range<u64>,
    control: Control,
    mut watch: impl FnMut(&Outcomes) -> Result<(), Error> + Send,
) -> Result<(Partial, End), Error> {
    let models = std::slice::from_ref(model);
    let leg = Leg { trials, until: None, before: None };
    let (partial, end) = run_leg(models, &leg, control, &mut |outcomes: &[Outcomes]| watch(&outcomes[0]))?;
    Ok((partial.into_iter().next().unwrap_or_else(|| Partial::new(model)), end))
}

/// Some trials of a run.
#[derive(Clone, Debug)]
pub(crate) struct Leg<'a> {
    /// The trials.
    pub trials: Range<u64>,
    /// No chunk is begun after this; those that are begun are finished.
    pub until: Option<Instant>,
    /// Where the study's stopping rule holds, the verdicts on all trials before these, a bit for each, `[model][calibration]`.
    pub before: Option<Vec<Vec<&'a [u64]>>>,
}

impl Leg<'_> {
    /// All trials that models ask for, by their stopping rule.
    fn whole(models: &[Model]) -> Leg<'static> {
        let none = |model: &Model| vec![&[][..]; model.calibrations.len()];
        let before = models.iter().map(none).collect();
        Leg { trials: 0..models[0].trials.most(), until: None, before: Some(before) }
    }
}

/// Runs some trials of models on the same units; `watch` sees all outcomes, `[model]`, in trial order. The result of each model can be merged
/// with that of other trials.
///
/// Errors: as [`run`].
pub(crate) fn run_leg(
    models: &[Model],
    leg: &Leg,
    control: Control,
    watch: Watch,
) -> Result<(Vec<Partial>, End), Error> {
    go::<LANES>(models, leg, control, watch)
}

#[inline(never)]
fn go<const W: usize>(
    models: &[Model],
    leg: &Leg,
    control: Control,
    mut watch: Watch,
) -> Result<(Vec<Partial>, End), Error> {
    let Leg { trials, until, before } = leg;
    let pool = Pool::new(control.threads)?;
    fit(models, pool.size(), trials.end.saturating_sub(trials.start))?;
    let (room, _) = ahead(models, pool.size());
    let threads = pool.size().min(room);
    let (count, first_chunk) = (trials.end.saturating_sub(trials.start), trials.start / CHUNK as u64);
    let sharing = Sharing::of(models);
    let chunks = if count > 0 { trials.end.div_ceil(CHUNK as u64) - first_chunk } else { 0 };
    let line = Line::new(chunks, room);
    let counted: Vec<Counted> = models.iter().map(Counted::new).collect();
    let before_of = |number: usize| before.as_ref().map(|of| of[number].as_slice());
    let numbered = models.iter().enumerate();
    let course = Mutex::new(Course {
        reducers: numbered
            .map(|(number, model)| Reducer::new(model, trials.start, before_of(number)))
            .collect(),
        watch: &mut watch,
        stops_early: before.is_some(),
        is_tight: false,
        result: Ok(()),
    });

    let is_interrupted = || control.interrupt.load(Ordering::Relaxed);
    let is_stopped = || is_interrupted() || until.is_some_and(|until| Instant::now() >= until);
    let heard = OnceLock::new();
    let should_stop =
        || line.is_ended() || is_interrupted() && heard.get_or_init(Instant::now).elapsed() > TO_FINISH;
    let work = || {
        let mut units = Workspace::<W>::until(models, &sharing, &should_stop);
        loop {
            match line.next(is_stopped) {
                Task::Begin(number) => {
                    let chunk = (first_chunk + number) * CHUNK as u64;
                    let trials = chunk.max(trials.start)..(chunk + CHUNK as u64).min(trials.end);
                    line.hand_in(number, run_chunk(models, trials, &mut units));
                }
                Task::Merge(Chunk { outcomes, accumulators, is_cut }) => {
                    // No other thread is at it.
                    let mut course = course.lock().unwrap_or_else(PoisonError::into_inner);
                    let is_last = outcomes[0].trials > 0 && course.take(&outcomes, accumulators, &counted);
                    let is_last = is_last || is_cut;
                    drop(course);
                    let is_counted = outcomes.iter().zip(&counted).any(|(of, counted)| counted.takes(of));
                    let left = if is_counted { Merged::ToCount(outcomes) } else { Merged::Done };
                    line.merged(left, is_last);
                }
                Task::Count(chunks) => {
                    for (model, counted) in counted.iter().enumerate() {
                        let all = chunks.iter().map(|of: &Vec<Outcomes>| &of[model]);
                        counted.count(&all.filter(|of| counted.takes(of)).collect::<Vec<&Outcomes>>());
                    }
                    let number = chunks.len();
                    drop(chunks);
                    line.counted(number);
                }
                Task::End => break,
            }
        }
    };
    pool.on_each(threads, work);

    let Course { reducers, is_tight, result, .. } =
        course.into_inner().unwrap_or_else(PoisonError::into_inner);
    result?;
    let end = match () {
        _ if is_tight => End::Tight,
        _ if reducers[0].trials() < count => End::Interrupted,
        _ => End::Done,
    };
    let finish = |(of, counted): (Reducer, Counted)| of.finish(counted);
    Ok((reducers.into_iter().zip(counted).map(finish).collect(), end))
}

/// A chunk of trials, or a part of one; ends with the batch in hand once it is given up.
fn run_chunk<const W: usize>(models: &[Model], trials: Range<u64>, units: &mut Workspace<W>) -> Chunk {
    let mut outcomes: Vec<Outcomes> = models.iter().map(|model| Outcomes::new(model, trials.start)).collect();
    let (mut at, mut is_cut) = (trials.start, false);
    while at < trials.end && !is_cut {
        let count = (trials.end - at).min(W as u64);
        is_cut = trial(units, at, count as usize, &mut outcomes, &mut Nobody).is_break();
        if is_cut {
            outcomes.iter_mut().for_each(Outcomes::take_back);
        }
        at += count;
    }
    let accumulators = models.iter().zip(&outcomes).map(|(model, of)| accumulators(model, of)).collect();
    Chunk { outcomes, accumulators, is_cut }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::io::SourceText;
    use crate::stats::Moments;
    use crate::study::{Trials, parse};

    /// A pair whose residual phase, half a normal difference, is within its limit for about half the units.
    const STUDY: &str = r#"
title = "Pair"
seed = 3
trials = 200
frequencies = ["28 GHz"]
figures = ["residual_phase_rms"]
array = { layout = { kind = "linear", count = 2, spacing = "0.5 wavelength" } }
beam = [{ name = "broadside", theta = "0 deg" }]
block = [
    { name = "amplifier", kind = "amplifier", gain = "0 dB", phase = { nominal = "0 deg", normal = { sd = "2 deg" } } },
    { name = "shifter", kind = "phase_shifter", bits = 6 },
]
calibration = [{ name = "none" }]
limit = [{ figure = "residual_phase_rms", at_most = "1 deg" }]
"#;

    fn model(trials: Trials) -> Model {
        let source = SourceText { name: "pair.toml".into(), text: STUDY.into() };
        Model { trials, ..crate::model::compile(&parse(&source).unwrap(), STUDY) }
    }

    /// Runs a model and also gives the one column of all units.
    fn ran<const W: usize>(model: &Model, threads: usize) -> (Finish, Vec<f64>) {
        let mut values = Vec::new();
        let control = Control { threads, interrupt: &AtomicBool::new(false) };
        let finish = run_by::<W>(std::slice::from_ref(model), control, &mut |outcomes| {
            values.extend_from_slice(outcomes[0].calibrations[0].values(0));
            Ok(())
        });
        let Together { summaries, end } = finish.unwrap();
        (Finish { summary: summaries.and_then(|mut of| of.pop()), end }, values)
    }

    #[test]
    fn any_number_of_trials_works_at_any_width() {
        let (_, all) = ran::<1>(&model(Trials::Fixed(200)), 1);
        for trials in [1, 3, 16, 63, 64, 65, 200] {
            let model = model(Trials::Fixed(trials));
            let expected = &all[..trials as usize];
            for (finish, values) in [ran::<1>(&model, 2), ran::<16>(&model, 2)] {
                assert_eq!(values, expected, "{trials}");
                assert_eq!((finish.summary.unwrap().trials, finish.end), (trials, End::Done));
            }
        }
    }

    /// Ends just below and well above the count up to which percentiles are exact: n = z^2 p (1 - p) / w^2 trials.
    #[test]
    fn a_run_until_the_yield_is_tight_is_the_same_on_any_threads() {
        for (half_width, is_exact) in [(0.0039, true), (0.0034, false)] {
            let model = model(Trials::UntilYield { half_width, at_most: 200_000 });
            let (one, values) = ran::<16>(&model, 1);
            let summary = one.summary.unwrap();
            assert_eq!((one.end, summary.trials), (End::Tight, values.len() as u64));
            assert_eq!(summary.trials <= crate::stats::column::EXACT, is_exact, "{}", summary.trials);
            let mut at_once = crate::stats::Column::new();
            at_once.keep(&values);
            let p = crate::engine::PERCENTILES.map(|p| f64::from(p) / 100.0);
            let expected = at_once.percentiles(&Moments::of(&values), &p, model.confidence);
            assert_eq!(summary.calibrations[0].figures[0].percentiles, expected);
            let passed = values.iter().filter(|value| **value <= 1.0).count() as f64;
            assert_eq!(summary.calibrations[0].yield_.as_ref().unwrap().value, passed / values.len() as f64);
            for threads in [2, 7] {
                let (other, same_values) = ran::<16>(&model, threads);
                assert_eq!(format!("{:?}", other.summary.unwrap()), format!("{summary:?}"), "{threads}");
                assert!(other.end == End::Tight && same_values == values);
            }
        }
    }

    #[test]
    fn an_interrupted_run_keeps_what_it_began() {
        let model = model(Trials::Fixed(10_000_000));
        let interrupt = AtomicBool::new(false);
        let mut seen = 0;
        let finish = run(&model, Control { threads: 2, interrupt: &interrupt }, |outcomes| {
            assert_eq!(outcomes.first_trial, seen);
            seen += outcomes.trials;
            interrupt.store(seen > 1000, Ordering::Relaxed);
            Ok(())
        });
        let finish = finish.unwrap();
        assert_eq!((finish.end, finish.summary.unwrap().trials), (End::Interrupted, seen));
        assert!((1000..10_000_000).contains(&seen));
        let stopped = Control { threads: 2, interrupt: &interrupt };
        assert!(run(&model, stopped, |_| Ok(())).unwrap().summary.is_none());
    }

    #[test]
    fn a_failure_to_watch_ends_the_run() {
        let model = model(Trials::Fixed(10_000_000));
        let control = Control { threads: 2, interrupt: &AtomicBool::new(false) };
        let mut watched = 0;
        let failed = run(&model, control, |_| {
            watched += 1;
            Err(Error::Interrupted("full".into()))
        });
        assert!(failed.is_err_and(|error| error.to_string().contains("full")));
        assert_eq!(watched, 1);
    }
}
