//! Readings of a receiver that drifts, stretches levels or saturates: each at its time.
//!
//! The bench reads levels with noise, which do not depend on the moment, in the vector code that a steady receiver uses. What depends on the
//! moment comes on top: the drift at each of the readings that follow one another, and the display of it all.

use super::{BenchScratch, SimulatedBench};
use crate::bench::{Clock, Meter, Stability, Work};
use crate::engine::pair::Unsteady;
use crate::model::Model;
use crate::random::{Draws, Value, draw};
use multiversion::multiversion;

/// Where the receiver's gain has wandered to.
#[derive(Clone, Debug)]
pub(super) struct Wander<const W: usize> {
    /// The random walk, dB.
    walk: [f32; W],
    /// Time of the last reading since set-up, s.
    at: [f64; W],
    /// Readings taken.
    count: [u32; W],
    /// The drift at the readings that were counted last, dB, `[reading][lane]`; zeros where the receiver does not drift.
    drift: Vec<[f32; W]>,
    steps: Steps<W>,
    /// Room for the pace of one lane, and of each.
    of_one: Pace<1>,
    of_each: Pace<W>,
}

/// What the time of readings makes of drift, `[reading][lane]`.
#[derive(Clone, Debug, Default)]
struct Pace<const L: usize> {
    /// Time of the reading before the first, and of each, since set-up, s.
    at: Vec<[f64; L]>,
    /// Standard deviation of the walk since the reading before, dB.
    walked: Vec<[f32; L]>,
    /// Share of the warming up that is done.
    warmed: Vec<[f32; L]>,
}

impl<const W: usize> Default for Wander<W> {
    fn default() -> Wander<W> {
        Wander {
            walk: [0.0; W],
            at: [0.0; W],
            count: [0; W],
            drift: vec![[0.0; W]],
            steps: Steps::default(),
            of_one: Pace::default(),
            of_each: Pace::default(),
        }
    }
}

impl<const W: usize> Wander<W> {
    /// Back to set-up.
    pub(super) fn begin(&mut self) {
        (self.walk, self.at, self.count) = ([0.0; W], [0.0; W], [0; W]);
        self.steps.drawn.clear();
        self.steps.from = [0; W];
    }
}

impl<const W: usize> SimulatedBench<'_, W> {
    /// Counts readings that follow one another, each with so many cables moved before it, and finds the receiver's drift at each of them.
    /// Only lanes that take the readings move on in time.
    #[inline(always)]
    pub(super) fn count(&mut self, takes: &[bool; W], cables: u32, readings: usize) {
        if !self.is_steady {
            self.drift(takes, cables, readings);
        }
        if cables > 0 {
            self.room.work.move_where(takes, cables * readings as u32);
        }
        self.room.work.count_where(takes, readings);
    }

    /// Turns what the listener heard into the readings that were counted last.
    #[inline(always)]
    pub(super) fn show(&self, readings: &mut [[f32; W]]) {
        if !self.is_steady {
            self.show_all(readings);
        }
    }

    /// Turns levels with noise into the readings that were counted last.
    pub(super) fn show_all(&self, readings: &mut [[f32; W]]) {
        let Unsteady { drift, tilt } = self.room.wander.unsteady(self.tilt(), readings.len());
        show(&self.meter, drift, &tilt, readings);
    }

    /// How far the receiver stretches levels, dB a dB.
    pub(super) fn tilt(&self) -> [f32; W] {
        drawn(&self.model.stability.linearity, self.draws)
    }

    fn drift(&mut self, takes: &[bool; W], cables: u32, readings: usize) {
        let model = self.model;
        let BenchScratch { wander, work: before, .. } = &mut *self.room;
        if !model.stability.drifts() {
            wander.drift.resize(readings.max(wander.drift.len()), [0.0; W]);
            return;
        }
        wander.drift.resize(readings, [0.0; W]);
        let Some(first) = (0..W).find(|l| takes[*l]) else { return };
        let gain = drawn(&model.stability.warm_up, self.draws);
        let timing =
            Timing { clock: &model.clock, stability: &model.stability, averages: self.averages, cables };
        let mut is_alike = true;
        for l in 0..W {
            let is_equal = (before.reconnections[l] == before.reconnections[first])
                & (before.readings[l] == before.readings[first])
                & (wander.at[l] == wander.at[first]);
            is_alike &= is_equal | !takes[l];
        }
        let Wander { walk, at, count, drift, steps, of_one, of_each } = wander;
        let steps = steps.to(model, self.first_trial, count, takes, readings);
        if is_alike {
            let of_first =
                Work { reconnections: [before.reconnections[first]], readings: [before.readings[first]] };
            of_one.find(&timing, &of_first, &[at[first]], readings);
            walk_on(of_one, takes, steps, &gain, walk, at, drift);
        } else {
            of_each.find(&timing, before, at, readings);
            walk_on(of_each, takes, steps, &gain, walk, at, drift);
        }
        for l in 0..W {
            count[l] += if takes[l] { readings as u32 } else { 0 };
        }
    }
}

/// A value of the receiver.
fn drawn<const W: usize>(value: &Value, draws: &Draws<W>) -> [f32; W] {
    let deviation = value.deviation_at(draws, 0, 0);
    let mut drawn = [value.nominal as f32; W];
    for l in 0..W {
        drawn[l] += deviation[l];
    }
    drawn
}

impl<const W: usize> Wander<W> {
    /// The receiver at the readings that were counted last, so many of them.
    pub(super) fn unsteady(&self, tilt: [f32; W], readings: usize) -> Unsteady<'_, W> {
        Unsteady { drift: &self.drift[..readings], tilt }
    }
}

/// Steps of the walk.
#[derive(Clone, Debug)]
struct Steps<const W: usize> {
    /// Those from some reading of each lane on, a whole number of blocks, `[reading][lane]`.
    drawn: Vec<[f32; W]>,
    from: [u32; W],
    /// Those that were asked for, where lanes are not equally far.
    moved: Vec<[f32; W]>,
}

impl<const W: usize> Default for Steps<W> {
    fn default() -> Steps<W> {
        Steps { drawn: Vec::new(), from: [0; W], moved: Vec::new() }
    }
}

impl<const W: usize> Steps<W> {
    /// The steps to readings that follow those taken so far, in the lanes that take them. A step belongs to the reading that it leads to,
    /// whichever lanes read besides.
    fn to(
        &mut self,
        model: &Model,
        first_trial: u64,
        count: &[u32; W],
        takes: &[bool; W],
        readings: usize,
    ) -> &[[f32; W]] {
        if model.stability.walk_db == 0.0 {
            self.moved.resize(readings.max(self.moved.len()), [0.0; W]);
            return &self.moved;
        }
        let mut lanes = (0..W).filter(|l| takes[*l]);
        if !lanes.all(|l| (count[l] - self.from[l]) as usize + readings <= self.drawn.len()) {
            let blocks = count.map(|count| count / BLOCK);
            self.from = blocks.map(|block| block * BLOCK);
            let rows = (readings + BLOCK as usize - 1).max(AHEAD);
            self.drawn.resize(rows.next_multiple_of(BLOCK as usize), [0.0; W]);
            draw::normals_from(model.noise.walk, first_trial, &blocks, 0, &mut self.drawn);
        }
        let ahead = |l: usize| (count[l] - self.from[l]) as usize;
        let mut lanes = (0..W).filter(|l| takes[*l]);
        let first = lanes.next().map_or(0, ahead);
        if lanes.all(|l| ahead(l) == first) {
            return &self.drawn[first..];
        }
        self.moved.resize(readings, [0.0; W]);
        for l in (0..W).filter(|l| takes[*l]) {
            for (reading, moved) in self.moved.iter_mut().enumerate() {
                moved[l] = self.drawn[reading + ahead(l)][l];
            }
        }
        &self.moved
    }
}

/// Steps that are drawn at a time at least: readings are often taken one by one.
const AHEAD: usize = 32;

/// Indices of a block of the generator.
const BLOCK: u32 = 4;

/// What the time of readings depends on.
struct Timing<'a> {
    clock: &'a Clock,
    stability: &'a Stability,
    averages: u32,
    /// Cables that are moved before each reading.
    cables: u32,
}

impl<const L: usize> Pace<L> {
    /// Finds the pace of readings that follow some work, the last reading of which was at a time.
    fn find(&mut self, timing: &Timing, before: &Work<L>, last: &[f64; L], readings: usize) {
        self.at.resize(readings + 1, [0.0; L]);
        self.walked.resize(readings, [0.0; L]);
        self.warmed.resize(readings, [0.0; L]);
        self.at[0] = *last;
        pace(timing, before, self);
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn pace<const L: usize>(timing: &Timing, before: &Work<L>, pace: &mut Pace<L>) {
    let Timing { clock, stability, averages, cables } = *timing;
    for (reading, at) in (1..).zip(&mut pace.at[1..]) {
        for l in 0..L {
            let moved = before.reconnections[l] + cables * reading;
            let read = before.readings[l] + reading;
            at[l] = clock.seconds_of(moved, read, averages) - clock.set_up;
        }
    }
    let at = pace.at.as_flattened();
    for ((walked, at), before) in pace.walked.as_flattened_mut().iter_mut().zip(&at[L..]).zip(at) {
        *walked = stability.walk_over(at - before);
    }
    for (warmed, at) in pace.warmed.as_flattened_mut().iter_mut().zip(&at[L..]) {
        *warmed = stability.warmed(*at);
    }
}

/// Takes the walk and the time on from reading to reading; `pace` is that of all lanes, or of each.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn walk_on<const W: usize, const L: usize>(
    pace: &Pace<L>,
    takes: &[bool; W],
    steps: &[[f32; W]],
    gain: &[f32; W],
    walk: &mut [f32; W],
    at: &mut [f64; W],
    drift: &mut [[f32; W]],
) {
    let mut here = *walk;
    let paces = pace.walked.iter().zip(&pace.warmed);
    for ((drift, steps), (walked, warmed)) in drift.iter_mut().zip(steps).zip(paces) {
        for l in 0..W {
            let of = if L == 1 { 0 } else { l };
            here[l] += walked[of] * steps[l];
            drift[l] = here[l] + gain[l] * warmed[of];
        }
    }
    let last = pace.at[pace.at.len() - 1];
    for l in 0..W {
        walk[l] = if takes[l] { here[l] } else { walk[l] };
        at[l] = if takes[l] { last[if L == 1 { 0 } else { l }] } else { at[l] };
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn show<const W: usize>(meter: &Meter, drift: &[[f32; W]], tilt: &[f32; W], readings: &mut [[f32; W]]) {
    for (reading, drift) in readings.iter_mut().zip(drift) {
        for l in 0..W {
            reading[l] = meter.show_unsteady(reading[l], drift[l], tilt[l]);
        }
    }
}
