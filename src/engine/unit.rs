//! One unit rebuilt with everything on the table: draws, readings, codes, figures.

use crate::bench::{Code, Desk};
use crate::engine::batch::Batch;
use crate::engine::desk::SimulatedDesk;
use crate::engine::trial::{build, draw, measure, set_attenuators, steer};
use crate::plan::Plan;

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
    /// Attenuator code of each channel.
    pub attenuator: Vec<Code>,
    /// Phase that aligns each channel with the reference, before any rounding, rad.
    pub phase: Vec<f64>,
    /// Shifter code of each channel, `[look][channel]`.
    pub shifter: Vec<Vec<Code>>,
    /// Value of each column of the plan.
    pub values: Vec<f64>,
    /// Whether each limit of the plan is met.
    pub met: Vec<bool>,
    /// Bench time, s.
    pub seconds: f64,
}

/// One reading of the bench.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Channel that is read, alone or against a reference.
    pub channel: usize,
    /// The reference it is joined with; `None` when read alone.
    pub reference: Option<usize>,
    /// Shifter code of the channel.
    pub code: Code,
    /// Level, dB over a nominal channel.
    pub level_db: f32,
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
    let calibration = &plan.calibrations[number];
    let receiver = plan.receiver_for(calibration);
    let Batch { draws, at_bench, bench, sweep, table, first_trial, .. } = batch;
    let meter = receiver.meter();
    let desk = SimulatedDesk { plan, meter, first_trial: *first_trial, draws, at_bench, room: bench };
    let mut desk = Recorder { desk, pair: (0, 0), readings: Vec::new() };
    calibration.run(&mut desk, &plan.hardware, &plan.clock, receiver.averages, sweep, table);
    let readings = desk.readings;
    set_attenuators(plan, batch);

    let mut shifter = Vec::new();
    for (number, look) in plan.looks.iter().enumerate() {
        steer(plan, number, look, batch);
        measure(plan, number, look, batch);
        shifter.push(batch.codes.iter().map(|code| code[0]).collect());
    }
    let values: Vec<f64> = batch.values.iter().map(|value| value[0]).collect();
    UnitPlan {
        readings,
        attenuator: batch.table.attenuator.iter().map(|code| code[0]).collect(),
        phase: batch.table.phase.iter().map(|phase| f64::from(phase[0])).collect(),
        shifter,
        met: plan.limits.iter().map(|limit| limit.is_met_by(values[limit.column])).collect(),
        values,
        seconds: batch.table.seconds[0],
    }
}

/// A desk that writes down every reading it gives.
struct Recorder<'a> {
    desk: SimulatedDesk<'a, 1>,
    pair: (usize, usize),
    readings: Vec<Reading>,
}

impl Desk<1> for Recorder<'_> {
    fn read_alone(&mut self, readings: &mut [[f32; 1]]) {
        self.desk.read_alone(readings);
        let alone = readings.iter().enumerate();
        self.readings.extend(alone.map(|(channel, [level_db])| Reading {
            channel,
            reference: None,
            code: 0,
            level_db: *level_db,
        }));
    }

    fn set_attenuators(&mut self, codes: &[[Code; 1]]) {
        self.desk.set_attenuators(codes);
    }

    fn join(&mut self, reference: usize, stepped: usize) {
        self.pair = (reference, stepped);
        self.desk.join(reference, stepped);
    }

    // The desk's other ways to read are left to the trait, which takes every reading through here.
    fn read(&mut self, code: Code) -> [f32; 1] {
        let reading = self.desk.read(code);
        let (reference, channel) = self.pair;
        self.readings.push(Reading { channel, reference: Some(reference), code, level_db: reading[0] });
        reading
    }
}
