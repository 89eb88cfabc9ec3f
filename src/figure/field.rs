//! The channels of W units, calibrated and steered, seen from the commanded direction; and what several
//! figures share: sums, pattern, beam peak, side lobes, half-power points.

use crate::array::Array;
use crate::figure::lobes::Lobes;
use crate::figure::probe::{self, Point, Room, Source};
use crate::figure::residuals::Residuals;
use crate::figure::scan::Scan;
use crate::figure::{Depth, Look};
use crate::math::{Complex, Lanes, single};
use multiversion::multiversion;

/// Fields of W units at one look. Buffers are reused from look to look.
#[derive(Clone, Debug)]
pub struct Field<const W: usize> {
    /// Gain of each channel over its nominal, nepers, size below 80, `[channel][lane]`.
    pub gain: Vec<[f32; W]>,
    /// Phase of each channel seen from the commanded direction, rad, 0 when free of error, size below 100,
    /// `[channel][lane]`.
    pub phase: Vec<[f32; W]>,
    /// Contribution of each channel to the far field in the commanded direction, linear, `[channel][lane]`.
    pub(super) re: Vec<[f32; W]>,
    pub(super) im: Vec<[f32; W]>,
    pub(super) sums: Sums<W>,
    pub(super) residuals: Residuals<W>,
    /// Beam peak.
    pub(super) peak: Point<W>,
    /// Height of the highest side lobe, linear power.
    pub(super) side_top: [f64; W],
    /// Mean power over the side-lobe region.
    pub(super) side_mean: [f64; W],
    /// Half-power points along the scan, on the near side and on the far side.
    pub(super) half_power: [Point<W>; 2],
    amplitude: Vec<f32>,
    scan: Scan<W>,
    lobes: Lobes<W>,
    room: Room<W>,
}

/// Sums over the channels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sums<const W: usize> {
    /// Actual over ideal excitation, real and imaginary part.
    pub ratio: [[f64; W]; 2],
    /// The contributions, real and imaginary part.
    pub coherent: [[f64; W]; 2],
    /// Their powers.
    pub power: [f64; W],
}

impl<const W: usize> Sums<W> {
    const ZERO: Sums<W> = Sums { ratio: [[0.0; W]; 2], coherent: [[0.0; W]; 2], power: [0.0; W] };

    /// Power radiated in the commanded direction.
    pub fn coherent_power(&self) -> [f64; W] {
        let [re, im] = &self.coherent;
        std::array::from_fn(|l| re[l] * re[l] + im[l] * im[l])
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
            im: zero,
            sums: Sums::ZERO,
            residuals: Residuals::default(),
            peak: Point::default(),
            side_top: [0.0; W],
            side_mean: [0.0; W],
            half_power: [Point::default(); 2],
            amplitude: array.amplitude.iter().map(|amplitude| *amplitude as f32).collect(),
            scan: Scan::new(&array.lattice),
            lobes: Lobes::new(),
            room: Room::new(array),
        }
    }

    /// Takes what figures of a depth need from `gain` and `phase`, which the caller has set.
    pub fn take(&mut self, array: &Array, look: &Look, depth: Depth) {
        contribute(&self.gain, &self.phase, &self.amplitude, &mut self.re, &mut self.im, &mut self.sums);
        if depth.residuals {
            self.residuals.take(&self.gain, &self.phase, &self.sums.ratio);
        }
        if !depth.pattern {
            return;
        }
        let visible = &look.visible;
        let source = Source { array, look, re: &self.re, im: &self.im };
        self.scan.take(visible, source.re, source.im);
        let start = self.scan.main_lobe_top(visible);
        self.peak = probe::climb(&source, &mut self.room, &start, probe::TO_PEAK);
        if depth.side_lobes && visible.has_side_lobes() {
            self.lobes.search(&source, &mut self.room, &self.scan);
            self.side_top = self.lobes.top;
        }
        if depth.side_mean {
            self.side_mean = self.scan.mean_side_level(visible);
        }
        if depth.half_power
            && let Some(error_free) = &look.error_free.half_power
        {
            for (point, offset) in self.half_power.iter_mut().zip(error_free) {
                *point = probe::half_power(&source, &mut self.room, &self.peak, *offset);
            }
        }
    }
}

/// Channels summed in single precision before they join the sums in double.
const BLOCK: usize = 8;

/// Contributions of the channels and sums over them.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn contribute<const W: usize>(
    gain: &[[f32; W]],
    phase: &[[f32; W]],
    amplitude: &[f32],
    re: &mut [[f32; W]],
    im: &mut [[f32; W]],
    sums: &mut Sums<W>,
) {
    *sums = Sums::ZERO;
    let inputs = gain.chunks(BLOCK).zip(phase.chunks(BLOCK)).zip(amplitude.chunks(BLOCK));
    let outputs = re.chunks_mut(BLOCK).zip(im.chunks_mut(BLOCK));
    for (((gain, phase), amplitude), (re, im)) in inputs.zip(outputs) {
        let mut ratio = Complex::ZERO;
        let mut coherent = Complex::ZERO;
        let mut power = Lanes::ZERO;
        let rows = gain.iter().zip(phase).zip(amplitude).zip(re.iter_mut().zip(im));
        for (((gain, phase), amplitude), (re, im)) in rows {
            let mut actual = Complex::ZERO;
            for l in 0..W {
                let magnitude = single::exp(gain[l]);
                let (sine, cosine) = single::sin_cos(phase[l]);
                (actual.re.0[l], actual.im.0[l]) = (magnitude * cosine, magnitude * sine);
            }
            let fed = actual * *amplitude;
            ratio += actual;
            coherent += fed;
            power += fed.power();
            (*re, *im) = (fed.re.0, fed.im.0);
        }
        for l in 0..W {
            sums.ratio[0][l] += f64::from(ratio.re.0[l]);
            sums.ratio[1][l] += f64::from(ratio.im.0[l]);
            sums.coherent[0][l] += f64::from(coherent.re.0[l]);
            sums.coherent[1][l] += f64::from(coherent.im.0[l]);
            sums.power[l] += f64::from(power.0[l]);
        }
    }
}
