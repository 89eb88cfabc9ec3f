//! Where the main lobe ends and where visible space does; and the mean of a sampled pattern over what lies between.

use crate::array::Direction;
use crate::figure::visible::Axis;

/// Main lobe and side lobes of a beam. Offsets are from the commanded direction, in direction cosines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Region {
    toward: Direction,
    centre: (f64, f64),
    /// Half the extent of the main lobe.
    reach: (f64, f64),
    /// Of an elliptic main lobe what takes an offset to the parts of its half axes; 0 for a rectangular one.
    per_axis: (f64, f64),
}

/// Shape of the main lobe's region in direction cosines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    /// Out to a null along each axis, as the patterns of lattices have them.
    Rectangle,
    /// With the nulls along the axes as ends of its axes.
    Ellipse,
}

impl Region {
    /// A main lobe around `centre` out to the nulls at `nulls`; infinite along y for a line.
    pub fn new(toward: Direction, centre: (f64, f64), nulls: (f64, f64), shape: Shape) -> Region {
        // A null that falls on a sample, as a uniform line's does, belongs to the side lobes.
        let reach = (nulls.0 * (1.0 - 1e-6), nulls.1 * (1.0 - 1e-6));
        let per_axis = match shape {
            Shape::Rectangle => (0.0, 0.0),
            Shape::Ellipse => (1.0 / reach.0, 1.0 / reach.1),
        };
        Region { toward, centre, reach, per_axis }
    }

    #[inline(always)]
    pub fn is_main_lobe(&self, u: f64, v: f64) -> bool {
        self.is_visible(u, v) & self.is_within_nulls(u, v)
    }

    #[inline(always)]
    pub fn is_side_lobe(&self, u: f64, v: f64) -> bool {
        self.is_visible(u, v) & !self.is_within_nulls(u, v)
    }

    /// The steps along x and y from a place outside the main lobe that lead toward it, when it is next to it; (0, 0)
    /// elsewhere.
    pub fn inward(&self, (u, v): (f64, f64), spacing: (f64, f64)) -> (i32, i32) {
        if self.is_elliptic() {
            return self.inward_to_ellipse((u - self.centre.0, v - self.centre.1), spacing);
        }
        let axis = |from_centre: f64, reach: f64, spacing: f64| {
            let beyond = from_centre.abs() - reach;
            let inward = if from_centre > 0.0 { -1 } else { 1 };
            (beyond < NEXT_TO * spacing || reach.is_infinite(), if beyond >= 0.0 { inward } else { 0 })
        };
        let (near_u, inward_u) = axis(u - self.centre.0, self.reach.0, spacing.0);
        let (near_v, inward_v) = axis(v - self.centre.1, self.reach.1, spacing.1);
        if near_u && near_v { (inward_u, inward_v) } else { (0, 0) }
    }

    /// Toward the middle along both axes: more directions than the skirt rises in do no harm.
    fn inward_to_ellipse(&self, (u, v): (f64, f64), spacing: (f64, f64)) -> (i32, i32) {
        let part = |from_centre: f64, per_axis: f64| (from_centre * per_axis).powi(2);
        let is_within = |u: f64, v: f64| part(u, self.per_axis.0) + part(v, self.per_axis.1) < 1.0;
        let nearer = |from_centre: f64, spacing: f64| (from_centre.abs() - NEXT_TO * spacing).max(0.0);
        if is_within(u, v) || !is_within(nearer(u, spacing.0), nearer(v, spacing.1)) {
            return (0, 0);
        }
        let step = |from_centre: f64, spacing: f64| match from_centre {
            far if far > 0.5 * spacing => -1,
            far if far < -0.5 * spacing => 1,
            _ => 0,
        };
        (step(u, spacing.0), step(v, spacing.1))
    }

    fn is_elliptic(&self) -> bool {
        self.per_axis != (0.0, 0.0)
    }

    /// Distance to the first null in a direction (unit vector), at most.
    pub fn main_lobe_along(&self, along: (f64, f64)) -> f64 {
        if self.is_elliptic() {
            return 1.0 / ((along.0 * self.per_axis.0).powi(2) + (along.1 * self.per_axis.1).powi(2)).sqrt();
        }
        let reach = |null: f64, cosine: f64| if cosine == 0.0 { f64::INFINITY } else { null / cosine.abs() };
        reach(self.reach.0, along.0).min(reach(self.reach.1, along.1))
    }

    #[inline(always)]
    fn is_visible(&self, u: f64, v: f64) -> bool {
        let (u, v) = (self.toward.u + u, self.toward.v + v);
        // A direction put on the edge may round to beyond it.
        u * u + v * v <= 1.0 + 1e-12
    }

    #[inline(always)]
    fn is_within_nulls(&self, u: f64, v: f64) -> bool {
        let (u, v) = (u - self.centre.0, v - self.centre.1);
        let (part_u, part_v) = (u * self.per_axis.0, v * self.per_axis.1);
        let is_in_rectangle = (u.abs() < self.reach.0) & (v.abs() < self.reach.1);
        is_in_rectangle & (part_u * part_u + part_v * part_v < 1.0)
    }

    /// The side lobes along x at one offset along y, as intervals of offsets along x.
    fn intervals(&self, v: f64) -> Vec<(f64, f64)> {
        let half_chord = (1.0 - (self.toward.v + v).powi(2)).max(0.0).sqrt();
        let (low, high) = (-half_chord - self.toward.u, half_chord - self.toward.u);
        if (v - self.centre.1).abs() >= self.reach.1 {
            return vec![(low, high)];
        }
        let part_v = (v - self.centre.1) * self.per_axis.1;
        let chord = 1.0 - part_v * part_v;
        let half = if chord > 0.0 { self.reach.0 * chord.sqrt() } else { 0.0 };
        let (near, far) = (self.centre.0 - half, self.centre.0 + half);
        vec![(low, near.min(high)), (far.max(low), high)]
    }
}

/// How far the skirt of the main lobe makes lobes narrow, in samples from the null.
const NEXT_TO: f64 = 5.0;

/// Strips that the distance between two rows of samples is cut into.
const STRIPS: usize = 8;

/// Weights of the samples in the mean over the side lobes, `[row][column]`; they add up to 1, or are 0 where there are no
/// side lobes.
///
/// The pattern between samples is the quintic through the six around (Lagrange): along x integrated exactly between the
/// ends of the region, along y taken at the middle of strips.
pub(super) fn mean_weights(columns: &Axis, rows: &Axis, region: &Region) -> Vec<f64> {
    let mut weights = vec![0.0; columns.count * rows.count];
    let mut strip = |v: f64, row_weights: &[(usize, f64)]| {
        for (low, high) in region.intervals(v) {
            if low < high {
                integrate(columns.place(low), columns.place(high), |column, weight| {
                    for (row, of_row) in row_weights {
                        weights[row * columns.count + column] += weight * of_row;
                    }
                });
            }
        }
    };
    if rows.count == 1 {
        strip(0.0, &[(0, 1.0)]);
    } else {
        // The outermost rows lie beyond visible space.
        for row in 2..rows.count - 3 {
            for i in 0..STRIPS {
                let t = (i as f64 + 0.5) / STRIPS as f64;
                let quintic = quintic(t);
                let row_weights: [(usize, f64); 6] = std::array::from_fn(|j| (row + j - 2, quintic[j]));
                let v = rows.offset(row) + t * rows.spacing;
                if (region.toward.v + v).abs() <= 1.0 {
                    strip(v, &row_weights);
                }
            }
        }
    }
    let sum: f64 = weights.iter().sum();
    if sum > 0.0 {
        weights.iter_mut().for_each(|weight| *weight /= sum);
    }
    weights
}

/// Weights of the integral from `low` to `high`, both in samples, handed over sample by sample.
///
/// Gauss's rule of three points in each cell, which is exact for a quintic.
fn integrate(low: f64, high: f64, mut add: impl FnMut(usize, f64)) {
    let place = 0.6f64.sqrt();
    for cell in low.floor() as usize..high.ceil() as usize {
        let (from, to) = ((low - cell as f64).max(0.0), (high - cell as f64).min(1.0));
        let (middle, half) = ((from + to) / 2.0, (to - from) / 2.0);
        for (at, weight) in [(-place, 5.0 / 9.0), (0.0, 8.0 / 9.0), (place, 5.0 / 9.0)] {
            let quintic = quintic(middle + at * half);
            (0..6).for_each(|i| add(cell + i - 2, half * weight * quintic[i]));
        }
    }
}

/// Weights of the quintic through samples at -2 ... 3, taken at t.
fn quintic(t: f64) -> [f64; 6] {
    std::array::from_fn(|i| {
        let others = (0..6).filter(|j| *j != i);
        others.map(|j| (t + 2.0 - j as f64) / (i as f64 - j as f64)).product()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quintics_are_integrated_exactly() {
        let c = [1.0, 0.5, -0.3, 0.07, 0.02, -0.003];
        let value = |x: f64| (0..6).map(|i| c[i] * x.powi(i as i32)).sum::<f64>();
        let whole = |x: f64| (0..6).map(|i| c[i] * x.powi(i as i32 + 1) / (i as f64 + 1.0)).sum::<f64>();
        for (low, high) in [(2.0, 3.0), (2.2, 2.7), (2.9, 7.3), (3.0, 6.0)] {
            let mut sum = 0.0;
            integrate(low, high, |sample, weight| sum += weight * value(sample as f64));
            let expected = whole(high) - whole(low);
            assert!((sum - expected).abs() < 1e-12 * expected.abs().max(1.0), "{low} to {high}: {sum}");
        }
        for t in [0.0, 0.3, 1.0] {
            let sum: f64 = quintic(t).iter().enumerate().map(|(i, w)| w * value(i as f64 - 2.0)).sum();
            assert!((sum - value(t)).abs() < 1e-13);
        }
    }
}
