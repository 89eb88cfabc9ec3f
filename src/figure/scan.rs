//! The far field over visible space by samples: levels, where the main lobe is highest, the mean side lobe.
//!
//! The power pattern of N elements in a line is a trigonometric polynomial of degree N - 1 in k d u. The grid has
//! [`OVERSAMPLING`] samples for each of the (at least N) samples that would just define the field, so no term of the power
//! turns by more than a quarter from sample to sample; where there is no spacing d the extent of the elements counts. That is enough to find every lobe and to take means; places and
//! heights that are reported are refined by direct sums (see `probe` and `lobes`), which in single
//! precision are right to 0.01 dB down to levels of -80 dB and to 0.1 dB at -100 dB.

use crate::figure::direct::RowSums;
use crate::figure::transforms::Transforms;
use crate::figure::visible::{Visible, Way};
use crate::math::{Lanes, single};
use multiversion::multiversion;

/// Samples of the pattern for each sample that the element count calls for.
pub(crate) const OVERSAMPLING: usize = 4;

/// Levels of W units over visible space.
#[derive(Clone, Debug)]
pub(super) struct Scan<const W: usize> {
    /// Made where they are first needed.
    transforms: Option<Transforms<W>>,
    /// Field of each row of elements, at one block of columns.
    rows: Vec<RowSums<W>>,
    /// Levels in the order of the samples, `[row][column]`.
    pub level: Vec<[f32; W]>,
    /// Room for a number a sample.
    room: Vec<f32>,
}

impl<const W: usize> Scan<W> {
    pub(super) fn new() -> Scan<W> {
        Scan { transforms: None, rows: Vec::new(), level: Vec::new(), room: Vec::new() }
    }

    /// Computes the levels of the channels' contributions over visible space: where it `is_whole` all of them, else at least those that
    /// [`Scan::main_lobe_top`] looks at.
    pub(super) fn take(&mut self, visible: &Visible, is_whole: bool, re: &[[f32; W]], im: &[[f32; W]]) {
        let mut window = visible.window(is_whole);
        self.level.resize(visible.columns.count * visible.rows.count, [0.0; W]);
        match &visible.way {
            Way::Lattice(lattice) => {
                let transforms = self.transforms.get_or_insert_with(|| Transforms::new(lattice));
                transforms.take(visible, re, im, &mut self.level);
                window = visible.window(true);
            }
            Way::Rows(direct) => direct.scan(&window, re, im, &mut self.rows, &mut self.level),
        }
        if let Some(element) = visible.element(&mut self.room) {
            for row in window.rows {
                let first = row * visible.columns.count;
                let samples = first + window.columns.start..first + window.columns.end;
                weigh(&mut self.level[samples.clone()], &element[samples]);
            }
        }
    }

    /// Offset (direction cosines) where the main lobe is highest, by the samples around its highest one: to a thousandth
    /// of a sample where the beam has its shape, and never a sample off that one.
    pub(super) fn main_lobe_top(&self, visible: &Visible) -> ([f64; W], [f64; W]) {
        let mut best = [0.0; W];
        let mut at = [0; W];
        for run in &visible.main_lobe {
            let first = run.samples.start as u32;
            highest(&self.level[run.samples.clone()], first, &mut best, &mut at);
        }
        let stride = visible.columns.count;
        let around = |step: usize| {
            let sample = |i: usize| {
                std::array::from_fn(|l| self.level[(at[l] as usize + i * step).saturating_sub(2 * step)][l])
            };
            top_of_five(&std::array::from_fn(sample))
        };
        let along_x = around(1);
        let along_y = if visible.rows.count == 1 { [0.0; W] } else { around(stride) };
        let place = |l: usize| (at[l] as usize % stride, at[l] as usize / stride);
        let (du, dv) = visible.spacing();
        let u = |l| visible.columns.offset(place(l).0) + f64::from(along_x[l]) * du;
        let v = |l| visible.rows.offset(place(l).1) + f64::from(along_y[l]) * dv;
        (std::array::from_fn(u), std::array::from_fn(v))
    }

    /// Mean power over the side-lobe region.
    pub(super) fn mean_side_level(&mut self, visible: &Visible) -> [f64; W] {
        let mut sum = [0.0; W];
        visible.mean_weights.expand(&mut self.room);
        weighted_sum(&self.level, &self.room, &mut sum);
        sum
    }

    /// Highest of the side-lobe samples.
    pub(super) fn highest_side_sample(&self, visible: &Visible) -> [f32; W] {
        let (mut best, mut at) = ([0.0; W], [0; W]);
        for run in &visible.side_lobes {
            highest(&self.level[run.samples.clone()], 0, &mut best, &mut at);
        }
        best
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn weigh<const W: usize>(level: &mut [[f32; W]], element: &[f32]) {
    for (level, element) in level.iter_mut().zip(element) {
        level.iter_mut().for_each(|level| *level *= element);
    }
}

/// Raises `best` to the highest of the levels, and notes where: `first` for the first of them, then counting up.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn highest<const W: usize>(levels: &[[f32; W]], first: u32, best: &mut [f32; W], at: &mut [u32; W]) {
    let (mut top, mut place) = (*best, *at);
    for (here, level) in (first..).zip(levels) {
        for l in 0..W {
            let higher = level[l] > top[l];
            top[l] = if higher { level[l] } else { top[l] };
            place[l] = if higher { here } else { place[l] };
        }
    }
    (*best, *at) = (top, place);
}

/// Samples summed in single precision before they join the sum in double.
const BLOCK: usize = 16;

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn weighted_sum<const W: usize>(levels: &[[f32; W]], weights: &[f32], sum: &mut [f64; W]) {
    for (levels, weights) in levels.chunks(BLOCK).zip(weights.chunks(BLOCK)) {
        let mut part = Lanes::ZERO;
        for (level, weight) in levels.iter().zip(weights) {
            part += Lanes(*level) * *weight;
        }
        for l in 0..W {
            sum[l] += f64::from(part.0[l]);
        }
    }
}

/// Where the quartic through the logarithms of five levels at -2, -1, 0, 1, 2 has its top near 0, within a sample; 0 where
/// the middle is no top.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn top_of_five<const W: usize>(levels: &[[f32; W]; 5]) -> [f32; W] {
    let mut top = [0.0; W];
    for l in 0..W {
        let mut log = [0.0; 5];
        for i in 0..5 {
            log[i] =
                single::ln(if levels[i][l] > f32::MIN_POSITIVE { levels[i][l] } else { f32::MIN_POSITIVE });
        }
        let [a, b, c, d, e] = log;
        // Derivatives at 0 of the quartic.
        let first = (8.0 * (d - b) - (e - a)) * (1.0 / 12.0);
        let second = (16.0 * (b + d) - 30.0 * c - (a + e)) * (1.0 / 12.0);
        let third = 0.5 * (e - a) - (d - b);
        let fourth = (a + e) - 4.0 * (b + d) + 6.0 * c;
        let mut t = 0.0;
        for _ in 0..3 {
            let slope = first + t * (second + t * (0.5 * third + t * (1.0 / 6.0) * fourth));
            let bend = second + t * (third + t * 0.5 * fourth);
            let next = if bend < 0.0 { t - slope / bend } else { 0.0 };
            let next = if next > 1.0 { 1.0 } else { next };
            t = if next < -1.0 { -1.0 } else { next };
        }
        top[l] = t;
    }
    top
}
