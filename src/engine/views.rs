//! Views of some units for a person: patterns, errors left in the channels, a sweep on the bench. The first units of a run are
//! rebuilt for it, so a run that nobody looks at pays nothing.

use crate::bench::{Code, Command, Event, Of, Reading, ShifterSetting};
use crate::engine::batch::Batch;
use crate::engine::compression::over;
use crate::engine::observer::{Observer, Step};
use crate::engine::outcomes::Outcomes;
use crate::engine::recorder::record;
use crate::engine::sharing::Sharing;
use crate::engine::simulated_bench::SimulatedBench;
use crate::engine::threads::{in_parallel, in_parallel_with};
use crate::engine::trial::{LANES, trial};
use crate::engine::workspace::Workspace;
use crate::figure::{BeamPoint, Cut, Depth, Phasors, Plane, Radiated};
use crate::math::LN_10;
use crate::model::{Limit, Model};
use crate::stats::quantile::of_unsorted;
use crate::study::Bound;
use std::cmp::Reverse;
use std::ops::ControlFlow;
use std::slice;

/// Units that are viewed: enough for the 5 and 95 % level of a pattern, few beside those of a run.
pub(crate) const VIEWED: u64 = 208;

/// dB in a neper of amplitude.
const DB_A_NEPER: f64 = 20.0 / LN_10;

/// Units after one calibration plan, as a report shows them.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Views {
    /// Units viewed, the first of the run.
    pub units: u64,
    /// One for each beam, in the study's order.
    pub beams: Vec<BeamView>,
    /// Readings of the first pair that the plan aligns on unit 0; `None` where it joins none.
    pub sweep: Option<SweepView>,
}

/// Units at one beam.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct BeamView {
    /// Number of the model's beam point: the beam at the frequency nearest to the one it is commanded for, at the bench's temperature or
    /// the nearest to it.
    pub point: usize,
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
pub(crate) struct Worst {
    /// The unit.
    pub trial: u64,
    /// The limit of the model on this beam that most of the units miss: the unit goes beyond it farthest. `None` where none is
    /// missed: the unit has the highest side lobe.
    pub limit: Option<usize>,
}

/// Patterns along a cut, dB over each unit's own beam peak, [`FLOOR_DB`](crate::figure::FLOOR_DB) at the least.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct CutView {
    /// The plane.
    pub plane: Plane,
    /// Angle from broadside in the plane of the scan, from the beam across it, rad, ascending.
    pub angle: Vec<f64>,
    /// The error-free array, its shifters free of steps.
    pub error_free: Vec<f64>,
    /// At each angle, the levels below which 5 %, 50 % and 95 % of the units are.
    pub low: Vec<f64>,
    /// See `low`.
    pub middle: Vec<f64>,
    /// See `low`.
    pub high: Vec<f64>,
    /// The worst unit, if there is one.
    pub worst: Option<Vec<f64>>,
}

/// The spread of values: extremes, and the values that 5 %, 50 % and 95 % of them are below.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Levels {
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
pub(crate) struct SweepView {
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

/// Rebuilds the first `units` units of a model (at least 1, see [`VIEWED`]) after one of its calibrations. They are those of a run, to
/// the bit, whatever the threads of the pool that it is called in.
pub(crate) fn views(model: &Model, calibration: usize, units: u64) -> Views {
    let units = units.max(1);
    let points: Vec<usize> = (0..model.beams.len()).filter_map(|beam| point_of(model, beam)).collect();
    let batches = see(model, calibration, units, &points);
    let values = by_column(model, &batches);
    let of_look = |(place, point): (usize, &usize)| {
        let at: Vec<&SeenAt> = batches.iter().map(|batch| &batch.at[place]).collect();
        beam_view(model, *point, units as usize, &values, &at)
    };
    let beams = points.iter().enumerate().map(of_look).collect();
    Views { units, beams, sweep: first_sweep(model, calibration, 0) }
}

/// The beam point at which a beam is shown.
fn point_of(model: &Model, beam: usize) -> Option<usize> {
    let away = |point: &usize| {
        let temperature = model.conditions_of(*point).temperature;
        let frequency = model.points[*point].frequency - model.at_bench.command_frequency;
        (frequency.abs(), (temperature - model.at_bench.temperature).abs())
    };
    let points = (0..model.points.len()).filter(|point| model.points[*point].beam == beam);
    points.min_by(|a, b| {
        let (a, b) = (away(a), away(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    })
}

/// What is kept of a batch of units.
struct Seen {
    count: usize,
    /// Value of each column of the model, `[column][lane]`.
    values: Vec<[f64; LANES]>,
    /// At each of the beam points that are shown.
    at: Vec<SeenAt>,
}

/// A batch at one beam point.
struct SeenAt {
    radiated: Radiated<LANES>,
    /// Peak side lobe, dB, of the units; empty where there are none.
    side_lobe: Vec<f64>,
    /// What is left in the living channels of all units: channel, gain (nepers) and phase (rad).
    left: Vec<(u32, [f32; 2])>,
}

/// The units at the beam points that are shown, `[batch]`.
fn see(model: &Model, calibration: usize, units: u64, points: &[usize]) -> Vec<Seen> {
    let depth = model.depth.and(Depth::SIDE_LOBES).and(Depth::RESIDUALS);
    let models = slice::from_ref(model);
    let sharing = Sharing::of(models);
    let see_batch = |workspace: &mut Workspace<LANES>, number: u64| {
        let first = number * LANES as u64;
        let count = (units - first).min(LANES as u64) as usize;
        let seen = Seen { count, values: Vec::new(), at: Vec::new() };
        let mut observer = Seeing { calibration, points, depth, seen };
        let mut outcomes = Outcomes::new(model, first);
        let _ = trial(workspace, first, count, slice::from_mut(&mut outcomes), &mut observer);
        observer.seen
    };
    let batches = (0..units.div_ceil(LANES as u64)).collect();
    in_parallel_with(|| Workspace::new(models, &sharing), batches, see_batch)
}

/// Keeps of a batch what is shown after one calibration.
struct Seeing<'a> {
    calibration: usize,
    points: &'a [usize],
    depth: Depth,
    seen: Seen,
}

impl Observer<LANES> for Seeing<'_> {
    type Bench<'a> = SimulatedBench<'a, LANES>;

    fn bench<'a>(&mut self, simulated: SimulatedBench<'a, LANES>) -> SimulatedBench<'a, LANES> {
        simulated
    }

    fn wants(&self, calibration: usize) -> bool {
        calibration == self.calibration
    }

    fn after(&mut self, step: Step, model: &Model, batch: &mut Batch<LANES>) -> ControlFlow<()> {
        match step {
            Step::Measure(number) if self.points.contains(&number) => {
                let (point, count) = (&model.points[number], self.seen.count);
                if self.depth != model.depth {
                    batch.field.take(&model.array, point, self.depth);
                }
                let side_lobe = match point.has_side_lobes() {
                    true => batch.field.side_lobe()[..count].to_vec(),
                    false => Vec::new(),
                };
                let left = (0..count).flat_map(|lane| batch.field.left(lane));
                let left =
                    left.map(|(channel, left)| (channel as u32, left.map(|left| left as f32))).collect();
                self.seen.at.push(SeenAt { radiated: Radiated::of(&batch.field), side_lobe, left });
            }
            Step::Judge(_) => self.seen.values.clone_from(&batch.values),
            _ => {}
        }
        ControlFlow::Continue(())
    }
}

/// Values of each column of the model, `[column][unit]`.
fn by_column(model: &Model, batches: &[Seen]) -> Vec<Vec<f64>> {
    let of =
        |column: usize| batches.iter().flat_map(move |of| &of.values[column][..of.count]).copied().collect();
    (0..model.columns.len()).map(of).collect()
}

fn beam_view(model: &Model, point: usize, units: usize, values: &[Vec<f64>], at: &[&SeenAt]) -> BeamView {
    let side_lobe: Vec<f64> = at.iter().flat_map(|at| &at.side_lobe).copied().collect();
    let worst = worst(model, model.points[point].beam, values, &side_lobe);
    let trial = worst.map(|worst| worst.trial as usize);
    let cuts = Cut::through(&model.array, &model.points[point]);
    let cuts = cuts.iter().map(|cut| cut_view(model, &model.points[point], cut, units, at, trial));
    let mut left = vec![[Vec::new(), Vec::new()]; model.channels()];
    for (channel, [gain, phase]) in at.iter().flat_map(|at| &at.left) {
        let [gains, phases] = &mut left[*channel as usize];
        gains.push(DB_A_NEPER * f64::from(*gain));
        phases.push(f64::from(*phase));
    }
    let levels = |of: usize| left.iter().map(|left| Levels::of(left[of].clone())).collect();
    BeamView { point, worst, cuts: cuts.collect(), phase: levels(1), amplitude: levels(0) }
}

/// The unit that goes farthest beyond the limit on this beam that most miss, of equals that of the first column, else that with the
/// highest side lobe; the first of equals.
fn worst(model: &Model, beam: usize, values: &[Vec<f64>], side_lobe: &[f64]) -> Option<Worst> {
    let is_here = |limit: &Limit| model.points[model.columns[limit.column].point].beam == beam;
    let misses =
        |limit: &Limit| values[limit.column].iter().filter(|value| !limit.is_met_by(**value)).count();
    let here = model.limits.iter().enumerate().filter(|(_, limit)| is_here(limit));
    let missed = here.map(|(number, limit)| (misses(limit), number)).filter(|(count, _)| *count > 0);
    let by_count =
        |(count, number): &(usize, usize)| (*count, Reverse(model.limits[*number].column), Reverse(*number));
    let limit = missed.max_by_key(by_count).map(|(_, number)| number);
    let by = match limit.map(|limit| &model.limits[limit]) {
        Some(limit) => values[limit.column].iter().map(|value| beyond(limit, *value)).collect(),
        None => side_lobe.to_vec(),
    };
    // What is no number is worse than any.
    let by = by.into_iter().map(|by: f64| if by.is_nan() { f64::INFINITY } else { by });
    let trial = (0..).zip(by).max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))?.0;
    Some(Worst { trial, limit })
}

/// How far a value is beyond a limit; negative where it meets it.
fn beyond(limit: &Limit, value: f64) -> f64 {
    let value = if limit.on_size { value.abs() } else { value };
    match limit.bound {
        Bound::AtMost(most) => value - most,
        Bound::AtLeast(least) => least - value,
    }
}

fn cut_view(
    model: &Model,
    point: &BeamPoint,
    cut: &Cut,
    units: usize,
    at: &[&SeenAt],
    worst: Option<usize>,
) -> CutView {
    let error_free = Radiated::error_free(&model.array, point);
    let in_direction = |place: usize| {
        let phasors = Phasors::at(&model.array, point, cut, place);
        let [error_free] = error_free.levels(&model.array, point, cut, place, &phasors);
        let levels = at.iter().flat_map(|at| at.radiated.levels(&model.array, point, cut, place, &phasors));
        let levels: Vec<f64> = levels.take(units).collect();
        (error_free, worst.map(|worst| levels[worst]), Levels::of(levels))
    };
    let directions = in_parallel((0..cut.angle.len()).collect(), in_direction);
    let curve = |of: fn(&Levels) -> f64| directions.iter().map(|(_, _, levels)| of(levels)).collect();
    CutView {
        plane: cut.plane,
        angle: cut.angle.clone(),
        error_free: directions.iter().map(|(error_free, ..)| *error_free).collect(),
        low: curve(|of| of.low),
        middle: curve(|of| of.middle),
        high: curve(|of| of.high),
        worst: directions.iter().map(|(_, worst, _)| *worst).collect(),
    }
}

impl Levels {
    /// Of some values; without any, all are 0.
    fn of(mut values: Vec<f64>) -> Levels {
        values.retain(|value| value.is_finite());
        if values.is_empty() {
            return Levels { least: 0.0, low: 0.0, middle: 0.0, high: 0.0, most: 0.0 };
        }
        let [least, low, middle, high, most] = of_unsorted(&mut values, [0.0, 0.05, 0.5, 0.95, 1.0]);
        Levels { least, low, middle, high, most }
    }
}

/// What the bench reads while it aligns the first channel of a unit.
fn first_sweep(model: &Model, calibration: usize, trial: u64) -> Option<SweepView> {
    let models = slice::from_ref(model);
    let sharing = Sharing::of(models);
    let mut workspace = Workspace::new(models, &sharing);
    let events = record(&mut workspace, calibration, trial);
    let is_of_one = |reading: &Reading| matches!(reading.of, Of::Pair { .. } | Of::Rest { .. });
    let mut readings = events.into_iter().filter_map(Event::reading).filter(is_of_one);
    let first = readings.next()?;
    let (reference, stepped) = match first.of {
        Of::Pair { pair, .. } => (Some(pair.reference), pair.stepped),
        Of::Rest { channel } => (None, channel),
        Of::Alone { .. } | Of::All { .. } => return None,
    };
    let same = std::iter::once(first).chain(readings.take_while(|reading| reading.of == first.of));
    let table = &workspace.batches[0].tables[0];
    let states = model.chain.shifter().states();
    let measured = table.measured.phases().map(|all| &all[stepped * states..][..states]);
    let setting = ShifterSetting { offsets: table.offsets, states };
    let chosen = reference.map(|reference| {
        let wanted = over(&table.phase[stepped], &table.phase[reference]);
        let mut codes = [0; LANES];
        setting.codes_by(&Command::ZERO, &wanted, measured, &mut codes);
        codes[0]
    });
    let readings = same.map(|reading| (reading.code, f64::from(reading.level_db)));
    Some(SweepView { trial, reference, stepped, readings: readings.collect(), chosen })
}

#[cfg(test)]
mod tests;
