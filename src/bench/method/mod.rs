//! How the phase of a joined pair is found by stepping one of its shifters. One method a file; register it in the list below.
//!
//! A method asks for readings of what is joined and answers with the phase, rad, that the stepped channel
//! must add to come into phase with the rest. The docs of each state its tie, noise and plateau rule.

use crate::bench::{Bench, Code, Reading};
use crate::io::Table;
use crate::math::{LN_10, TAU, scalar};

macro_rules! methods {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; pub use $module::$Type;)*

        /// The methods a study can name.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Method { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type),* }

        impl Method {
            /// Words for `method`.
            pub const KINDS: &[(&'static str, Method)] = &[$(($Type::KIND, Method::$Type)),*];

            /// True when the method reads an evenly spread part of the codes that the study may choose.
            pub fn takes_codes(self) -> bool {
                match self { $(Method::$Type => $Type::TAKES_CODES),* }
            }

            /// Variance of the phase that the method finds, rad squared, from what a receiver adds to the readings of a pair of like
            /// channels; `None` where there is no formula.
            fn variance(self, sweep: &Sweep, readout: &Readout) -> Option<f64> {
                match self { $(Method::$Type => $Type::variance(sweep, readout)),* }
            }

            /// By how much the errors of the states that are read stand in the phase that is found, of a channel that is `angle`
            /// (rad) ahead of the other.
            fn shares(self, sweep: &Sweep, angle: f64) -> Vec<StateShare> {
                match self { $(Method::$Type => $Type::shares(sweep, angle)),* }
            }

            /// Finds the phase of what is joined, rad.
            fn solve<D: Bench<W>, const W: usize>(
                self,
                sweep: &Sweep,
                steps: Option<Steps<W>>,
                bench: &mut D,
                scratch: &mut SweepScratch<W>,
            ) -> Result<[f32; W], D::Fault> {
                match self { $(Method::$Type => $Type::solve(sweep, steps, bench, scratch)),* }
            }
        }
    };
}

mod least_squares;
mod readout;

pub use readout::{Readout, StateShare};

methods! {
    peak::Peak,
    null::Null,
    climb::Climb,
    coarse_fine::CoarseFine,
    fit::Fit,
    null_crossings::NullCrossings,
}

/// Fewest codes a sinusoid can be fitted to.
const FEWEST_CODES: u64 = 3;

/// Measured phases of the stepped shifter's states over that of code 0, rad, `[code][lane]`: what they really are in place of
/// whole steps.
pub type Steps<'a, const W: usize> = &'a [[f32; W]];

/// One shifter stepped through its codes, and the method that makes a phase of what is read.
#[derive(Clone, Debug, PartialEq)]
pub struct Sweep {
    /// How the phase is found.
    pub method: Method,
    /// Codes a full turn has.
    states: usize,
    /// Codes that are read, evenly spread.
    codes: Vec<Code>,
    /// What the power at each of them counts in the cosine and in the sine of the sinusoid: cosine and sine of its phase where they
    /// are equally spaced.
    weights: Vec<(f32, f32)>,
}

/// Room for one sweep's readings.
#[derive(Clone, Debug, Default)]
pub struct SweepScratch<const W: usize> {
    pub(in crate::bench) readings: Vec<[f32; W]>,
}

impl Sweep {
    /// Reads `codes` of a table whose `method` is known, for a shifter of `states`.
    pub(super) fn read(table: &Table, method: Method, states: usize) -> Sweep {
        if !table.is_sound("method") {
            // It may be due; asking keeps it from being called unknown.
            table.has("codes");
        } else if method.takes_codes() && states < FEWEST_CODES as usize {
            table.has("codes");
            table.error(
                table.span_of("method"),
                "the shifter has too few codes for this method",
                format!("{FEWEST_CODES} codes are needed, the shifter has {states}"),
                Some("a shifter of 2 bits or more, or another method".into()),
            );
        } else if method.takes_codes() {
            return Sweep::read_spread(table, method, states, method.usual_codes(states));
        }
        Sweep::new(method, states, states)
    }

    /// Reads `codes`, at least as many as a sinusoid needs, of `states`; `usual` where the study does not say.
    pub(super) fn read_spread(table: &Table, method: Method, states: usize, usual: usize) -> Sweep {
        let count = table.count_or("codes", FEWEST_CODES..=states as u64, usual as u64) as usize;
        Sweep::new(method, states, count)
    }

    /// A sweep of `count` of `states` codes, evenly spread: code i is i states/count, rounded to the nearest, half a code up. Where
    /// `count` divides `states` they are equally spaced, elsewhere their spacing differs by one code.
    pub fn new(method: Method, states: usize, count: usize) -> Sweep {
        let codes: Vec<Code> = (0..count).map(|i| ((2 * i * states + count) / (2 * count)) as Code).collect();
        let mut sweep = Sweep { method, states, weights: Vec::new(), codes };
        let angles: Vec<f64> = sweep.angles().collect();
        let weights = if sweep.is_equally_spaced() {
            angles.iter().map(|angle| [scalar::cos(*angle), scalar::sin(*angle)]).collect()
        } else {
            least_squares::weights(&angles)
        };
        sweep.weights = weights.into_iter().map(|[cos, sin]| (cos as f32, sin as f32)).collect();
        sweep
    }

    /// Phases of the codes that are read, in whole steps, rad.
    fn angles(&self) -> impl Iterator<Item = f64> {
        self.codes.iter().map(|code| TAU * f64::from(*code) / self.states as f64)
    }

    /// True when the codes that are read lie as far apart all around.
    pub fn is_equally_spaced(&self) -> bool {
        self.states.is_multiple_of(self.codes.len())
    }

    /// Codes that are read.
    pub fn codes(&self) -> &[Code] {
        &self.codes
    }

    /// How many codes lie between one of the codes that are read and its neighbours, below and above, around the turn.
    fn gaps(&self, code: Code) -> [Code; 2] {
        let (states, count) = (self.states as Code, self.codes.len());
        let place = self.codes.partition_point(|of| *of < code);
        let (below, above) = (self.codes[(place + count - 1) % count], self.codes[(place + 1) % count]);
        [code + states - below, above + states - code].map(|away| (away - 1) % states + 1)
    }

    /// Codes a full turn has.
    pub fn states(&self) -> usize {
        self.states
    }

    /// Mean and amplitude of the sinusoid through powers at the sweep's codes, by least squares.
    pub(in crate::bench) fn mean_and_swing(&self, powers: impl Iterator<Item = f64>) -> (f64, f64) {
        let count = self.codes.len() as f64;
        let (mut mean, mut b, mut c) = (0.0, 0.0, 0.0);
        if self.is_equally_spaced() {
            for (i, power) in powers.enumerate() {
                let (sin, cos) = scalar::sin_cos(TAU * i as f64 / count);
                mean += power / count;
                b += 2.0 * power * cos / count;
                c += 2.0 * power * sin / count;
            }
            return (mean, scalar::hypot(b, c));
        }
        let angles: Vec<f64> = self.angles().collect();
        let (mut cosines, mut sines) = (0.0, 0.0);
        for ((power, angle), [for_b, for_c]) in powers.zip(&angles).zip(least_squares::weights(&angles)) {
            let (sin, cos) = scalar::sin_cos(*angle);
            (cosines, sines) = (cosines + cos / count, sines + sin / count);
            mean += power / count;
            b += 2.0 * power * for_b / count;
            c += 2.0 * power * for_c / count;
        }
        (mean - b * cosines - c * sines, scalar::hypot(b, c))
    }

    /// Angle of the sinusoid through readings at the sweep's codes, rad; see [`Fit`].
    pub fn angle<const W: usize>(&self, readings: &[[f32; W]]) -> [f32; W] {
        fit::phase(readings, &self.weights)
    }

    /// Variance of the phase that is found, rad squared; `None` where there is no formula.
    pub fn variance(&self, readout: &Readout) -> Option<f64> {
        self.method.variance(self, readout)
    }

    /// Variance of the angle of the sinusoid through readings, rad squared, by how far they lie from it; `turn` is the phase of a code, rad.
    /// `None` where none is fitted, or there are no more readings than it needs.
    pub fn variance_by_residual(&self, readings: &[Reading], turn: impl Fn(Code) -> f64) -> Option<f64> {
        let sample = |of: &Reading| [turn(of.code), scalar::exp(f64::from(of.level_db) * (LN_10 / 10.0))];
        if self.method != Method::Fit {
            return None;
        }
        least_squares::variance_by_residual(&readings.iter().map(sample).collect::<Vec<_>>())
    }

    /// By how much errors of states stand in the phase that is found; see [`StateShare`].
    pub fn shares(&self, angle: f64) -> Vec<StateShare> {
        self.method.shares(self, angle)
    }

    /// Finds the phase of what is joined, rad.
    pub fn solve<D: Bench<W>, const W: usize>(
        &self,
        steps: Option<Steps<W>>,
        bench: &mut D,
        scratch: &mut SweepScratch<W>,
    ) -> Result<[f32; W], D::Fault> {
        self.method.solve(self, steps, bench, scratch)
    }

    /// Phases of codes, rad: what they are known to be, or whole steps.
    fn phases<const W: usize>(&self, codes: &[Code; W], steps: Option<Steps<W>>) -> [f32; W] {
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

impl Method {
    /// Whether nothing finer than a whole code is found.
    pub fn finds_whole_codes(self) -> bool {
        !matches!(self, Method::Fit | Method::NullCrossings)
    }

    /// Codes that are read where the study does not say.
    fn usual_codes(self, states: usize) -> usize {
        match self {
            Method::CoarseFine => states.min(coarse_fine::USUAL_CODES),
            _ => states,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Pair, Work};
    use crate::math::Complex;
    use std::convert::Infallible;

    #[test]
    fn codes_are_spaced_alike_to_within_one() {
        for bits in 2..=8 {
            let states = 1_usize << bits;
            for count in 3..=states {
                let sweep = Sweep::new(Method::Fit, states, count);
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
        let sweep = Sweep::new(Method::Fit, 32, 7);
        assert_eq!(sweep.codes, [0, 5, 9, 14, 18, 23, 27]);
        let readings = [3.0_f32, -0.4, -20.3, -7.7, 1.6, 4.1, 3.9].map(|db| [db]);
        let angle = |of: &Sweep| f64::from(of.angle(&readings)[0]).to_degrees();
        assert!((angle(&sweep) - -63.190_806_609_866_9).abs() < 1e-4, "{}", angle(&sweep));
        let (mean, swing) =
            sweep.mean_and_swing(readings.iter().map(|[db]| scalar::pow(10.0, f64::from(*db) / 10.0)));
        assert!(
            (mean - 1.376_173_453_605_955_6).abs() < 1e-6 && (swing - 1.333_115_163_978_077_4).abs() < 1e-6,
            "{mean} {swing}"
        );
        // The twin: the closed form of equal spacing, at these angles, is off.
        let phasor = |angle: f64| (scalar::cos(angle) as f32, scalar::sin(angle) as f32);
        let closed = Sweep { weights: sweep.angles().map(phasor).collect(), ..sweep.clone() };
        assert!((angle(&closed) - -63.190_806_609_866_9).abs() > 0.5, "{}", angle(&closed));
    }

    #[test]
    fn least_squares_of_equally_spaced_codes_are_the_closed_form() {
        for (states, count) in [(8, 4), (64, 16), (256, 256)] {
            let sweep = Sweep::new(Method::Fit, states, count);
            let angles: Vec<f64> = sweep.angles().collect();
            for ([cos, sin], angle) in least_squares::weights(&angles).iter().zip(angles) {
                assert!((cos - scalar::cos(angle)).abs() < 1e-12 && (sin - scalar::sin(angle)).abs() < 1e-12);
            }
        }
    }

    /// Two equal channels at phases of their own in each lane.
    struct OnPhases<const W: usize> {
        phase: [f64; W],
        work: Work<W>,
        readings: [u32; W],
    }

    impl<const W: usize> Bench<W> for OnPhases<W> {
        type Fault = Infallible;

        fn work(&self) -> &Work<W> {
            &self.work
        }

        fn read_each(&mut self, codes: &[Code; W], takes: &[bool; W]) -> Result<[f32; W], Infallible> {
            Ok(std::array::from_fn(|l| {
                self.readings[l] += u32::from(takes[l]);
                let turned = self.phase[l] + TAU * f64::from(codes[l]) / 32.0;
                // What is not taken means nothing.
                if takes[l] {
                    (10.0 * scalar::log10(2.0 + 2.0 * scalar::cos(turned) + 1e-9)) as f32
                } else {
                    99.0
                }
            }))
        }

        fn read_alone(
            &mut self,
            _: u32,
            _: u32,
            _: Option<&[[bool; W]]>,
            _: &mut [[f32; W]],
        ) -> Result<(), Infallible> {
            Ok(())
        }
        fn detect(&mut self, _: usize, _: u32, _: u32, _: &[bool; W]) -> Result<[f32; W], Infallible> {
            Ok([0.0; W])
        }
        fn set_attenuators(&mut self, _: &[[Code; W]]) -> Result<(), Infallible> {
            Ok(())
        }
        fn set_shifters(&mut self, _: &[[Code; W]]) -> Result<(), Infallible> {
            Ok(())
        }
        fn join(&mut self, _: Pair, _: &[bool; W]) -> Result<(), Infallible> {
            Ok(())
        }
        fn turn_reference(&mut self, _: Code) -> Result<(), Infallible> {
            Ok(())
        }
        fn join_rest(&mut self, _: usize, _: u32, _: &[bool; W]) -> Result<(), Infallible> {
            Ok(())
        }
        fn read_turned(&mut self, _: u32, _: &[bool]) -> Result<Complex<W>, Infallible> {
            Ok(Complex::ZERO)
        }
    }

    #[test]
    fn a_coarse_sweep_then_a_fine_one_finds_the_peak_whatever_the_spacing() {
        for count in 3..=32 {
            let sweep = Sweep::new(Method::CoarseFine, 32, count);
            for first in (0..32).step_by(4) {
                // The peak lies at these codes, not quite in the middle.
                let codes: [usize; 4] = std::array::from_fn(|l| first + l);
                let phase = codes.map(|code| -TAU * (code as f64 + 0.2) / 32.0);
                let mut bench = OnPhases { phase, work: Work::default(), readings: [0; 4] };
                let Ok(found) = sweep.solve(None, &mut bench, &mut SweepScratch::default());
                let expected = codes.map(|code| (TAU / 32.0) as f32 * code as f32);
                assert_eq!(found, expected, "{count} codes");
                for (l, readings) in bench.readings.into_iter().enumerate() {
                    let few = (count + 2 * (32 / count - 1)) as u32;
                    let many = (count + 2 * (32_usize.div_ceil(count) - 1)) as u32;
                    assert!((few..=many).contains(&readings), "{count} codes, lane {l}: {readings}");
                }
            }
        }
    }
}
