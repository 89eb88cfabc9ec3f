//! One shifter stepped through some of its codes, and the sinusoid through the readings.

use super::{StateShare, least_squares, sinusoid};
#[cfg(test)]
use crate::bench::Reading;
use crate::bench::align::{CODES, METHOD};
use crate::bench::receiver::NEPERS_A_DB_OF_POWER;
use crate::bench::{Bench, Code};
use crate::chain::MOST_BITS;
use crate::io::{Count, Key, Optional, Table};
#[cfg(test)]
use crate::math::LN_10;
use crate::math::{TAU, scalar, single};
use multiversion::multiversion;

/// Fewest codes a sinusoid can be fitted to.
const FEWEST_CODES: u64 = 3;

/// A key that takes the number of codes that are read.
pub(in crate::bench) const fn codes(example: &'static str, about: &'static str) -> Key<Optional<Count>> {
    Key::count("codes", FEWEST_CODES..=1 << MOST_BITS, example, about).optional()
}

/// Measured phases of the stepped shifter's states over that of code 0, rad, `[code][lane]`: in place of
/// whole steps.
pub(crate) type Steps<'a, const W: usize> = &'a [[f32; W]];

/// One shifter stepped through codes that are evenly spread over a turn.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Sweep {
    /// Codes a full turn has.
    pub(super) states: usize,
    /// Codes that are read, evenly spread.
    pub(super) codes: Vec<Code>,
    /// Weight of the power at each of them in the cosine and in the sine of the sinusoid: cosine and sine of its phase where they
    /// are equally spaced.
    weights: Vec<(f32, f32)>,
    /// The same in double precision, and what the mean of the sinusoid is off that of the powers, for each part of it.
    exact_weights: Vec<[f64; 2]>,
    off_mean: [f64; 2],
}

/// Room for one sweep's readings.
#[derive(Clone, Debug, Default)]
pub(crate) struct SweepScratch<const W: usize> {
    pub(in crate::bench) readings: Vec<[f32; W]>,
}

impl Sweep {
    /// Reads `codes` for a shifter of `states`, at least as many as a sinusoid needs; `usual` where the study does not say.
    pub(in crate::bench) fn read(table: &Table, states: usize, usual: usize) -> Sweep {
        if states < FEWEST_CODES as usize {
            table.has(CODES);
            table.error(
                table.span_of(METHOD),
                "the shifter has too few codes for this method",
                format!("{FEWEST_CODES} codes are needed, the shifter has {states}"),
                Some("a shifter of 2 bits or more, or another method".into()),
            );
            return Sweep::new(states, states);
        }
        Sweep::read_spread(table, &CODES, states, usual)
    }

    /// The same for a shifter that is known to have codes enough.
    pub(in crate::bench) fn read_spread(
        table: &Table,
        key: &Key<Optional<Count>>,
        states: usize,
        usual: usize,
    ) -> Sweep {
        let count = table.read(&key.up_to(states as u64));
        Sweep::new(states, count.map_or(usual, |count| count as usize))
    }

    /// A sweep of `count` of `states` codes, evenly spread: code i is i states/count, rounded to the nearest, half a code up. Where
    /// `count` divides `states` they are equally spaced, elsewhere their spacing differs by one code.
    pub(crate) fn new(states: usize, count: usize) -> Sweep {
        let codes: Vec<Code> = (0..count).map(|i| ((2 * i * states + count) / (2 * count)) as Code).collect();
        let (weights, exact_weights) = (Vec::new(), Vec::new());
        let mut sweep = Sweep { states, weights, exact_weights, off_mean: [0.0; 2], codes };
        let angles: Vec<f64> = sweep.angles().collect();
        let phasors: Vec<[f64; 2]> =
            angles.iter().map(|angle| [scalar::cos(*angle), scalar::sin(*angle)]).collect();
        if sweep.is_equally_spaced() {
            sweep.exact_weights = phasors;
        } else {
            sweep.exact_weights = least_squares::weights(&angles);
            sweep.off_mean = [0, 1].map(|part| phasors.iter().map(|of| of[part] / count as f64).sum());
        }
        sweep.weights = sweep.exact_weights.iter().map(|[cos, sin]| (*cos as f32, *sin as f32)).collect();
        sweep
    }

    /// Phases of the codes that are read, in whole steps, rad.
    fn angles(&self) -> impl Iterator<Item = f64> {
        self.codes.iter().map(|code| TAU * f64::from(*code) / self.states as f64)
    }

    /// True when the codes that are read are equally spaced over the turn.
    pub(crate) fn is_equally_spaced(&self) -> bool {
        self.states.is_multiple_of(self.codes.len())
    }

    /// Codes that are read.
    pub(crate) fn codes(&self) -> &[Code] {
        &self.codes
    }

    /// Steps from one of the codes that are read to its neighbours, below and above, around the turn.
    pub(super) fn gaps(&self, code: Code) -> [Code; 2] {
        let (states, count) = (self.states as Code, self.codes.len());
        let place = self.codes.partition_point(|of| *of < code);
        let (below, above) = (self.codes[(place + count - 1) % count], self.codes[(place + 1) % count]);
        [code + states - below, above + states - code].map(|away| (away - 1) % states + 1)
    }

    /// Codes a full turn has.
    pub(crate) fn states(&self) -> usize {
        self.states
    }

    /// Mean and amplitude of the sinusoid through the powers of readings at the sweep's codes, dB, `[code][lane]`, by least squares.
    pub(in crate::bench) fn mean_and_swing<const W: usize>(&self, readings: &[[f32; W]]) -> [(f64, f64); W] {
        let [mean, b, c] = sums(readings, &self.exact_weights);
        let [of_b, of_c] = self.off_mean;
        std::array::from_fn(|l| (mean[l] - b[l] * of_b - c[l] * of_c, scalar::hypot(b[l], c[l])))
    }

    /// Angle of the sinusoid through readings at the sweep's codes, rad; see [`Fit`](super::Fit).
    pub(in crate::bench) fn angle<const W: usize>(&self, readings: &[[f32; W]]) -> [f32; W] {
        sinusoid::phase(readings, &self.weights)
    }

    /// Reads at the sweep's codes, into `scratch`, and gives the angle of the sinusoid through the powers, rad.
    pub(in crate::bench) fn fit<D: Bench<W>, const W: usize>(
        &self,
        steps: Option<Steps<W>>,
        bench: &mut D,
        scratch: &mut SweepScratch<W>,
    ) -> Result<[f32; W], D::Fault> {
        scratch.readings.resize(self.codes.len(), [0.0; W]);
        bench.sweep(&self.codes, &mut scratch.readings)?;
        Ok(match steps {
            None => self.angle(&scratch.readings),
            Some(steps) => least_squares::phase(&scratch.readings, &self.codes, steps),
        })
    }

    /// By how much the errors of the states that are read stand in the angle of the sinusoid, of a channel that is `angle` (rad)
    /// ahead of the other.
    ///
    /// Formula: with t the angle of a state, its phase error stands with 2/K sin^2 t in the phase that is found, its gain error
    /// with -2/K sin t (1 + cos t). Source: derivative of the angle of the two sums by one power; own derivation.
    pub(in crate::bench) fn shares(&self, angle: f64) -> Vec<StateShare> {
        let count = self.codes.len() as f64;
        let share = |code: &Code| {
            let (sin, cos) = scalar::sin_cos(angle + TAU * f64::from(*code) / self.states as f64);
            StateShare { code: *code, phase: 2.0 / count * sin * sin, gain: -2.0 / count * sin * (1.0 + cos) }
        };
        self.codes.iter().map(share).collect()
    }

    /// Samples of a sweep as a fit takes them, `[rad, power]`; `turn` is the phase of a code, rad.
    #[cfg(test)]
    pub(in crate::bench) fn samples(readings: &[Reading], turn: impl Fn(Code) -> f64) -> Vec<[f64; 2]> {
        let sample = |of: &Reading| [turn(of.code), scalar::exp(f64::from(of.level_db) * (LN_10 / 10.0))];
        readings.iter().map(sample).collect()
    }

    /// Phases of codes, rad: as measured, or whole steps.
    pub(super) fn phases<const W: usize>(&self, codes: &[Code; W], steps: Option<Steps<W>>) -> [f32; W] {
        let step = (TAU / self.states as f64) as f32;
        let mut phases = [0.0; W];
        for l in 0..W {
            phases[l] = match steps {
                None => step * (codes[l] as i32 as f32),
                Some(steps) => steps[codes[l] as usize][l],
            };
        }
        phases
    }
}

/// Mean of the powers, and twice the mean of their products with the weights.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn sums<const W: usize>(readings: &[[f32; W]], weights: &[[f64; 2]]) -> [[f64; W]; 3] {
    let count = readings.len() as f64;
    let mut sums = [[0.0; W]; 3];
    let [mean, b, c] = &mut sums;
    for (reading, [for_b, for_c]) in readings.iter().zip(weights) {
        for l in 0..W {
            let power = f64::from(single::exp(NEPERS_A_DB_OF_POWER * reading[l]));
            mean[l] += power / count;
            b[l] += 2.0 * power * for_b / count;
            c[l] += 2.0 * power * for_c / count;
        }
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_spaced_alike_to_within_one() {
        for bits in 2..=8 {
            let states = 1_usize << bits;
            for count in 3..=states {
                let sweep = Sweep::new(states, count);
                let next = sweep.codes.iter().skip(1).copied().chain([states as Code]);
                let gaps = sweep.codes.iter().zip(next).map(|(code, next)| (next - code) as usize);
                assert!(gaps.clone().all(|gap| gap == states / count || gap == states.div_ceil(count)));
                assert_eq!((sweep.codes[0], gaps.sum::<usize>()), (0, states));
                for code in &sweep.codes {
                    let [below, above] = sweep.gaps(*code);
                    let is_read = |code: Code| sweep.codes.contains(&(code % states as Code));
                    assert!(is_read(code + states as Code - below) && is_read(code + above));
                    assert!((1..above).all(|away| !is_read(code + away)));
                }
            }
        }
    }

    /// NumPy 2.4.6: np.linalg.lstsq on columns 1, cos, sin at the angles of codes 0, 5, 9, 14, 18, 23, 27 of 32.
    #[test]
    fn a_sinusoid_through_codes_that_are_not_equally_spaced() {
        let sweep = Sweep::new(32, 7);
        assert_eq!(sweep.codes, [0, 5, 9, 14, 18, 23, 27]);
        let readings = [3.0_f32, -0.4, -20.3, -7.7, 1.6, 4.1, 3.9].map(|db| [db]);
        let angle = |of: &Sweep| f64::from(of.angle(&readings)[0]).to_degrees();
        assert!((angle(&sweep) - -63.190_806_609_866_9).abs() < 1e-4, "{}", angle(&sweep));
        let [(mean, swing)] = sweep.mean_and_swing(&readings);
        assert!(
            (mean - 1.376_173_453_605_955_6).abs() < 1e-6 && (swing - 1.333_115_163_978_077_4).abs() < 1e-6,
            "{mean} {swing}"
        );
        // For contrast: the closed form of equal spacing, at these angles, is off.
        let phasor = |angle: f64| (scalar::cos(angle) as f32, scalar::sin(angle) as f32);
        let closed = Sweep { weights: sweep.angles().map(phasor).collect(), ..sweep.clone() };
        assert!((angle(&closed) - -63.190_806_609_866_9).abs() > 0.5, "{}", angle(&closed));
    }

    #[test]
    fn least_squares_of_equally_spaced_codes_are_the_closed_form() {
        for (states, count) in [(8, 4), (64, 16), (256, 256)] {
            let sweep = Sweep::new(states, count);
            let angles: Vec<f64> = sweep.angles().collect();
            for ([cos, sin], angle) in least_squares::weights(&angles).iter().zip(angles) {
                assert!((cos - scalar::cos(angle)).abs() < 1e-12 && (sin - scalar::sin(angle)).abs() < 1e-12);
            }
        }
    }
}
