//! The highest side lobe: found among the samples of a scan, its height taken by direct sums.
//!
//! Every sample that is no lower than its neighbours is a candidate. From sample to sample no term of the power turns by more
//! than a quarter, so the sinusoid of a quarter a sample through three of them has the fastest bend that they can show:
//! where a slower lobe has its top between the samples it overestimates, and a single fast lobe it meets. Products of
//! terms and neighbouring lobes make that a rule of thumb, so a candidate counts as beaten only when [`SURELY`] times its
//! estimate is; the test of many random units holds that against a search by brute force. Candidates are refined from the
//! highest estimate down, every lane its own, until in no lane one is left that could beat the best.

use crate::figure::probe::{Room, Source, TO_HEIGHT, climb, level_on_edge};
use crate::figure::scan::Scan;
use crate::figure::visible::{Run, Visible};
use multiversion::multiversion;

/// A lobe is no higher than this many times its estimate along a line, and its square on a plane.
const SURELY: f32 = 1.7;

/// A lobe is no higher than this many times its highest sample along one axis: half a sample off the top of the fastest lobe,
/// 1/cos^2(pi/8), and what is left for [`SURELY`].
const OVER_SAMPLE: f32 = 2.0;

/// What is found beside a sample that is a local maximum in some lanes.
#[derive(Clone, Debug)]
struct Candidate<const W: usize> {
    /// Offset of the sample from the commanded direction, direction cosines.
    u: f64,
    v: f64,
    /// Place of the top from there, in samples.
    du: [f32; W],
    dv: [f32; W],
    /// Estimated height; 0 in the lanes that have no lobe here or are done with it.
    estimate: [f32; W],
}

/// The search for the highest side lobe, and its room.
#[derive(Clone, Debug)]
pub(super) struct Lobes<const W: usize> {
    candidates: Vec<Candidate<W>>,
    /// Height of the highest, linear power.
    pub top: [f64; W],
}

/// The candidate that each lane takes in a round.
struct Chosen<const W: usize> {
    number: [u32; W],
    estimate: [f32; W],
    start: ([f64; W], [f64; W]),
}

impl<const W: usize> Lobes<W> {
    pub fn new() -> Lobes<W> {
        Lobes { candidates: Vec::new(), top: [0.0; W] }
    }

    /// Finds the highest local maximum in the side-lobe region, levels that rise up to the edge of visible space included;
    /// where there is none, the highest sample.
    pub fn search(&mut self, source: &Source<W>, room: &mut Room<W>, scan: &Scan<W>) {
        let visible = &source.look.visible;
        self.top = [0.0; W];
        self.gather(visible, &scan.level);
        let mut chosen = Chosen::none();
        loop {
            let floor = self.sure_top(visible);
            chosen = next(&chosen, &mut self.candidates, visible.spacing(), &floor);
            if chosen.estimate == [0.0; W] {
                break;
            }
            let found = climb(source, room, &chosen.start, TO_HEIGHT);
            for l in 0..W {
                let counts = chosen.estimate[l] > 0.0 && visible.region.is_side_lobe(found.u[l], found.v[l]);
                self.raise(l, counts, found.level[l]);
            }
        }
        self.search_edge(source, room, &scan.level);
        if self.top.contains(&0.0) {
            let highest = scan.highest_side_sample(visible);
            for l in 0..W {
                self.raise(l, self.top[l] == 0.0, f64::from(highest[l]));
            }
        }
    }

    fn raise(&mut self, l: usize, counts: bool, level: f64) {
        if counts && level > self.top[l] {
            self.top[l] = level;
        }
    }

    /// An estimate has to be above this to be of interest.
    fn sure_top(&self, visible: &Visible) -> [f32; W] {
        let surely = f64::from(if visible.rows.count == 1 { SURELY } else { SURELY * SURELY });
        self.top.map(|top| (top / surely) as f32)
    }

    /// Lists the candidates that can be the highest, judged by samples alone.
    fn gather(&mut self, visible: &Visible, level: &[[f32; W]]) {
        self.candidates.clear();
        let mut floor = [0.0; W];
        let plane_stride = visible.columns.count;
        if visible.rows.count == 1 {
            highest_top::<false, W>(level, 0, &visible.inner_side_lobes, &mut floor);
            tops::<false, W>(level, 0, visible, &floor, &mut self.candidates);
        } else {
            highest_top::<true, W>(level, plane_stride, &visible.inner_side_lobes, &mut floor);
            tops::<true, W>(level, plane_stride, visible, &floor, &mut self.candidates);
        }
    }

    fn search_edge(&mut self, source: &Source<W>, room: &mut Room<W>, level: &[[f32; W]]) {
        let visible = &source.look.visible;
        let stride = visible.columns.count;
        let is_line = visible.rows.count == 1;
        for edge in &visible.at_edge {
            let rows =
                if is_line { edge.sample..=edge.sample } else { edge.sample - stride..=edge.sample + stride };
            let around = rows.step_by(stride).flat_map(|middle| &level[middle - 1..=middle + 1]);
            let mut bound = [0.0f32; W];
            for level in around {
                for l in 0..W {
                    bound[l] = bound[l].max(level[l] * OVER_SAMPLE * if is_line { 1.0 } else { OVER_SAMPLE });
                }
            }
            if (0..W).any(|l| f64::from(bound[l]) > self.top[l]) {
                let found = level_on_edge(source, room, edge.offset);
                for l in 0..W {
                    self.raise(l, visible.region.is_side_lobe(found.u[l], found.v[l]), found.level[l]);
                }
            }
        }
    }
}

impl<const W: usize> Chosen<W> {
    fn none() -> Chosen<W> {
        Chosen { number: [u32::MAX; W], estimate: [0.0; W], start: ([0.0; W], [0.0; W]) }
    }
}

/// Crosses out the candidates chosen last and takes the highest of those left that are over `floor`.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn next<const W: usize>(
    last: &Chosen<W>,
    candidates: &mut [Candidate<W>],
    spacing: (f64, f64),
    floor: &[f32; W],
) -> Chosen<W> {
    let mut chosen = Chosen::none();
    for (number, candidate) in (0..).zip(candidates) {
        for l in 0..W {
            let is_done = last.number[l] == number;
            let estimate = if is_done { 0.0 } else { candidate.estimate[l] };
            candidate.estimate[l] = estimate;
            let is_higher = (estimate > chosen.estimate[l]) & (estimate > floor[l]);
            let u = candidate.u + f64::from(candidate.du[l]) * spacing.0;
            let v = candidate.v + f64::from(candidate.dv[l]) * spacing.1;
            chosen.number[l] = if is_higher { number } else { chosen.number[l] };
            chosen.estimate[l] = if is_higher { estimate } else { chosen.estimate[l] };
            chosen.start.0[l] = if is_higher { u } else { chosen.start.0[l] };
            chosen.start.1[l] = if is_higher { v } else { chosen.start.1[l] };
        }
    }
    chosen
}

/// Raises `floor` to the highest sample that is no lower than its neighbours.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn highest_top<const PLANE: bool, const W: usize>(
    level: &[[f32; W]],
    stride: usize,
    runs: &[Run],
    floor: &mut [f32; W],
) {
    let mut highest = *floor;
    for run in runs {
        for sample in run.samples.clone() {
            let is_top = is_top::<PLANE, W>(level, stride, sample, &highest);
            for l in 0..W {
                highest[l] = if is_top[l] { level[sample][l] } else { highest[l] };
            }
        }
    }
    *floor = highest;
}

/// Lists the samples that are no lower than their neighbours and may be of a lobe above `floor`.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn tops<const PLANE: bool, const W: usize>(
    level: &[[f32; W]],
    stride: usize,
    visible: &Visible,
    floor: &[f32; W],
    candidates: &mut Vec<Candidate<W>>,
) {
    let over = if PLANE { OVER_SAMPLE * OVER_SAMPLE } else { OVER_SAMPLE };
    let surely = if PLANE { SURELY * SURELY } else { SURELY };
    let under: [f32; W] = std::array::from_fn(|l| floor[l] / over);
    for run in &visible.lobe_tops {
        for sample in run.samples.clone() {
            let is_top = is_top::<PLANE, W>(level, stride, sample, &under);
            if !is_top.iter().fold(false, |any, is_top| any | is_top) {
                continue;
            }
            let column = sample - run.row * visible.columns.count;
            let mut candidate = Candidate {
                u: visible.columns.offset(column),
                v: visible.rows.offset(run.row),
                du: [0.0; W],
                dv: [0.0; W],
                estimate: [0.0; W],
            };
            let mut any = false;
            for l in 0..W {
                let at = |sample: usize| level[sample][l];
                let along_x = Sinusoid::through(at(sample - 1), at(sample), at(sample + 1));
                let mut estimate = along_x.top;
                candidate.du[l] = along_x.place;
                if PLANE {
                    let along_y = Sinusoid::through(at(sample - stride), at(sample), at(sample + stride));
                    estimate *= along_y.top / at(sample);
                    candidate.dv[l] = along_y.place;
                }
                let counts = is_top[l] & (estimate * surely > floor[l]);
                candidate.estimate[l] = if counts { estimate } else { 0.0 };
                any |= counts;
            }
            if any {
                candidates.push(candidate);
            }
        }
    }
}

/// Lanes in which a sample is above `floor` and no lower than its neighbours.
#[inline(always)]
fn is_top<const PLANE: bool, const W: usize>(
    level: &[[f32; W]],
    stride: usize,
    sample: usize,
    floor: &[f32; W],
) -> [bool; W] {
    let here = &level[sample];
    let mut is_top: [bool; W] = std::array::from_fn(|l| here[l] > floor[l]);
    if PLANE {
        if !is_top.iter().fold(false, |any, is_top| any | is_top) {
            return is_top;
        }
        for row in [sample - stride, sample, sample + stride] {
            for neighbour in &level[row - 1..row + 2] {
                for l in 0..W {
                    is_top[l] &= here[l] >= neighbour[l];
                }
            }
        }
    } else {
        let (before, after) = (&level[sample - 1], &level[sample + 1]);
        for l in 0..W {
            is_top[l] &= (here[l] >= before[l]) & (here[l] >= after[l]);
        }
    }
    is_top
}

/// c0 + c1 cos(pi t/2) + c2 sin(pi t/2) near its top.
struct Sinusoid {
    top: f32,
    /// Place of the top in samples, right to 0.003.
    place: f32,
}

impl Sinusoid {
    /// Through levels at t = -1, 0, 1, of which the middle one is no lower than the others.
    #[inline(always)]
    fn through(before: f32, here: f32, after: f32) -> Sinusoid {
        let mean = 0.5 * (before + after);
        let (cosine, sine) = (here - mean, 0.5 * (after - before));
        // The middle being highest, |sine| <= cosine; levels that are all alike have their top anywhere.
        let slope = if cosine > 0.0 { sine / cosine } else { 0.0 };
        // 2/pi times the arc tangent over -1..1.
        let place = slope * (0.5 + 0.174 * (1.0 - slope.abs()));
        Sinusoid { top: mean + (cosine * cosine + sine * sine).sqrt(), place }
    }
}
