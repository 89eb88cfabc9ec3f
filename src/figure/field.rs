//! The channels of W units, calibrated and steered, seen from the commanded direction; and what several
//! figures share: sums, pattern, beam peak, half-power points.

use crate::array::Array;
use crate::figure::probe::{Point, Probe};
use crate::figure::scan::Scan;
use crate::figure::{Depth, Look};
use crate::math::slice;

/// Fields of W units at one look. Buffers are reused from look to look.
#[derive(Clone, Debug)]
pub struct Field<const W: usize> {
    /// Gain of each channel over its nominal, nepers, `[channel][lane]`.
    pub gain: Vec<[f64; W]>,
    /// Phase of each channel seen from the commanded direction, rad, 0 when free of error, `[channel][lane]`.
    pub phase: Vec<[f64; W]>,
    /// Contribution of each channel to the far field in the commanded direction, linear, `[channel][lane]`.
    pub(super) re: Vec<[f64; W]>,
    pub(super) im: Vec<[f64; W]>,
    /// Mean over the channels of actual over ideal excitation.
    pub(super) mean: Complex<W>,
    /// Sum of the contributions.
    pub(super) coherent: Complex<W>,
    /// Sum of their powers.
    pub(super) power: [f64; W],
    pub(super) scan: Scan<W>,
    /// Beam peak.
    pub(super) peak: Point<W>,
    /// Half-power points along the scan, on the near side and on the far side.
    pub(super) half_power: [Point<W>; 2],
    probe: Probe<W>,
}

/// A complex number for each lane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Complex<const W: usize> {
    pub re: [f64; W],
    pub im: [f64; W],
}

impl<const W: usize> Complex<W> {
    pub const ZERO: Complex<W> = Complex { re: [0.0; W], im: [0.0; W] };

    pub fn power(&self) -> [f64; W] {
        std::array::from_fn(|l| self.re[l] * self.re[l] + self.im[l] * self.im[l])
    }
}

impl<const W: usize> Field<W> {
    /// Room for units of an array.
    pub fn new(array: &Array) -> Field<W> {
        let zero = vec![[0.0; W]; array.channels()];
        Field {
            gain: zero.clone(),
            phase: zero.clone(),
            re: zero.clone(),
            im: zero.clone(),
            mean: Complex::ZERO,
            coherent: Complex::ZERO,
            power: [0.0; W],
            scan: Scan::new(&array.lattice),
            peak: Point::default(),
            half_power: [Point::default(); 2],
            probe: Probe::new(array.channels()),
        }
    }

    /// Takes what figures of a depth need from `gain` and `phase`, which the caller has set.
    pub fn take(&mut self, array: &Array, look: &Look, depth: Depth) {
        self.sum(array);
        if depth >= Depth::Pattern {
            self.scan.take(&look.visible, &self.re, &self.im);
            self.peak = self.probe.refine_peak(array, look, self.scan.main_lobe_top(), &self.re, &self.im);
        }
        if depth >= Depth::HalfPower
            && let Some(error_free) = &look.error_free.half_power
        {
            for (point, offset) in self.half_power.iter_mut().zip(error_free) {
                *point = self.probe.half_power(array, look, &self.peak, *offset, &self.re, &self.im);
            }
        }
    }

    fn sum(&mut self, array: &Array) {
        let (re, im) = (self.re.as_flattened_mut(), self.im.as_flattened_mut());
        slice::polar(self.gain.as_flattened(), self.phase.as_flattened(), re, im);
        self.mean = Complex::ZERO;
        self.coherent = Complex::ZERO;
        self.power = [0.0; W];
        for ((re, im), amplitude) in self.re.iter_mut().zip(&mut self.im).zip(&array.amplitude) {
            for l in 0..W {
                self.mean.re[l] += re[l];
                self.mean.im[l] += im[l];
                re[l] *= amplitude;
                im[l] *= amplitude;
                self.coherent.re[l] += re[l];
                self.coherent.im[l] += im[l];
                self.power[l] += re[l] * re[l] + im[l] * im[l];
            }
        }
        let share = 1.0 / array.channels() as f64;
        for l in 0..W {
            self.mean.re[l] *= share;
            self.mean.im[l] *= share;
        }
    }
}
