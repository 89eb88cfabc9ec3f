//! How the phase of a pair is found by stepping one of its shifters. One method a file; register it in the list below.
//!
//! A method reads the pair through a [`Bench`] and gives the phase, rad, that the stepped channel must add to be in phase with the
//! other. The docs of each state its rule for ties, noise and plateaus.

mod caution;
mod least_squares;
mod readout;
mod sinusoid;
mod sweep;

pub(crate) use caution::Caution;
pub(crate) use readout::{Readout, StateShare};
pub(super) use sweep::codes;
pub(crate) use sweep::{Steps, Sweep, SweepScratch};

use crate::bench::align::{CODES, METHOD};
use crate::bench::{Bench, Receiver};
use crate::io::Table;

/// A way to find the phase of a pair, with its formulas and its words.
trait PairMethod {
    /// Word for `method`.
    const KIND: &'static str;
    /// It reads an evenly spread part of the codes, which the study may choose.
    const TAKES_CODES: bool = false;
    /// It finds nothing finer than a whole code.
    const FINDS_WHOLE_CODES: bool = true;
    /// How many codes it reads depends on the readings.
    const LENGTH_VARIES: bool = false;

    /// Codes that are read of a shifter of `states` where the study does not say.
    fn usual_codes(states: usize) -> usize {
        states
    }

    /// Finds the phase of the pair, rad.
    fn solve<D: Bench<W>, const W: usize>(
        sweep: &Sweep,
        steps: Option<Steps<W>>,
        bench: &mut D,
        scratch: &mut SweepScratch<W>,
    ) -> Result<[f32; W], D::Fault>;

    /// Variance of the phase, rad squared, by the noise of a receiver on readings of a pair of like channels; `None` where there is
    /// no formula.
    fn variance(_: &Sweep, _: &Readout) -> Option<f64> {
        None
    }

    /// Variance of the phase, rad squared, by the residuals of powers about the sinusoid through them, `[rad, power]`; `None` where none is
    /// fitted, or there are no more readings than it needs.
    #[cfg(test)]
    fn variance_by_residual(_: &[[f64; 2]]) -> Option<f64> {
        None
    }

    /// By how much the errors of the states that are read stand in the phase, of a channel that is `angle` (rad) ahead of the other.
    fn shares(sweep: &Sweep, angle: f64) -> Vec<StateShare>;

    /// Why a receiver does not suit it, the shifter's step being `step` rad.
    fn caution(_: f64, _: &Receiver) -> Option<Caution> {
        None
    }

    /// In a sentence, after "by", with the number of codes read: "a sinusoid fitted to 8 codes".
    fn title(codes: usize) -> String;

    /// The codes that a bench sheet has the shifter set to, from the list of them.
    fn stepping(codes: &str) -> String {
        format!("codes {codes}")
    }

    /// For a bench sheet: the result, taken from the levels.
    const RESULT: &'static str;
}

macro_rules! methods {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; pub(crate) use $module::$Type;)*

        /// The methods a study can name.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(crate) enum Method { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type),* }

        impl Method {
            /// Words for `method`.
            pub(crate) const KINDS: &[(&'static str, Method)] = &[$(($Type::KIND, Method::$Type)),*];

            /// True when the method reads an evenly spread part of the codes that the study may choose.
            pub(crate) fn takes_codes(self) -> bool {
                match self { $(Method::$Type => $Type::TAKES_CODES),* }
            }

            /// True when nothing finer than a whole code is found.
            pub(crate) fn finds_whole_codes(self) -> bool {
                match self { $(Method::$Type => $Type::FINDS_WHOLE_CODES),* }
            }

            /// True when the number of codes that are read depends on the readings.
            pub(crate) fn length_varies(self) -> bool {
                match self { $(Method::$Type => $Type::LENGTH_VARIES),* }
            }

            fn usual_codes(self, states: usize) -> usize {
                match self { $(Method::$Type => $Type::usual_codes(states)),* }
            }

            /// Finds the phase of the pair, rad; `steps` are the measured phases of the shifter's states, where there are any.
            ///
            /// # Errors
            /// The fault of the bench.
            pub(crate) fn solve<D: Bench<W>, const W: usize>(
                self,
                sweep: &Sweep,
                steps: Option<Steps<W>>,
                bench: &mut D,
                scratch: &mut SweepScratch<W>,
            ) -> Result<[f32; W], D::Fault> {
                match self { $(Method::$Type => $Type::solve(sweep, steps, bench, scratch)),* }
            }

            /// Variance of the phase that is found, rad squared, by the noise of a receiver on readings of a pair of like channels;
            /// `None` where there is no formula.
            pub(crate) fn variance(self, sweep: &Sweep, readout: &Readout) -> Option<f64> {
                match self { $(Method::$Type => $Type::variance(sweep, readout)),* }
            }

            /// Variance of the phase that is found, rad squared, by the residuals of powers about the sinusoid through them, `[rad, power]`;
            /// `None` where none is fitted, or there are no more readings than it needs.
            #[cfg(test)]
            pub(crate) fn variance_by_residual(self, samples: &[[f64; 2]]) -> Option<f64> {
                match self { $(Method::$Type => $Type::variance_by_residual(samples)),* }
            }

            /// By how much the errors of the states that are read stand in the phase that is found, of a channel that is `angle`
            /// (rad) ahead of the other.
            pub(crate) fn shares(self, sweep: &Sweep, angle: f64) -> Vec<StateShare> {
                match self { $(Method::$Type => $Type::shares(sweep, angle)),* }
            }

            /// Why a receiver does not suit the method, where the shifter's step is `step` rad.
            pub(crate) fn caution(self, step: f64, receiver: &Receiver) -> Option<Caution> {
                match self { $(Method::$Type => $Type::caution(step, receiver)),* }
            }

            /// For people, with the number of codes read: "a sinusoid fitted to 8 codes".
            pub(crate) fn title(self, codes: usize) -> String {
                match self { $(Method::$Type => $Type::title(codes)),* }
            }

            /// For a bench sheet: the codes that the shifter is set to, from the list of them.
            pub(crate) fn stepping(self, codes: &str) -> String {
                match self { $(Method::$Type => $Type::stepping(codes)),* }
            }

            /// For a bench sheet: the result, taken from the levels.
            pub(crate) fn result(self) -> &'static str {
                match self { $(Method::$Type => $Type::RESULT),* }
            }
        }
    };
}

methods! {
    peak::Peak,
    null::Null,
    climb::Climb,
    coarse_fine::CoarseFine,
    fit::Fit,
    null_crossings::NullCrossings,
}

impl Method {
    /// Reads `codes` of a table whose `method` is this one, for a shifter of `states`.
    pub(super) fn read_sweep(self, table: &Table, states: usize) -> Sweep {
        if !table.is_sound(METHOD) {
            // It may be expected; asking keeps it from being called unknown.
            table.has(CODES);
        } else if self.takes_codes() {
            return Sweep::read(table, states, self.usual_codes(states));
        }
        Sweep::new(states, states)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Code, Pair, Work};
    use crate::math::{Complex, TAU, scalar};
    use std::convert::Infallible;

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
                // Readings that are not taken mean nothing.
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
        fn set_reference(&mut self, _: Code) -> Result<(), Infallible> {
            Ok(())
        }
        fn join_all(&mut self, _: usize, _: u32, _: &[bool; W]) -> Result<(), Infallible> {
            Ok(())
        }
        fn read_toggled(&mut self, _: u32, _: &[bool]) -> Result<Complex<W>, Infallible> {
            Ok(Complex::ZERO)
        }
    }

    #[test]
    fn a_coarse_sweep_then_a_fine_one_finds_the_peak_whatever_the_spacing() {
        for count in 3..=32 {
            let sweep = Sweep::new(32, count);
            for first in (0..32).step_by(4) {
                // The peak is near these codes, not quite in the middle.
                let codes: [usize; 4] = std::array::from_fn(|l| first + l);
                let phase = codes.map(|code| -TAU * (code as f64 + 0.2) / 32.0);
                let mut bench = OnPhases { phase, work: Work::default(), readings: [0; 4] };
                let Ok(found) =
                    Method::CoarseFine.solve(&sweep, None, &mut bench, &mut SweepScratch::default());
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
