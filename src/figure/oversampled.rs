//! A transform onto many more bins than there are elements.

use crate::figure::OVERSAMPLING;
use crate::math::{TAU, Transform, scalar};
use multiversion::multiversion;

/// A transform of few samples onto many bins: one short transform for each fraction of a bin, which stays
/// in the first-level cache where one long one would not.
#[derive(Clone, Debug)]
pub(super) struct Oversampled<const W: usize> {
    pub elements: usize,
    transform: Transform,
    length: usize,
    /// Turns by n s/bins, `[s][n]`.
    cosine: Vec<f64>,
    sine: Vec<f64>,
    re: Vec<[f64; W]>,
    im: Vec<[f64; W]>,
}

impl<const W: usize> Oversampled<W> {
    pub fn new(elements: usize) -> Oversampled<W> {
        let length = if elements == 1 { 1 } else { elements.next_power_of_two() };
        let bins = (length * OVERSAMPLING) as f64;
        let turns = (0..OVERSAMPLING).flat_map(|s| (0..elements).map(move |n| TAU * (n * s) as f64 / bins));
        let turns: Vec<f64> = turns.collect();
        Oversampled {
            elements,
            transform: Transform::new(length),
            length,
            cosine: turns.iter().map(|turn| scalar::cos(*turn)).collect(),
            sine: turns.iter().map(|turn| scalar::sin(*turn)).collect(),
            re: vec![[0.0; W]; length],
            im: vec![[0.0; W]; length],
        }
    }

    pub fn bins(&self) -> usize {
        if self.elements == 1 { 1 } else { self.length * OVERSAMPLING }
    }

    /// Field at every bin, handed over in an order of its own.
    pub fn run(
        &mut self,
        re: &[[f64; W]],
        im: &[[f64; W]],
        mut output: impl FnMut(usize, &[f64; W], &[f64; W]),
    ) {
        for s in 0..OVERSAMPLING {
            self.shifted(s, re, im);
            for q in 0..self.length {
                output(q * OVERSAMPLING + s, &self.re[q], &self.im[q]);
            }
        }
    }

    /// Power at every bin.
    pub fn run_to_power(&mut self, re: &[[f64; W]], im: &[[f64; W]], power: &mut [[f64; W]]) {
        for s in 0..OVERSAMPLING {
            self.shifted(s, re, im);
            powers(&self.re, &self.im, &mut power[s..]);
        }
    }

    /// The transform shifted by `s` parts of a bin, left in `re` and `im`.
    fn shifted(&mut self, s: usize, re: &[[f64; W]], im: &[[f64; W]]) {
        let turns = s * self.elements..(s + 1) * self.elements;
        turn((re, im), (&self.cosine[turns.clone()], &self.sine[turns]), (&mut self.re, &mut self.im));
        self.re[self.elements..].fill([0.0; W]);
        self.im[self.elements..].fill([0.0; W]);
        self.transform.run::<W>(self.re.as_flattened_mut(), self.im.as_flattened_mut());
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn turn<const W: usize>(
    (re, im): (&[[f64; W]], &[[f64; W]]),
    (cosine, sine): (&[f64], &[f64]),
    (to_re, to_im): (&mut [[f64; W]], &mut [[f64; W]]),
) {
    let turns = cosine.iter().zip(sine);
    let to = to_re.iter_mut().zip(to_im);
    for (((re, im), (cosine, sine)), (to_re, to_im)) in re.iter().zip(im).zip(turns).zip(to) {
        for l in 0..W {
            to_re[l] = re[l] * cosine - im[l] * sine;
            to_im[l] = re[l] * sine + im[l] * cosine;
        }
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn powers<const W: usize>(re: &[[f64; W]], im: &[[f64; W]], power: &mut [[f64; W]]) {
    for ((re, im), power) in re.iter().zip(im).zip(power.iter_mut().step_by(OVERSAMPLING)) {
        for l in 0..W {
            power[l] = re[l] * re[l] + im[l] * im[l];
        }
    }
}
