//! One unit rebuilt with everything on the table: draws, readings, codes, figures.

use crate::bench::{Code, Event, Reading, Recorder};
use crate::engine::batch::Batch;
use crate::engine::observer::{Observer, Step};
use crate::engine::outcomes::{Failure, Outcomes};
use crate::engine::recorder::record;
use crate::engine::sharing::Sharing;
use crate::engine::simulated_bench::SimulatedBench;
use crate::engine::trial::{LANES, trial};
use crate::engine::workspace::Workspace;
use crate::model::Model;
use crate::random::Source;
use std::mem::take;
use std::ops::ControlFlow;
use std::slice;
use std::time::{Duration, Instant};

/// A unit as one trial built it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Unit {
    /// The trial.
    pub trial: u64,
    /// Deviation from nominal of each source of the model (SI), `[source][slot][group]`.
    pub deviations: Vec<Vec<Vec<f64>>>,
    /// What each calibration plan made of it.
    pub calibrations: Vec<UnitPlan>,
}

/// A unit after one calibration plan.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct UnitPlan {
    /// Every reading in the order it was taken.
    pub readings: Vec<Reading>,
    /// Channels that the bench found dead, ascending; `None` where it does not look for them.
    pub dead: Option<Vec<usize>>,
    /// The channel that others were phased against; `None` where none were.
    pub reference: Option<usize>,
    /// Code tables that it made.
    pub tables: Vec<UnitTable>,
    /// Shifter code of each channel, `[point][channel]`.
    pub shifter: Vec<Vec<Code>>,
    /// Value of each column of the model.
    pub values: Vec<f64>,
    /// Whether each limit of the model is met.
    pub met: Vec<bool>,
    /// Why it fails whatever its figures are.
    pub failure: Option<Failure>,
    /// Whether it passes.
    pub passes: bool,
    /// Bench time, s.
    pub seconds: f64,
}

/// A code table of a unit.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct UnitTable {
    /// Attenuator code of each channel.
    pub attenuator: Vec<Code>,
    /// Phase that aligns each channel with the reference, before any rounding, rad.
    pub phase: Vec<f64>,
}

/// What happens on the bench when one calibration plan meets the unit of a trial, all its channels alive.
pub(crate) fn log(model: &Model, calibration: usize, trial: u64) -> Vec<Event> {
    let model = model.all_alive();
    let models = slice::from_ref(&model);
    record(&mut Workspace::new(models, &Sharing::of(models)), calibration, trial)
}

/// How long a calibration of one unit is worked at to see what bench time it takes.
const MOST_TRIED: Duration = Duration::from_secs(2);

/// Bench time that each calibration plan takes for the unit of one trial, s, as [`rebuild`] has it, without its readings: those of all
/// pairs of a large array would fill the memory. `None` where it takes longer than anybody waits to work that out.
pub(crate) fn bench_seconds(model: &Model, trial: u64) -> Vec<Option<f64>> {
    let of = |of: usize| {
        let start = Instant::now();
        let mut clock = Clocking { of, seconds: None };
        go(model, trial, &|| start.elapsed() > MOST_TRIED, &mut clock);
        clock.seconds
    };
    (0..model.calibrations.len()).map(of).collect()
}

/// Rebuilds the unit of one trial, bit for bit as a run built it.
pub(crate) fn rebuild(model: &Model, trial: u64) -> Unit {
    let mut observer = Rebuilding::default();
    let outcomes = go(model, trial, &|| false, &mut observer);
    let Rebuilding { deviations, mut calibrations, .. } = observer;
    for (of, outcome) in calibrations.iter_mut().zip(&outcomes.calibrations) {
        (of.failure, of.passes, of.seconds) = (outcome.failure(0), outcome.passes(0), outcome.seconds()[0]);
    }
    Unit { trial, deviations, calibrations }
}

/// Takes the unit of one trial all the way, unless it is given up. It is the first lane of a batch as wide as those of a run, so that
/// nothing is compiled for one unit alone.
fn go<O: Observer<LANES>>(
    model: &Model,
    of: u64,
    should_stop: &dyn Fn() -> bool,
    observer: &mut O,
) -> Outcomes {
    let models = slice::from_ref(model);
    let sharing = Sharing::of(models);
    let mut outcomes = Outcomes::new(model, of);
    let mut workspace = Workspace::until(models, &sharing, should_stop);
    let _ = trial(&mut workspace, of, 1, slice::from_mut(&mut outcomes), observer);
    outcomes
}

/// Notes the bench time of one calibration, and ends the way there.
struct Clocking {
    of: usize,
    seconds: Option<f64>,
}

impl Observer<LANES> for Clocking {
    type Bench<'a> = SimulatedBench<'a, LANES>;

    fn bench<'a>(&mut self, simulated: SimulatedBench<'a, LANES>) -> SimulatedBench<'a, LANES> {
        simulated
    }

    fn wants(&self, calibration: usize) -> bool {
        calibration == self.of
    }

    fn after(&mut self, step: Step, _: &Model, batch: &mut Batch<LANES>) -> ControlFlow<()> {
        if !matches!(step, Step::Calibrate(_)) {
            return ControlFlow::Continue(());
        }
        self.seconds = Some(batch.seconds.iter().map(|of| of[0]).sum());
        ControlFlow::Break(())
    }
}

/// Notes everything about one unit.
#[derive(Default)]
struct Rebuilding {
    deviations: Vec<Vec<Vec<f64>>>,
    readings: Vec<Reading>,
    shifter: Vec<Vec<Code>>,
    calibrations: Vec<UnitPlan>,
}

impl Observer<LANES> for Rebuilding {
    type Bench<'a> = Recorder<SimulatedBench<'a, LANES>>;

    fn bench<'a>(&mut self, simulated: SimulatedBench<'a, LANES>) -> Recorder<SimulatedBench<'a, LANES>> {
        Recorder::new(simulated)
    }

    fn leave(&mut self, bench: Recorder<SimulatedBench<LANES>>) {
        self.readings = bench.events.into_iter().filter_map(Event::reading).collect();
    }

    fn after(&mut self, step: Step, model: &Model, batch: &mut Batch<LANES>) -> ControlFlow<()> {
        match step {
            Step::Build => self.deviations = deviations(model, batch),
            Step::Steer(_) => self.shifter.push(batch.codes.iter().map(|code| code[0]).collect()),
            Step::Judge(calibration) => {
                let (readings, shifter) = (take(&mut self.readings), take(&mut self.shifter));
                self.calibrations.push(UnitPlan {
                    readings,
                    shifter,
                    ..UnitPlan::of(model, calibration, batch)
                });
            }
            Step::Draw | Step::Calibrate(_) | Step::Measure(_) => {}
        }
        ControlFlow::Continue(())
    }
}

/// Deviation of every source of the model, those that nothing needs too.
fn deviations(model: &Model, batch: &mut Batch<LANES>) -> Vec<Vec<Vec<f64>>> {
    model.sources.draw_rest(&mut batch.draws);
    let of = |source: &Source| {
        let slot =
            |slot| (0..source.groups).map(|group| batch.draws.deviation(source, slot, group, 0)).collect();
        (0..source.slots).map(slot).collect()
    };
    model.sources.list().iter().map(of).collect()
}

impl UnitPlan {
    /// What a batch of one unit holds when it has been judged; the verdict itself stands in the outcomes.
    fn of(model: &Model, number: usize, batch: &Batch<LANES>) -> UnitPlan {
        let calibration = &model.calibrations[number];
        let tables = batch.tables[..model.courses[number].tables.len()].iter().map(|table| UnitTable {
            attenuator: table.attenuator.iter().map(|code| code[0]).collect(),
            phase: table.phase.iter().map(|phase| f64::from(phase[0])).collect(),
        });
        let values: Vec<f64> = batch.values.iter().map(|value| value[0]).collect();
        UnitPlan {
            readings: Vec::new(),
            dead: batch.living.dead(0).filter(|_| !calibration.is_none()),
            reference: calibration.has_reference().then_some(batch.living.reference(0)),
            tables: tables.collect(),
            shifter: Vec::new(),
            met: model.limits.iter().map(|limit| limit.is_met_by(values[limit.column])).collect(),
            values,
            failure: None,
            passes: false,
            seconds: 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::io::SourceText;
    use crate::{model, study};

    #[test]
    fn bench_time_is_known_without_readings() {
        let text = include_str!("../../tests/data/everything.toml");
        let source = SourceText { name: "everything.toml".into(), text: text.into() };
        let model = model::compile(&study::parse(&source).expect("the study is right"), text);
        let of_trial = |trial| -> Vec<Option<f64>> {
            rebuild(&model, trial).calibrations.iter().map(|of| Some(of.seconds)).collect()
        };
        assert_eq!(bench_seconds(&model, 3), of_trial(3));
        // The counter-check: another unit, of which a plan that climbs takes other readings.
        assert_ne!(bench_seconds(&model, 3), of_trial(4));
    }
}
