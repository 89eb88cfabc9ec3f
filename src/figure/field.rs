//! The channels of W units, calibrated and steered, seen from the commanded direction; and what several
//! figures share: sums, pattern, beam peak, side lobes, half-power points.

use crate::array::Array;
use crate::figure::angles::{angle_between, scan_angles};
use crate::figure::lobes::Lobes;
use crate::figure::probe::{self, Point, Room, Source};
use crate::figure::residuals::{self, Residuals};
use crate::figure::scan::Scan;
use crate::figure::{BeamPoint, Depth, decibels};
use crate::math::single;
use multiversion::multiversion;

/// Fields of W units at one beam point. Buffers are reused from point to point.
#[derive(Clone, Debug)]
pub(crate) struct Field<const W: usize> {
    /// Gain of each channel over its nominal, nepers, size below 80, `[channel][lane]`.
    pub gain: Vec<[f32; W]>,
    /// Phase of each channel seen from the commanded direction, rad, 0 when free of error, size below 100,
    /// `[channel][lane]`.
    pub phase: Vec<[f32; W]>,
    /// Channels that are dead, whatever couples through their elements, `[channel][lane]`; empty where all live.
    pub dead: Vec<[bool; W]>,
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
    pub(super) fn coherent_power(&self) -> [f64; W] {
        let [re, im] = &self.coherent;
        std::array::from_fn(|l| re[l] * re[l] + im[l] * im[l])
    }
}

impl<const W: usize> Field<W> {
    /// Room for units of an array.
    pub(crate) fn new(array: &Array) -> Field<W> {
        let zero = vec![[0.0; W]; array.channels()];
        Field {
            gain: zero.clone(),
            phase: zero.clone(),
            dead: Vec::new(),
            re: zero.clone(),
            im: zero,
            sums: Sums::ZERO,
            residuals: Residuals::default(),
            peak: Point::default(),
            side_top: [0.0; W],
            side_mean: [0.0; W],
            half_power: [Point::default(); 2],
            amplitude: array.amplitude.iter().map(|amplitude| *amplitude as f32).collect(),
            scan: Scan::new(),
            lobes: Lobes::new(),
            room: Room::new(array),
        }
    }

    /// Residual error of each live channel in one lane, the factor common to all taken out: its number, gain (nepers) and phase
    /// (rad).
    pub(crate) fn left(&self, lane: usize) -> impl Iterator<Item = (usize, [f64; 2])> + '_ {
        residuals::of_live(&self.gain, &self.phase, &self.dead, &self.sums.ratio, lane)
    }

    /// Level of the highest side lobe over the beam peak, dB.
    pub(crate) fn side_lobe(&self) -> [f64; W] {
        decibels(&self.side_top, &self.peak.level)
    }

    /// Half-power beamwidth along the scan, through the unit's own peak, rad.
    pub(super) fn beamwidth(&self, point: &BeamPoint) -> [f64; W] {
        let [near, far] = &self.half_power;
        angle_between(&near.directions(point), &far.directions(point))
    }

    /// Angles from the error-free beam peak to the unit's, along the scan and across it, rad.
    pub(super) fn peak_shift(&self, point: &BeamPoint) -> [[f64; W]; 2] {
        let from = point.error_free.peak.map(|cosine| [cosine; W]);
        scan_angles(&from, &self.peak.directions(point), point.along)
    }

    /// Takes the parts that figures of a depth need from `gain` and `phase`, which the caller has set.
    pub(crate) fn take(&mut self, array: &Array, point: &BeamPoint, depth: Depth) {
        contribute(&self.gain, &self.phase, &self.amplitude, &mut self.re, &mut self.im, &mut self.sums);
        if depth.residuals {
            let (gain, phase, ratio) = (&self.gain, &self.phase, &self.sums.ratio);
            if self.dead.is_empty() {
                self.residuals.take(gain, phase, ratio);
            } else {
                self.residuals.take_living(gain, phase, &self.dead, ratio);
            }
        }
        if !depth.pattern {
            return;
        }
        let visible = &point.visible;
        let source = Source { array, beam_point: point, re: &self.re, im: &self.im };
        self.scan.take(visible, depth.side_lobes | depth.side_mean, source.re, source.im);
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
            && let Some(error_free) = &point.error_free.half_power
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
        polar(gain.as_flattened(), phase.as_flattened(), re.as_flattened_mut(), im.as_flattened_mut());
        let mut part = [[0.0f32; W]; 5];
        let [ratio_re, ratio_im, coherent_re, coherent_im, power] = &mut part;
        for ((re, im), amplitude) in re.iter_mut().zip(im).zip(amplitude) {
            for l in 0..W {
                ratio_re[l] += re[l];
                ratio_im[l] += im[l];
                let (fed_re, fed_im) = (re[l] * amplitude, im[l] * amplitude);
                coherent_re[l] += fed_re;
                coherent_im[l] += fed_im;
                power[l] += fed_re * fed_re + fed_im * fed_im;
                (re[l], im[l]) = (fed_re, fed_im);
            }
        }
        for l in 0..W {
            sums.ratio[0][l] += f64::from(part[0][l]);
            sums.ratio[1][l] += f64::from(part[1][l]);
            sums.coherent[0][l] += f64::from(part[2][l]);
            sums.coherent[1][l] += f64::from(part[3][l]);
            sums.power[l] += f64::from(part[4][l]);
        }
    }
}

/// exp(gain + j phase). In two passes, each of which leaves the constants of its kernel in the registers.
#[inline(always)]
fn polar(gain: &[f32], phase: &[f32], re: &mut [f32], im: &mut [f32]) {
    for (magnitude, gain) in re.iter_mut().zip(gain) {
        *magnitude = single::exp(*gain);
    }
    for ((re, im), phase) in re.iter_mut().zip(im).zip(phase) {
        (*re, *im) = single::polar(*re, *phase);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::array::{Element, Layout, Taper, layout, taper};
    use crate::figure::AtFrequency;

    /// Numbers without structure, from the fractional parts of multiples of an irrational.
    fn scatter(n: usize, lane: usize, of: f64) -> f32 {
        (((n as f64 + 37.0 * lane as f64) * of).fract() - 0.5) as f32
    }

    fn field<const W: usize>(array: &Array, point: &BeamPoint, first: usize, phase: f32) -> Field<W> {
        let mut field = Field::new(array);
        for n in 0..array.channels() {
            field.gain[n] = std::array::from_fn(|l| 0.3 * scatter(n, first + l, 0.618_033_988_75));
            field.phase[n] = std::array::from_fn(|l| phase * scatter(n, first + l, 0.754_877_666_25));
        }
        field.take(array, point, Depth::ALL);
        field
    }

    fn bits<const W: usize>(field: &Field<W>, l: usize) -> Vec<u64> {
        let [near, far] = &field.half_power;
        let points = [&field.peak, near, far].map(|point| [point.u[l], point.v[l], point.level[l]]);
        let r = &field.residuals;
        let sums = [field.side_top[l], field.side_mean[l], field.sums.power[l], field.sums.ratio[0][l]];
        let residuals = [r.gain_rms[l], r.gain_max[l], r.phase_rms[l], r.phase_max[l]];
        let contributions = field.re.iter().zip(&field.im).flat_map(|(re, im)| [re[l], im[l]].map(f64::from));
        let levels = points.into_iter().flatten().chain(sums).chain(residuals);
        levels.chain(contributions).map(f64::to_bits).collect()
    }

    fn arrays() -> Vec<Array> {
        let line = |count, spacing| Layout::Linear(layout::Linear { count, spacing });
        let plane = Layout::Rectangular(layout::Rectangular {
            columns: 7,
            rows: 6,
            column_spacing: 0.015,
            row_spacing: 0.017,
        });
        let triangular = Layout::Triangular(layout::Triangular {
            columns: 7,
            rows: 6,
            column_spacing: 0.017,
            row_spacing: 0.015,
        });
        let ring = Layout::Ring(layout::Ring { count: 41, radius: 0.1 });
        let uniform = Taper::Uniform(taper::Uniform);
        let array = |layout: &Layout, exponent| Array::new(layout, &uniform, Element { exponent });
        vec![
            array(&line(64, 0.015), 0.0),
            array(&line(23, 0.021), 0.7),
            array(&plane, 0.0),
            array(&plane, 0.6),
            array(&triangular, 0.0),
            array(&triangular, 0.6),
            array(&ring, 0.0),
            array(&ring, 0.8),
        ]
    }

    #[test]
    fn the_width_does_not_matter() {
        for array in arrays() {
            let toward = crate::array::Direction::from_angles(0.5, 0.3);
            let point = BeamPoint::new(&array, 0, toward, 0.3, None, 10e9, &AtFrequency::new(&array, 10.2e9));
            // Errors of a calibrated unit, and such that the beam has lost its shape.
            for phase in [0.4, 4.0] {
                let all = field::<16>(&array, &point, 0, phase);
                for l in 0..16 {
                    assert_eq!(bits(&all, l), bits(&field::<1>(&array, &point, l, phase), 0), "lane {l}");
                }
            }
        }
    }

    #[test]
    fn what_is_made_again_for_each_batch_is_the_same() {
        for array in arrays() {
            let toward = crate::array::Direction::from_angles(0.5, 0.3);
            let kept = BeamPoint::new(&array, 0, toward, 0.3, None, 10e9, &AtFrequency::new(&array, 10.2e9));
            let mut made = kept.clone();
            made.give_up_tables();
            assert_eq!(made.table_bytes(), 0);
            assert_eq!(kept.table_bytes() > 0, array.element.exponent > 0.0);
            let (kept, made) = (field::<16>(&array, &kept, 0, 0.4), field::<16>(&array, &made, 0, 0.4));
            assert_eq!(bits(&kept, 1), bits(&made, 1));
        }
    }

    /// The level at the peak and at every sample against a sum in double precision over the same inputs.
    #[test]
    fn levels_are_those_of_a_sum_in_double_precision() {
        use crate::math::scalar;
        for array in arrays() {
            let toward = crate::array::Direction::from_angles(0.5, 0.3);
            let point = BeamPoint::new(&array, 0, toward, 0.3, None, 10e9, &AtFrequency::new(&array, 10e9));
            let field = field::<16>(&array, &point, 0, 0.4);
            let direct = |l: usize, u: f64, v: f64| {
                let (mut a, mut b) = (0.0, 0.0);
                for n in 0..array.channels() {
                    let way = point.wavenumber * (array.x[n] * u + array.y[n] * v);
                    let (sine, cosine) = scalar::sin_cos(f64::from(field.phase[n][l]) + way);
                    let size = array.amplitude[n] * scalar::exp(f64::from(field.gain[n][l]));
                    (a, b) = (a + size * cosine, b + size * sine);
                }
                let direction = crate::array::Direction { u: toward.u + u, v: toward.v + v };
                (a * a + b * b) * array.element.power(direction)
            };
            for l in 0..4 {
                let peak = &field.peak;
                let expected = direct(l, peak.u[l], peak.v[l]);
                assert!((peak.level[l] / expected - 1.0).abs() < 1e-6, "{} not {expected}", peak.level[l]);
                // A thousandth of the beamwidth to either side it is lower.
                assert!(direct(l, peak.u[l] + 1e-4, peak.v[l]) < expected);
                assert!(direct(l, peak.u[l] - 1e-4, peak.v[l]) < expected);
                let (columns, rows) = (&point.visible.columns, &point.visible.rows);
                for sample in (0..columns.count * rows.count).step_by(5) {
                    let (u, v) =
                        (columns.offset(sample % columns.count), rows.offset(sample / columns.count));
                    let expected = direct(l, u, v);
                    let error = f64::from(field.scan.level[sample][l]).sqrt() - expected.sqrt();
                    assert!(error.abs() < 1e-6 * peak.level[l].sqrt(), "sample {sample}: off by {error}");
                }
            }
        }
    }
}
