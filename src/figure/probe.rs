//! Direct sums of the far field in a direction of its own for each lane, and their uses: tops of lobes to far
//! below a thousandth of a beamwidth, levels on the edge of visible space, half-power points.

use crate::array::Array;
use crate::figure::BeamPoint;
use crate::figure::angles::Directions;
use crate::figure::slopes::{Slopes, slopes};
use crate::math::{Complex, elementary};
use multiversion::multiversion;

/// A direction for each lane, as offset from the commanded one in direction cosines, and the level there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Point<const W: usize> {
    /// Offset along x.
    pub u: [f64; W],
    /// Offset along y.
    pub v: [f64; W],
    /// Power there, element pattern included, linear.
    pub level: [f64; W],
}

impl<const W: usize> Default for Point<W> {
    fn default() -> Point<W> {
        Point { u: [0.0; W], v: [0.0; W], level: [0.0; W] }
    }
}

impl<const W: usize> Point<W> {
    /// The direction of each lane.
    pub(super) fn directions(&self, beam_point: &BeamPoint) -> Directions<W> {
        [self.u.map(|u| beam_point.toward.u + u), self.v.map(|v| beam_point.toward.v + v)]
    }
}

/// How far a climb goes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Climb {
    /// A step this short, in samples of the scan, is the last: the rest is its square and less.
    pub last_step: f64,
    /// Most steps.
    pub steps: usize,
    /// Longest step, in samples of the scan.
    pub stride: f64,
    /// Farthest from the start along each axis, in samples of the scan.
    pub reach: f64,
    /// Whether a climb that is held there, or is not done after the last step, found nothing.
    pub is_strict: bool,
}

/// To the beam peak: the last step leaves 1e-6 of a beamwidth.
pub(super) const TO_PEAK: Climb = Climb { last_step: 4e-3, steps: 4, ..TO_HEIGHT };

/// To the height of a side lobe: the last step leaves less than a thousandth of a dB.
pub(super) const TO_HEIGHT: Climb =
    Climb { last_step: 0.15, steps: 4, stride: 4.0, reach: 1.0, is_strict: false };

/// The same off a rectangular lattice, where the foot of the main lobe is no clean edge and lobes run askew to the axes.
pub(super) const TO_TOP: Climb = Climb { steps: 10, stride: 1.0, reach: 3.0, is_strict: true, ..TO_HEIGHT };

/// Newton steps toward a half-power point from that of the error-free array, at most; a step shorter than this part of
/// the way is the last.
const HALF_POWER_STEPS: usize = 6;
const HALF_POWER_LAST: f64 = 1e-3;

/// The contributions of the channels of W units to the field in the commanded direction, and where they stand.
#[derive(Clone, Copy, Debug)]
pub(super) struct Source<'a, const W: usize> {
    pub array: &'a Array,
    pub beam_point: &'a BeamPoint,
    pub re: &'a [[f32; W]],
    pub im: &'a [[f32; W]],
}

/// Room for direct sums: the phasors of the columns and rows, of a lattice to one side of the centre.
#[derive(Clone, Debug)]
pub(super) struct Room<const W: usize> {
    pub columns: Vec<Complex<W>>,
    pub rows: Vec<Complex<W>>,
}

impl<const W: usize> Room<W> {
    pub(super) fn new(array: &Array) -> Room<W> {
        let zeros = |elements: usize| vec![Complex::ZERO; elements];
        match array.rectangle() {
            Some(lattice) => Room { columns: zeros(lattice.columns / 2), rows: zeros(lattice.rows / 2) },
            None => Room { columns: zeros(array.channels()), rows: zeros(array.channels()) },
        }
    }
}

/// Climbs from a place near the top of a lobe to the top, on the logarithm of the power with the element pattern. The way
/// goes no farther than a few samples of the scan along each axis, so where there is no top a lane stays near its start; a
/// strict climb then ends at no direction.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn climb<const W: usize>(
    source: &Source<W>,
    room: &mut Room<W>,
    start: &([f64; W], [f64; W]),
    how: Climb,
) -> Point<W> {
    let sample = source.beam_point.visible.spacing();
    let farthest = (how.reach * sample.0, how.reach * sample.1);
    let stride = (how.stride * sample.0, how.stride * sample.1);
    let is_line = source.array.is_line;
    let mut point = Point { u: start.0, v: start.1, level: [0.0; W] };
    let mut is_there = [0u64; W];
    for _ in 0..how.steps {
        let at = slopes(source, room, &point.u, &point.v);
        let mut all_there = u64::MAX;
        let (step_u, step_v) = if is_line { uphill_on_line(&at) } else { uphill(&at) };
        for l in 0..W {
            let (step_u, step_v) = (within(step_u[l], 0.0, stride.0), within(step_v[l], 0.0, stride.1));
            let u = within(point.u[l] + step_u, start.0[l], farthest.0);
            let v = within(point.v[l] + step_v, start.1[l], farthest.1);
            let (du, dv) = (u - point.u[l], v - point.v[l]);
            let level = at.level_after(l, du, dv);
            // A lane that is there already stays as it was, whatever the others do.
            let stays = is_there[l] != 0;
            point.level[l] = if stays { point.level[l] } else { level };
            point.u[l] = if stays { point.u[l] } else { u };
            point.v[l] = if stays { point.v[l] } else { v };
            let is_last = (du.abs() <= how.last_step * sample.0) & (dv.abs() <= how.last_step * sample.1);
            is_there[l] |= if is_last { u64::MAX } else { 0 };
            all_there &= is_there[l];
        }
        if all_there == u64::MAX {
            break;
        }
    }
    if how.is_strict {
        for l in 0..W {
            let (moved_u, moved_v) = ((point.u[l] - start.0[l]).abs(), (point.v[l] - start.1[l]).abs());
            let is_free = (moved_u < 0.99 * farthest.0) & ((moved_v < 0.99 * farthest.1) | is_line);
            if is_there[l] == 0 || !is_free {
                (point.u[l], point.v[l], point.level[l]) = (f64::INFINITY, f64::INFINITY, 0.0);
            }
        }
    }
    point
}

/// The level on the edge of visible space at a direction (offset `at`) for each lane or, on a plane, at the top along the
/// edge near it, by one step of the second order; 0 where the level falls toward the edge.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn level_on_edge<const W: usize>(
    source: &Source<W>,
    room: &mut Room<W>,
    at: &([f64; W], [f64; W]),
) -> Point<W> {
    let toward = source.beam_point.toward;
    let is_line = source.array.is_line;
    let farthest = source.beam_point.visible.columns.spacing.max(source.beam_point.visible.rows.spacing);
    let slopes = slopes(source, room, &at.0, &at.1);
    let mut point = Point::default();
    for l in 0..W {
        let outward = (toward.u + at.0[l], toward.v + at.1[l]);
        let along = (-outward.1, outward.0);
        let rise = slopes.u[l] * outward.0 + slopes.v[l] * outward.1;
        let slope = slopes.u[l] * along.0 + slopes.v[l] * along.1;
        // On the unit circle the second derivative along the edge has the outward slope in it.
        let bend = slopes.uu[l] * along.0 * along.0
            + 2.0 * slopes.uv[l] * along.0 * along.1
            + slopes.vv[l] * along.1 * along.1
            - rise;
        let newton = if bend < 0.0 { -slope / bend } else { slope };
        let step = if is_line { 0.0 } else { within(newton, 0.0, farthest) };
        let (u, v) = (outward.0 + step * along.0, outward.1 + step * along.1);
        let radius = (u * u + v * v).sqrt();
        (point.u[l], point.v[l]) = (u / radius - toward.u, v / radius - toward.v);
        let level = slopes.level[l] * elementary::exp(step * (slope + 0.5 * step * bend));
        point.level[l] = if rise > 0.0 { level } else { 0.0 };
    }
    point
}

/// Walks along the scan from the peak, starting `offset` (direction cosines) away, to where the level is half the peak's.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn half_power<const W: usize>(
    source: &Source<W>,
    room: &mut Room<W>,
    peak: &Point<W>,
    offset: f64,
) -> Point<W> {
    let along = source.beam_point.along;
    let (size, away) = (offset.abs(), offset.signum());
    let mut distance = [offset; W];
    let mut is_there = [0u64; W];
    let mut point = Point { level: peak.level.map(|level| level / 2.0), ..*peak };
    for _ in 0..HALF_POWER_STEPS {
        for l in 0..W {
            point.u[l] = peak.u[l] + distance[l] * along.0;
            point.v[l] = peak.v[l] + distance[l] * along.1;
        }
        let at = slopes(source, room, &point.u, &point.v);
        let mut all_there = u64::MAX;
        for l in 0..W {
            let slope = at.u[l] * along.0 + at.v[l] * along.1;
            // Downhill is away from the peak; where it is not, the walk goes on outward by the longest step.
            let miss = elementary::ln(at.level[l] / point.level[l]);
            let step = if slope * away < 0.0 { -miss / slope } else { away * miss };
            let reached = distance[l] + within(step, 0.0, 0.25 * size);
            // No nearer than a tenth of the way and no farther than four times it.
            let reached = within(reached, 2.05 * offset, 1.95 * size);
            let is_last = (reached - distance[l]).abs() <= HALF_POWER_LAST * size;
            distance[l] = if is_there[l] == 0 { reached } else { distance[l] };
            is_there[l] |= if is_last { u64::MAX } else { 0 };
            all_there &= is_there[l];
        }
        if all_there == u64::MAX {
            break;
        }
    }
    for l in 0..W {
        point.u[l] = peak.u[l] + distance[l] * along.0;
        point.v[l] = peak.v[l] + distance[l] * along.1;
    }
    point
}

/// `x`, or the value nearest to it no farther than `reach` from `centre`.
#[inline(always)]
fn within(x: f64, centre: f64, reach: f64) -> f64 {
    let x = if x > centre + reach { centre + reach } else { x };
    if x < centre - reach { centre - reach } else { x }
}

/// Newton's step to a maximum on a line; where the curve is no hill, a long step uphill (the caller clips it).
#[inline(always)]
fn uphill_on_line<const W: usize>(at: &Slopes<W>) -> ([f64; W], [f64; W]) {
    let mut step = [0.0; W];
    for l in 0..W {
        let newton = -at.u[l] / at.uu[l];
        step[l] = if at.uu[l] < 0.0 { newton } else { at.u[l] };
    }
    (step, [0.0; W])
}

/// The same on a plane.
#[inline(always)]
fn uphill<const W: usize>(at: &Slopes<W>) -> ([f64; W], [f64; W]) {
    let (mut step_u, mut step_v) = ([0.0; W], [0.0; W]);
    for l in 0..W {
        let (u, v, uu, uv, vv) = (at.u[l], at.v[l], at.uu[l], at.uv[l], at.vv[l]);
        let determinant = uu * vv - uv * uv;
        let is_hill = (uu < 0.0) & (determinant > 0.0);
        let (du, dv) = ((uv * v - vv * u) / determinant, (uv * u - uu * v) / determinant);
        step_u[l] = if is_hill { du } else { u };
        step_v[l] = if is_hill { dv } else { v };
    }
    (step_u, step_v)
}
