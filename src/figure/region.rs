//! Where the main lobe ends and where visible space does; and the mean of a sampled pattern over what lies between.

use crate::array::Direction;
use crate::figure::visible::Axis;

/// Main lobe and side lobes of a beam. Offsets are from the commanded direction, in direction cosines.
#[derive(Clone, Copy, Debug)]
pub(super) struct Region {
    toward: Direction,
    centre: (f64, f64),
    /// Half the extent of the main lobe.
    reach: (f64, f64),
}

impl Region {
    /// A main lobe around `centre` out to the nulls at `nulls`; infinite along y for a line.
    pub fn new(toward: Direction, centre: (f64, f64), nulls: (f64, f64)) -> Region {
        // A null that falls on a sample, as a uniform line's does, belongs to the side lobes.
        Region { toward, centre, reach: (nulls.0 * (1.0 - 1e-6), nulls.1 * (1.0 - 1e-6)) }
    }

    #[inline(always)]
    pub fn is_main_lobe(&self, u: f64, v: f64) -> bool {
        self.is_visible(u, v) & self.is_within_nulls(u, v)
    }

    #[inline(always)]
    pub fn is_side_lobe(&self, u: f64, v: f64) -> bool {
        self.is_visible(u, v) & !self.is_within_nulls(u, v)
    }

    /// Distance to the first null in a direction (unit vector), at most.
    pub fn main_lobe_along(&self, along: (f64, f64)) -> f64 {
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
        ((u - self.centre.0).abs() < self.reach.0) & ((v - self.centre.1).abs() < self.reach.1)
    }

    /// The side lobes along x at one offset along y, as intervals of offsets along x.
    fn intervals(&self, v: f64) -> Vec<(f64, f64)> {
        let half_chord = (1.0 - (self.toward.v + v).powi(2)).max(0.0).sqrt();
        let (low, high) = (-half_chord - self.toward.u, half_chord - self.toward.u);
        if (v - self.centre.1).abs() >= self.reach.1 {
            return vec![(low, high)];
        }
        let (near, far) = (self.centre.0 - self.reach.0, self.centre.0 + self.reach.0);
        vec![(low, near.min(high)), (far.max(low), high)]
    }
}

/// Strips that the distance between two rows of samples is cut into.
const STRIPS: usize = 8;

/// Weights of the samples in the mean over the side lobes, `[row][column]`; they add up to 1, or are 0 where there are no
/// side lobes.
///
/// The pattern between samples is the cubic through the four around (Lagrange): along x integrated exactly between the
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
        for row in 1..rows.count - 2 {
            for i in 0..STRIPS {
                let t = (i as f64 + 0.5) / STRIPS as f64;
                let cubic = cubic(t);
                let row_weights: [(usize, f64); 4] = std::array::from_fn(|j| (row + j - 1, cubic[j]));
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
fn integrate(low: f64, high: f64, mut add: impl FnMut(usize, f64)) {
    for cell in low.floor() as usize..high.ceil() as usize {
        let (from, to) = ((low - cell as f64).max(0.0), (high - cell as f64).min(1.0));
        let (from, to) = (cubic_integral(from), cubic_integral(to));
        for i in 0..4 {
            add(cell + i - 1, to[i] - from[i]);
        }
    }
}

/// Weights of the cubic through samples at -1, 0, 1, 2, taken at t.
fn cubic(t: f64) -> [f64; 4] {
    [
        -t * (t - 1.0) * (t - 2.0) / 6.0,
        (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
        -(t + 1.0) * t * (t - 2.0) / 2.0,
        (t + 1.0) * t * (t - 1.0) / 6.0,
    ]
}

/// The same integrated from 0 to t.
fn cubic_integral(t: f64) -> [f64; 4] {
    let (t2, t3, t4) = (t * t, t * t * t, t * t * t * t);
    [
        -(t4 / 4.0 - t3 + t2) / 6.0,
        (t4 / 4.0 - 2.0 * t3 / 3.0 - t2 / 2.0 + 2.0 * t) / 2.0,
        -(t4 / 4.0 - t3 / 3.0 - t2) / 2.0,
        (t4 / 4.0 - t2 / 2.0) / 6.0,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cubics_are_integrated_exactly() {
        let value = |x: f64| 1.0 + 0.5 * x - 0.3 * x * x + 0.07 * x * x * x;
        let whole = |x: f64| x + 0.25 * x * x - 0.1 * x * x * x + 0.0175 * x * x * x * x;
        for (low, high) in [(1.0, 2.0), (1.2, 1.7), (1.9, 6.3), (2.0, 5.0)] {
            let mut sum = 0.0;
            integrate(low, high, |sample, weight| sum += weight * value(sample as f64));
            assert!((sum - (whole(high) - whole(low))).abs() < 1e-13, "{low} to {high}: {sum}");
        }
        for t in [0.0, 0.3, 1.0] {
            let sum: f64 = cubic(t).iter().enumerate().map(|(i, w)| w * value(i as f64 - 1.0)).sum();
            assert!((sum - value(t)).abs() < 1e-14);
        }
    }
}
