//! One unit rebuilt with everything on the table: draws, readings, codes, figures.

use crate::bench::{Code, Desk, Joint, Work};
use crate::engine::batch::Batch;
use crate::engine::build::build;
use crate::engine::calibrate::{calibrate, calibrate_on};
use crate::engine::desk::{SimulatedDesk, Tabled};
use crate::engine::outcomes::{Failure, PlanOutcomes};
use crate::engine::trial::{draw, judge, measure, steer};
use crate::math::{Complex, LN_10, single};
use crate::plan::Plan;
use crate::random::Tolerance;

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

/// What a reading is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// A channel alone.
    Alone {
        /// The channel.
        channel: usize,
    },
    /// Two channels in the coupler.
    Pair {
        /// How they are joined.
        joint: Joint,
        /// Shifter code of the reference.
        turned: Code,
    },
    /// A channel among all others in front of the probe.
    Rest {
        /// The channel whose shifter is stepped.
        channel: usize,
    },
    /// All channels in front of the probe, some turned by half a turn.
    All {
        /// Number of the reading.
        row: u32,
    },
}

/// One reading of the bench.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// What it is of.
    pub of: Of,
    /// Shifter code of the stepped channel; of a channel alone the code of its attenuator.
    pub code: Code,
    /// Level, dB over a nominal channel.
    pub level_db: f32,
}

/// What happens on the bench, in order.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// A code table begins, by its number among those of the plan.
    Table(usize),
    /// Attenuators are set.
    Attenuators,
    /// Shifters are set to stand.
    Shifters,
    /// All channels that are not known to be dead are read alone, by the number of times that they were connected for it.
    Alone(u32),
    /// One channel is read alone to see whether it lives; connected for it unless it still is.
    Look {
        /// The channel.
        channel: usize,
        /// Its cable is moved for it.
        is_connected_anew: bool,
    },
    /// A pair is joined.
    Join(Joint),
    /// One channel is to be stepped among all others in front of the probe.
    Rest(usize),
    /// Some channels are turned by half a turn, all are read; `[channel]`.
    Toggle(Vec<bool>),
    /// A reading.
    Read(Reading),
}

/// What happens on the bench when one calibration plan meets the unit of a trial, all its channels alive.
pub fn log(plan: &Plan, calibration: usize, trial: u64) -> Vec<Event> {
    let mut plan = plan.clone();
    plan.dead.fate = Tolerance::exact(0.0);
    let mut batch = Batch::<1>::new(&plan);
    draw(&plan, trial, &mut batch);
    build(&plan, &mut batch);
    calibrate_on(&plan, calibration, &mut batch, Recorder::new).events
}

/// Bench time that each calibration plan takes for the unit of one trial, s, as [`rebuild`] has it, without its readings: those of all
/// pairs of a large array would fill the memory.
pub fn bench_seconds(plan: &Plan, trial: u64) -> Vec<f64> {
    let mut batch = Batch::<1>::new(plan);
    draw(plan, trial, &mut batch);
    build(plan, &mut batch);
    let seconds = |number| {
        calibrate(plan, number, &mut batch);
        batch.seconds.iter().map(|of| of[0]).sum()
    };
    (0..plan.calibrations.len()).map(seconds).collect()
}

/// Rebuilds the unit of one trial, bit for bit as a run built it.
pub fn rebuild(plan: &Plan, trial: u64) -> Unit {
    let mut batch = Batch::<1>::new(plan);
    draw(plan, trial, &mut batch);
    build(plan, &mut batch);
    plan.sources.draw_rest(&mut batch.draws);
    let deviations = plan.sources.list().iter().map(|source| {
        let slot =
            |slot| (0..source.groups).map(|group| batch.draws.deviation(source, slot, group, 0)).collect();
        (0..source.slots).map(slot).collect()
    });
    let deviations = deviations.collect();
    let plans = (0..plan.calibrations.len()).map(|number| calibrated(plan, number, &mut batch)).collect();
    Unit { trial, deviations, plans }
}

fn calibrated(plan: &Plan, number: usize, batch: &mut Batch<1>) -> UnitPlan {
    let recorder = calibrate_on(plan, number, batch, Recorder::new);
    let readings = recorder.events.into_iter().filter_map(|event| match event {
        Event::Read(reading) => Some(reading),
        _ => None,
    });
    let readings = readings.collect();
    let tables: Vec<UnitTable> = batch.tables[..plan.courses[number].tables.len()]
        .iter()
        .map(|table| UnitTable {
            attenuator: table.attenuator.iter().map(|code| code[0]).collect(),
            phase: table.phase.iter().map(|phase| f64::from(phase[0])).collect(),
        })
        .collect();

    let mut shifter = Vec::new();
    for (look_number, look) in plan.looks.iter().enumerate() {
        steer(plan, number, look_number, look, batch);
        measure(plan, look_number, look, batch);
        shifter.push(batch.codes.iter().map(|code| code[0]).collect());
    }
    let calibration = &plan.calibrations[number];
    let (dead, reference) = (batch.living.dead(0), batch.living.reference(0));
    let values: Vec<f64> = batch.values.iter().map(|value| value[0]).collect();
    let mut outcome = PlanOutcomes::new(plan);
    judge(plan, 1, batch, &mut outcome);
    UnitPlan {
        readings,
        dead: dead.filter(|_| !calibration.is_none()),
        reference: calibration.has_reference().then_some(reference),
        tables,
        shifter,
        met: plan.limits.iter().map(|limit| limit.is_met_by(values[limit.column])).collect(),
        values,
        failure: outcome.failure(0),
        passes: outcome.passes(0),
        seconds: outcome.seconds()[0],
    }
}

/// A desk that writes down what is done on it and every reading it gives.
pub(super) struct Recorder<'a> {
    desk: SimulatedDesk<'a, 1>,
    of: Of,
    attenuators: Vec<Code>,
    tables: usize,
    pub events: Vec<Event>,
}

impl<'a> Recorder<'a> {
    pub fn new(desk: SimulatedDesk<'a, 1>) -> Recorder<'a> {
        Recorder { desk, of: Of::All { row: 0 }, attenuators: Vec::new(), tables: 0, events: Vec::new() }
    }

    fn read_one_alone(&mut self, channel: usize, level_db: f32) {
        let code = self.attenuators.get(channel).copied().unwrap_or(0);
        self.events.push(Event::Read(Reading { of: Of::Alone { channel }, code, level_db }));
    }
}

impl Tabled for Recorder<'_> {
    fn begin(&mut self, view: usize, look: Option<usize>) {
        self.attenuators.clear();
        self.events.push(Event::Table(self.tables));
        self.tables += 1;
        self.desk.begin(view, look);
    }
}

impl Desk<1> for Recorder<'_> {
    fn work(&self) -> &Work<1> {
        self.desk.work()
    }

    fn read_alone(
        &mut self,
        round: u32,
        repeat: u32,
        takes: Option<&[[bool; 1]]>,
        readings: &mut [[f32; 1]],
    ) {
        self.desk.read_alone(round, repeat, takes, readings);
        self.events.push(Event::Alone(round));
        for (channel, [level_db]) in readings.iter().enumerate() {
            if takes.is_none_or(|takes| takes[channel][0]) {
                self.read_one_alone(channel, *level_db);
            }
        }
    }

    fn look(&mut self, channel: usize, round: u32, repeat: u32, takes: &[bool; 1]) -> [f32; 1] {
        let reading = self.desk.look(channel, round, repeat, takes);
        self.events.push(Event::Look { channel, is_connected_anew: repeat == 0 });
        self.read_one_alone(channel, reading[0]);
        reading
    }

    fn set_attenuators(&mut self, codes: &[[Code; 1]]) {
        self.attenuators = codes.iter().map(|code| code[0]).collect();
        self.events.push(Event::Attenuators);
        self.desk.set_attenuators(codes);
    }

    fn set_shifters(&mut self, codes: &[[Code; 1]]) {
        self.events.push(Event::Shifters);
        self.desk.set_shifters(codes);
    }

    fn join(&mut self, joint: Joint, takes: &[bool; 1]) {
        self.of = Of::Pair { joint, turned: 0 };
        self.events.push(Event::Join(joint));
        self.desk.join(joint, takes);
    }

    fn turn_reference(&mut self, code: Code) {
        if let Of::Pair { turned, .. } = &mut self.of {
            *turned = code;
        }
        self.desk.turn_reference(code);
    }

    fn join_rest(&mut self, stepped: usize, round: u32, takes: &[bool; 1]) {
        self.of = Of::Rest { channel: stepped };
        self.events.push(Event::Rest(stepped));
        self.desk.join_rest(stepped, round, takes);
    }

    fn read_turned(&mut self, row: u32, is_turned: &[bool]) -> Complex<1> {
        let field = self.desk.read_turned(row, is_turned);
        let level_db = single::ln(field.power().0[0]) * (10.0 / LN_10) as f32;
        self.events.push(Event::Toggle(is_turned.to_vec()));
        self.events.push(Event::Read(Reading { of: Of::All { row }, code: 0, level_db }));
        field
    }

    // The desk's other ways to read are left to the trait, which takes every reading through here.
    fn read_each(&mut self, codes: &[Code; 1], takes: &[bool; 1]) -> [f32; 1] {
        let reading = self.desk.read_each(codes, takes);
        if takes[0] {
            let reading = Reading { of: self.of, code: codes[0], level_db: reading[0] };
            self.events.push(Event::Read(reading));
        }
        reading
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
        let of_trial =
            |trial| -> Vec<f64> { rebuild(&plan, trial).plans.iter().map(|of| of.seconds).collect() };
        assert_eq!(bench_seconds(&plan, 3), of_trial(3));
        // The twin: another unit, of which a plan that climbs takes other readings.
        assert_ne!(bench_seconds(&plan, 3), of_trial(4));
    }
}
