//! What a person looks at of some units: patterns, errors left in the channels, a sweep on the bench. The first units of a run are
//! rebuilt for it, so a run that nobody looks at pays nothing.

use crate::bench::{Code, Command, ShifterSetting};
use crate::engine::batch::Batch;
use crate::engine::build::build;
use crate::engine::calibrate::{calibrate, calibrate_on};
use crate::engine::trial::{LANES, draw, measure, steer};
use crate::engine::unit::{Event, Of, Reading, Recorder};
use crate::figure::{Cut, Depth, Figure, Look, Phasors, Plane, Radiated};
use crate::math::LN_10;
use crate::plan::{Limit, Plan};
use crate::stats::quantile::of_sorted;
use crate::study::Bound;

/// Units that are looked at: enough for the 5 and 95 % level of a pattern, few beside those of a run.
pub const VIEWED: u64 = 304;

/// dB in a neper of amplitude.
const DB_A_NEPER: f64 = 20.0 / LN_10;

/// Units after one calibration plan, as a person looks at them.
#[derive(Clone, Debug, PartialEq)]
pub struct Views {
    /// Units looked at, the first of the run.
    pub units: u64,
    /// One for each beam, in the study's order.
    pub beams: Vec<BeamView>,
    /// Readings of the first pair that the plan aligns on unit 0; `None` where it joins none.
    pub sweep: Option<SweepView>,
}

/// Units at one beam.
#[derive(Clone, Debug, PartialEq)]
pub struct BeamView {
    /// Number of the plan's look: the beam at the frequency nearest to the one it is commanded for, at the bench's temperature or
    /// the nearest to it.
    pub look: usize,
    /// The worst unit here.
    pub worst: Option<Worst>,
    /// The cut of a line, or the two of a plane.
    pub cuts: Vec<CutView>,
    /// Phase left in each channel, rad, `[channel]`, over the units in which it lives.
    pub phase: Vec<Levels>,
    /// Amplitude left in each channel, dB, `[channel]`, over the units in which it lives.
    pub amplitude: Vec<Levels>,
}

/// The worst of the units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worst {
    /// The unit.
    pub trial: u64,
    /// The first limit of the plan on this beam that some unit misses: the unit goes beyond it farthest. `None` where none is
    /// missed: the unit has the highest side lobe.
    pub limit: Option<usize>,
}

/// Patterns along a cut, dB over each unit's own beam peak, [`FLOOR_DB`](crate::figure::FLOOR_DB) at the least.
#[derive(Clone, Debug, PartialEq)]
pub struct CutView {
    /// The plane.
    pub plane: Plane,
    /// Angle from broadside in the plane of the scan, from the beam across it, rad, ascending.
    pub angle: Vec<f64>,
    /// The error-free array, its shifters free of steps.
    pub error_free: Vec<f64>,
    /// At each angle, the levels below which 5 %, 50 % and 95 % of the units lie.
    pub low: Vec<f64>,
    /// See `low`.
    pub middle: Vec<f64>,
    /// See `low`.
    pub high: Vec<f64>,
    /// The worst unit, if there is one.
    pub worst: Option<Vec<f64>>,
}

/// How values lie: extremes, and what 5 %, 50 % and 95 % of them are below.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Levels {
    /// The least.
    pub least: f64,
    /// 5 %.
    pub low: f64,
    /// 50 %.
    pub middle: f64,
    /// 95 %.
    pub high: f64,
    /// The most.
    pub most: f64,
}

/// Readings while one channel's shifter is stepped.
#[derive(Clone, Debug, PartialEq)]
pub struct SweepView {
    /// The unit.
    pub trial: u64,
    /// The channel that stands still; `None` where all others do, in front of a probe.
    pub reference: Option<usize>,
    /// The channel that is stepped.
    pub stepped: usize,
    /// Code and level (dB over a nominal channel read alone), in the order they were read.
    pub readings: Vec<(Code, f64)>,
    /// The code by which the calibration brings it into phase with the reference at broadside; `None` without a reference.
    pub chosen: Option<Code>,
}

/// Looks at the first `units` units of a plan (at least 1, see [`VIEWED`]) after one of its calibrations. They are those of a run, to
/// the bit.
pub fn views(plan: &Plan, calibration: usize, units: u64) -> Views {
    let units = units.max(1);
    let looks: Vec<usize> = (0..plan.beams.len()).filter_map(|beam| look_of(plan, beam)).collect();
    let seen = see(plan, calibration, units, &looks);
    let beams = looks.iter().zip(&seen.at).map(|(look, at)| beam_view(plan, *look, &seen.values, at));
    Views { units, beams: beams.collect(), sweep: first_sweep(plan, calibration, 0) }
}

/// The look at which a beam is shown.
fn look_of(plan: &Plan, beam: usize) -> Option<usize> {
    let away = |look: &usize| {
        let temperature = plan.conditions[plan.conditions_of(*look)].temperature;
        let frequency = plan.looks[*look].frequency - plan.at_bench.command_frequency;
        (frequency.abs(), (temperature - plan.at_bench.temperature).abs())
    };
    let looks = (0..plan.looks.len()).filter(|look| plan.looks[*look].beam == beam);
    looks.min_by(|a, b| {
        let (a, b) = (away(a), away(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    })
}

/// What is kept of the units.
struct Seen {
    /// Value of each column of the plan, `[column][unit]`.
    values: Vec<Vec<f64>>,
    /// At each of the looks that are shown.
    at: Vec<SeenAt>,
}

/// The units at one look.
struct SeenAt {
    units: usize,
    /// `[batch]`
    radiated: Vec<Radiated<LANES>>,
    /// Peak side lobe, dB, `[unit]`; empty where there are none.
    side_lobe: Vec<f64>,
    /// Gain, nepers, and phase, rad, left in a channel, `[channel][unit]` of the units in which it lives.
    left: Vec<Vec<[f32; 2]>>,
}

fn see(plan: &Plan, calibration: usize, units: u64, looks: &[usize]) -> Seen {
    let depth = plan.depth.and(Depth::SIDE_LOBES).and(Depth::RESIDUALS);
    let none = || SeenAt {
        units: units as usize,
        radiated: Vec::new(),
        side_lobe: Vec::new(),
        left: vec![Vec::new(); plan.channels()],
    };
    let mut seen =
        Seen { values: vec![Vec::new(); plan.columns.len()], at: looks.iter().map(|_| none()).collect() };
    let mut batch = Batch::<LANES>::new(plan);
    for first in (0..units).step_by(LANES) {
        let count = (units - first).min(LANES as u64) as usize;
        draw(plan, first, &mut batch);
        build(plan, &mut batch);
        calibrate(plan, calibration, &mut batch);
        for (number, look) in plan.looks.iter().enumerate() {
            steer(plan, calibration, number, look, &mut batch);
            measure(plan, number, look, &mut batch);
            let Some(at) = looks.iter().position(|of| *of == number) else { continue };
            if depth != plan.depth {
                batch.field.take(&plan.array, look, depth);
            }
            let at = &mut seen.at[at];
            at.radiated.push(Radiated::of(&batch.field));
            if Figure::PeakSideLobe.exists(look) {
                at.side_lobe.extend(&Figure::PeakSideLobe.measure(look, &batch.field)[..count]);
            }
            for lane in 0..count {
                batch
                    .field
                    .left(lane)
                    .for_each(|(channel, left)| at.left[channel].push(left.map(|left| left as f32)));
            }
        }
        seen.values.iter_mut().zip(&batch.values).for_each(|(all, values)| all.extend(&values[..count]));
    }
    seen
}

fn beam_view(plan: &Plan, look: usize, values: &[Vec<f64>], at: &SeenAt) -> BeamView {
    let worst = worst(plan, plan.looks[look].beam, values, &at.side_lobe);
    let trial = worst.map(|worst| worst.trial);
    let cuts = Cut::through(&plan.array, &plan.looks[look]);
    let cuts = cuts.iter().map(|cut| cut_view(plan, &plan.looks[look], cut, at, trial));
    let left = |of: usize, scale: f64| {
        let levels =
            |left: &Vec<[f32; 2]>| Levels::of(left.iter().map(|left| scale * f64::from(left[of])).collect());
        at.left.iter().map(levels).collect()
    };
    BeamView { look, worst, cuts: cuts.collect(), phase: left(1, 1.0), amplitude: left(0, DB_A_NEPER) }
}

/// The unit that goes farthest beyond the first limit on this beam that any misses, else that with the highest side lobe; the
/// first of equals.
fn worst(plan: &Plan, beam: usize, values: &[Vec<f64>], side_lobe: &[f64]) -> Option<Worst> {
    let is_here = |limit: &Limit| plan.looks[plan.columns[limit.column].look].beam == beam;
    let is_missed = |limit: &Limit| values[limit.column].iter().any(|value| !limit.is_met_by(*value));
    let limit = plan.limits.iter().position(|limit| is_here(limit) && is_missed(limit));
    let by = match limit.map(|limit| &plan.limits[limit]) {
        Some(limit) => values[limit.column].iter().map(|value| beyond(limit, *value)).collect(),
        None => side_lobe.to_vec(),
    };
    // What is no number is worse than any.
    let by = by.into_iter().map(|by: f64| if by.is_nan() { f64::INFINITY } else { by });
    let trial = (0..).zip(by).max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))?.0;
    Some(Worst { trial, limit })
}

/// How far a value lies beyond a limit; negative where it meets it.
fn beyond(limit: &Limit, value: f64) -> f64 {
    let value = if limit.on_size { value.abs() } else { value };
    match limit.bound {
        Bound::AtMost(most) => value - most,
        Bound::AtLeast(least) => least - value,
    }
}

fn cut_view(plan: &Plan, look: &Look, cut: &Cut, at: &SeenAt, worst: Option<u64>) -> CutView {
    let error_free = Radiated::error_free(&plan.array, look);
    let mut view = CutView {
        plane: cut.plane,
        angle: cut.angle.clone(),
        error_free: Vec::new(),
        low: Vec::new(),
        middle: Vec::new(),
        high: Vec::new(),
        worst: worst.map(|_| Vec::new()),
    };
    for place in 0..cut.angle.len() {
        let phasors = Phasors::at(&plan.array, look, cut, place);
        let [level] = error_free.levels(&plan.array, look, cut, place, &phasors);
        view.error_free.push(level);
        let levels = at.radiated.iter().flat_map(|of| of.levels(&plan.array, look, cut, place, &phasors));
        let levels: Vec<f64> = levels.take(at.units).collect();
        if let (Some(curve), Some(trial)) = (&mut view.worst, worst) {
            curve.push(levels[trial as usize]);
        }
        let Levels { low, middle, high, .. } = Levels::of(levels);
        view.low.push(low);
        view.middle.push(middle);
        view.high.push(high);
    }
    view
}

impl Levels {
    /// Of some values; without any, all are 0.
    fn of(mut values: Vec<f64>) -> Levels {
        values.retain(|value| value.is_finite());
        values.sort_unstable_by(f64::total_cmp);
        if values.is_empty() {
            return Levels { least: 0.0, low: 0.0, middle: 0.0, high: 0.0, most: 0.0 };
        }
        let [least, low, middle, high, most] = [0.0, 0.05, 0.5, 0.95, 1.0].map(|p| of_sorted(&values, p));
        Levels { least, low, middle, high, most }
    }
}

/// What the bench reads while it aligns the first channel of a unit.
fn first_sweep(plan: &Plan, calibration: usize, trial: u64) -> Option<SweepView> {
    let mut batch = Batch::<1>::new(plan);
    draw(plan, trial, &mut batch);
    build(plan, &mut batch);
    let events = calibrate_on(plan, calibration, &mut batch, Recorder::new).events;
    let is_of_one = |reading: &Reading| matches!(reading.of, Of::Pair { .. } | Of::Rest { .. });
    let mut readings = events.iter().filter_map(|event| match event {
        Event::Read(reading) if is_of_one(reading) => Some(reading),
        _ => None,
    });
    let first = readings.next()?;
    let (reference, stepped) = match first.of {
        Of::Pair { joint, .. } => (Some(joint.reference), joint.stepped),
        Of::Rest { channel } => (None, channel),
        Of::Alone { .. } | Of::All { .. } => return None,
    };
    let same = std::iter::once(first).chain(readings.take_while(|reading| reading.of == first.of));
    let table = &batch.tables[0];
    let states = plan.chain.shifter().states();
    let measured = table.measured.phases().map(|all| &all[stepped * states..][..states]);
    let setting = ShifterSetting { offsets: table.offsets, states };
    let chosen = reference.map(|reference| {
        let wanted = table.phase[stepped][0] - table.phase[reference][0];
        setting.code_by(&Command::ZERO, wanted, measured, 0)
    });
    let readings = same.map(|reading| (reading.code, f64::from(reading.level_db)));
    Some(SweepView { trial, reference, stepped, readings: readings.collect(), chosen })
}

#[cfg(test)]
mod tests;
