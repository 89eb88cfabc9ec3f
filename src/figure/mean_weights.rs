//! The mean of a sampled pattern over the side-lobe region.

use crate::figure::region::Region;
use crate::figure::visible::Axis;
use multiversion::multiversion;
use std::ops::Range;

/// Strips that the distance between two rows of samples is cut into.
const STRIPS: usize = 8;

/// Weights of the samples in a mean, `[row][column]`, which add up to 1, or are 0 where there is nothing to take the mean of. Kept as how
/// many samples in a row have the same one: away from the edges of the region all do.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct MeanWeights {
    runs: Vec<(u32, f32)>,
}

impl MeanWeights {
    pub(super) fn new(weights: &[f64]) -> MeanWeights {
        let same = |one: &f32, other: &f32| one.to_bits() == other.to_bits();
        let weights: Vec<f32> = weights.iter().map(|weight| *weight as f32).collect();
        let mut runs: Vec<(u32, f32)> =
            weights.chunk_by(same).map(|run| (run.len() as u32, run[0])).collect();
        runs.shrink_to_fit();
        MeanWeights { runs }
    }

    /// The weights one by one, put into `to`.
    pub(super) fn expand(&self, to: &mut Vec<f32>) {
        to.clear();
        for (count, weight) in &self.runs {
            to.resize(to.len() + *count as usize, *weight);
        }
    }
}

/// Weights of the samples in the mean over the side lobes.
///
/// The pattern between samples is the quintic through the six around (Lagrange): along x integrated exactly between the
/// ends of the region, along y taken at the middle of strips.
pub(super) fn over_side_lobes(columns: &Axis, rows: &Axis, region: &Region) -> Vec<f64> {
    let mut weights = vec![0.0; columns.count * rows.count];
    let mut strip = |v: f64, row_weights: &[(usize, f64)]| {
        for (low, high) in region.intervals(v) {
            if low < high {
                let integral = Integral::new(columns.place(low), columns.place(high));
                for (row, of_row) in row_weights {
                    integral.add(*of_row, &mut weights[row * columns.count..(row + 1) * columns.count]);
                }
            }
        }
    };
    if rows.count == 1 {
        strip(0.0, &[(0, 1.0)]);
    } else {
        // The outermost rows are beyond visible space.
        for row in 2..rows.count - 3 {
            for i in 0..STRIPS {
                let t = (i as f64 + 0.5) / STRIPS as f64;
                let quintic = quintic(t);
                let row_weights: [(usize, f64); 6] = std::array::from_fn(|j| (row + j - 2, quintic[j]));
                let v = rows.offset(row) + t * rows.spacing;
                if region.is_row_visible(v) {
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

/// Weights of the six samples around a cell, from two before it on, at each place of Gauss's rule.
type OfCell = [[f64; 6]; 3];

/// An integral along a row of samples.
struct Integral {
    /// The cells between samples that it runs through.
    cells: Range<usize>,
    first: OfCell,
    whole: OfCell,
    last: OfCell,
}

impl Integral {
    /// From `low` to `high`, both in samples.
    fn new(low: f64, high: f64) -> Integral {
        let cells = low.floor() as usize..high.ceil() as usize;
        let of = |cell: usize| {
            let (from, to) = ((low - cell as f64).max(0.0), (high - cell as f64).min(1.0));
            cell_weights(from, to)
        };
        Integral { first: of(cells.start), whole: cell_weights(0.0, 1.0), last: of(cells.end - 1), cells }
    }

    /// Adds to the weight of each sample of a row so many times that of the integral, cell by cell.
    fn add(&self, times: f64, row: &mut [f64]) {
        let scaled = |of: &OfCell| of.map(|of_place| of_place.map(|weight| weight * times));
        let [first, whole, last] = [&self.first, &self.whole, &self.last].map(scaled);
        let Range { start, end } = self.cells;
        // Samples whose six cells are whole ones, which are most, are separate from those next to the ends.
        let inner = start + 4..(end - 3).max(start + 4);
        for sample in (start - 2..inner.start).chain(inner.end..end + 3) {
            for cell in start.max(sample.saturating_sub(3))..end.min(sample + 3) {
                let of = if cell == start {
                    &first
                } else if cell == end - 1 {
                    &last
                } else {
                    &whole
                };
                of.iter().for_each(|of_place| row[sample] += of_place[sample + 2 - cell]);
            }
        }
        add_whole(&whole, &mut row[inner]);
    }
}

/// Adds the weights of six whole cells around each sample, from the first cell on.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn add_whole(whole: &OfCell, samples: &mut [f64]) {
    for weight in samples {
        for i in (0..6).rev() {
            for of_place in whole {
                *weight += of_place[i];
            }
        }
    }
}

/// Weights of the six samples around a cell in the integral over a part of it, at each of the places of Gauss's rule of three
/// points, which is exact for a quintic.
fn cell_weights(from: f64, to: f64) -> OfCell {
    let place = 0.6f64.sqrt();
    let (middle, half) = ((from + to) / 2.0, (to - from) / 2.0);
    [(-place, 5.0 / 9.0), (0.0, 8.0 / 9.0), (place, 5.0 / 9.0)]
        .map(|(at, weight)| quintic(middle + at * half).map(|of| half * weight * of))
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
        for (low, high) in [(2.0, 3.0), (2.2, 2.7), (2.9, 7.3), (3.0, 6.0), (2.5, 27.7)] {
            let mut weights = [0.0; 32];
            Integral::new(low, high).add(1.0, &mut weights);
            let sum: f64 = weights.iter().enumerate().map(|(i, weight)| weight * value(i as f64)).sum();
            let expected = whole(high) - whole(low);
            assert!((sum - expected).abs() < 1e-12 * expected.abs().max(1.0), "{low} to {high}: {sum}");
        }
        for t in [0.0, 0.3, 1.0] {
            let sum: f64 = quintic(t).iter().enumerate().map(|(i, w)| w * value(i as f64 - 2.0)).sum();
            assert!((sum - value(t)).abs() < 1e-13);
        }
    }

    /// Nothing is lost by keeping runs; and they are right: few weights but those at edges differ.
    #[test]
    fn runs_hold_every_weight() {
        let weights = [0.0, 0.0, 0.1, 0.25, 0.25, 0.25, 0.15, -0.0, 0.0];
        let kept = MeanWeights::new(&weights);
        let mut to = vec![7.0; 3];
        kept.expand(&mut to);
        let bits = |weights: &[f32]| weights.iter().map(|weight| weight.to_bits()).collect::<Vec<u32>>();
        assert_eq!(bits(&to), bits(&weights.map(|weight| weight as f32)));
        assert_eq!(kept.runs.len(), 6);
    }
}
