//! One unit rebuilt with everything on the table: draws, readings, codes, figures.

use crate::bench::{Code, Event, Reading, Recorder};
use crate::engine::batch::Batch;
use crate::engine::desk::SimulatedDesk;
use crate::engine::observer::{Observer, Step};
use crate::engine::outcomes::{Failure, Outcomes};
use crate::engine::recorder::record;
use crate::engine::room::Room;
use crate::engine::sharing::Sharing;
use crate::engine::trial::trial;
use crate::plan::Plan;
use crate::random::Source;
use std::mem::take;
use std::ops::ControlFlow;
use std::slice;
use std::time::{Duration, Instant};

/// A unit as one trial built it.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    /// The trial.
    pub trial: u64,
    /// Deviation from nominal of each source of the plan (SI), `[source][slot][group]`.
    pub deviations: Vec<Vec<Vec<f64>>>,
    /// What each calibration plan made of it.
    pub plans: Vec<UnitPlan>,
}

/// A unit after one calibration plan.
#[derive(Clone, Debug, PartialEq)]
pub struct UnitPlan {
    /// Every reading in the order it was taken.
    pub readings: Vec<Reading>,
    /// Channels that the bench found dead, ascending; `None` where it does not look for them.
    pub dead: Option<Vec<usize>>,
    /// The channel that others were phased against; `None` where none were.
    pub reference: Option<usize>,
    /// Code tables that it made.
    pub tables: Vec<UnitTable>,
    /// Shifter code of each channel, `[look][channel]`.
    pub shifter: Vec<Vec<Code>>,
    /// Value of each column of the plan.
    pub values: Vec<f64>,
    /// Whether each limit of the plan is met.
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
pub struct UnitTable {
    /// Attenuator code of each channel.
    pub attenuator: Vec<Code>,
    /// Phase that aligns each channel with the reference, before any rounding, rad.
    pub phase: Vec<f64>,
}

/// What happens on the bench when one calibration plan meets the unit of a trial, all its channels alive.
pub fn log(plan: &Plan, calibration: usize, trial: u64) -> Vec<Event> {
    let plan = plan.all_alive();
    let plans = slice::from_ref(&plan);
    record(&mut Room::new(plans, &Sharing::of(plans)), calibration, trial)
}

/// How long a calibration of one unit is worked at to see what bench time it takes.
const MOST_TRIED: Duration = Duration::from_secs(2);

/// Bench time that each calibration plan takes for the unit of one trial, s, as [`rebuild`] has it, without its readings: those of all
/// pairs of a large array would fill the memory. `None` where it takes longer than anybody waits to work that out.
pub fn bench_seconds(plan: &Plan, trial: u64) -> Vec<Option<f64>> {
    let of = |of: usize| {
        let start = Instant::now();
        let mut clock = Clocking { of, seconds: None };
        go(plan, trial, &|| start.elapsed() > MOST_TRIED, &mut clock);
        clock.seconds
    };
    (0..plan.calibrations.len()).map(of).collect()
}

/// Rebuilds the unit of one trial, bit for bit as a run built it.
pub fn rebuild(plan: &Plan, trial: u64) -> Unit {
    let mut observer = Rebuilding::default();
    let outcomes = go(plan, trial, &|| false, &mut observer);
    let Rebuilding { deviations, mut plans, .. } = observer;
    for (of, outcome) in plans.iter_mut().zip(&outcomes.plans) {
        (of.failure, of.passes, of.seconds) = (outcome.failure(0), outcome.passes(0), outcome.seconds()[0]);
    }
    Unit { trial, deviations, plans }
}

/// Takes the unit of one trial all the way, unless it is given up.
fn go<O: Observer<1>>(plan: &Plan, of: u64, gives_up: &dyn Fn() -> bool, observer: &mut O) -> Outcomes {
    let plans = slice::from_ref(plan);
    let sharing = Sharing::of(plans);
    let mut outcomes = Outcomes::new(plan, of);
    let mut room = Room::until(plans, &sharing, gives_up);
    let _ = trial(&mut room, of, 1, slice::from_mut(&mut outcomes), observer);
    outcomes
}

/// Notes the bench time of one calibration, and ends the way there.
struct Clocking {
    of: usize,
    seconds: Option<f64>,
}

impl Observer<1> for Clocking {
    type Desk<'a> = SimulatedDesk<'a, 1>;

    fn desk<'a>(&mut self, simulated: SimulatedDesk<'a, 1>) -> SimulatedDesk<'a, 1> {
        simulated
    }

    fn wants(&self, calibration: usize) -> bool {
        calibration == self.of
    }

    fn after(&mut self, step: Step, _: &Plan, batch: &mut Batch<1>) -> ControlFlow<()> {
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
    plans: Vec<UnitPlan>,
}

impl Observer<1> for Rebuilding {
    type Desk<'a> = Recorder<SimulatedDesk<'a, 1>>;

    fn desk<'a>(&mut self, simulated: SimulatedDesk<'a, 1>) -> Recorder<SimulatedDesk<'a, 1>> {
        Recorder::new(simulated)
    }

    fn leave(&mut self, desk: Recorder<SimulatedDesk<1>>) {
        self.readings = desk.events.into_iter().filter_map(Event::reading).collect();
    }

    fn after(&mut self, step: Step, plan: &Plan, batch: &mut Batch<1>) -> ControlFlow<()> {
        match step {
            Step::Build => self.deviations = deviations(plan, batch),
            Step::Steer(_) => self.shifter.push(batch.codes.iter().map(|code| code[0]).collect()),
            Step::Judge(calibration) => {
                let (readings, shifter) = (take(&mut self.readings), take(&mut self.shifter));
                self.plans.push(UnitPlan { readings, shifter, ..UnitPlan::of(plan, calibration, batch) });
            }
            Step::Draw | Step::Calibrate(_) | Step::Measure(_) => {}
        }
        ControlFlow::Continue(())
    }
}

/// Deviation of every source of the plan, those that nothing needs too.
fn deviations(plan: &Plan, batch: &mut Batch<1>) -> Vec<Vec<Vec<f64>>> {
    plan.sources.draw_rest(&mut batch.draws);
    let of = |source: &Source| {
        let slot =
            |slot| (0..source.groups).map(|group| batch.draws.deviation(source, slot, group, 0)).collect();
        (0..source.slots).map(slot).collect()
    };
    plan.sources.list().iter().map(of).collect()
}

impl UnitPlan {
    /// What a batch of one unit holds when it has been judged; the verdict itself stands in the outcomes.
    fn of(plan: &Plan, number: usize, batch: &Batch<1>) -> UnitPlan {
        let calibration = &plan.calibrations[number];
        let tables = batch.tables[..plan.courses[number].tables.len()].iter().map(|table| UnitTable {
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
            met: plan.limits.iter().map(|limit| limit.is_met_by(values[limit.column])).collect(),
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
    use crate::{plan, study};

    #[test]
    fn bench_time_is_known_without_readings() {
        let text = include_str!("../../tests/data/everything.toml");
        let source = SourceText { name: "everything.toml".into(), text: text.into() };
        let plan = plan::compile(&study::parse(&source).expect("the study is right"), text);
        let of_trial = |trial| -> Vec<Option<f64>> {
            rebuild(&plan, trial).plans.iter().map(|of| Some(of.seconds)).collect()
        };
        assert_eq!(bench_seconds(&plan, 3), of_trial(3));
        // The twin: another unit, of which a plan that climbs takes other readings.
        assert_ne!(bench_seconds(&plan, 3), of_trial(4));
    }
}
