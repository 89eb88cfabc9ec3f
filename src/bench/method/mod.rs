//! How the phase of a joined pair is found by stepping one of its shifters. One method a file; register it in the list below.
//!
//! A method asks for readings of what is joined and answers with the phase, rad, that the stepped channel
//! must add to come into phase with the rest. The docs of each state its tie, noise and plateau rule.

use crate::bench::{Code, Desk};
use crate::io::Table;
use crate::math::{TAU, scalar};

macro_rules! methods {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; pub use $module::$Type;)*

        /// The methods a study can name.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Method { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type),* }

        impl Method {
            /// Words for `method`.
            pub const KINDS: &[(&'static str, Method)] = &[$(($Type::KIND, Method::$Type)),*];

            /// True when the method reads an equally spaced part of the codes that the study may choose.
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
            fn solve<const W: usize>(
                self,
                sweep: &Sweep,
                steps: Option<Steps<W>>,
                desk: &mut impl Desk<W>,
                scratch: &mut SweepScratch<W>,
            ) -> [f32; W] {
                match self { $(Method::$Type => $Type::solve(sweep, steps, desk, scratch)),* }
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
    /// Codes that are read, equally spaced.
    codes: Vec<Code>,
    /// Cosine and sine of the phase of each of them.
    phasors: Vec<(f32, f32)>,
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
            return Sweep::read_equal(table, method, states, method.usual_codes(states));
        }
        Sweep::new(method, states, states)
    }

    /// Reads `codes`, equally spaced ones of at least as many `states` as a sinusoid needs; `usual` where the study does not say.
    pub(super) fn read_equal(table: &Table, method: Method, states: usize, usual: usize) -> Sweep {
        let count = table.count_or("codes", FEWEST_CODES..=states as u64, usual as u64) as usize;
        if !states.is_multiple_of(count) {
            table.error(
                Some(table.span_of("codes")),
                format!("{count} codes are not equally spaced over the {states} of the shifter"),
                "does not divide the number of states",
                Some(format!("a divisor of {states} that is at least {FEWEST_CODES}")),
            );
            return Sweep::new(method, states, states);
        }
        Sweep::new(method, states, count)
    }

    /// A sweep of `count` equally spaced codes of `states`; `count` divides `states`.
    pub fn new(method: Method, states: usize, count: usize) -> Sweep {
        let codes: Vec<Code> = (0..count).map(|i| (i * (states / count)) as Code).collect();
        let angle = |code: &Code| TAU * f64::from(*code) / states as f64;
        let phasor = |angle: f64| (scalar::cos(angle) as f32, scalar::sin(angle) as f32);
        Sweep { method, states, phasors: codes.iter().map(|code| phasor(angle(code))).collect(), codes }
    }

    /// Codes that are read.
    pub fn codes(&self) -> &[Code] {
        &self.codes
    }

    /// Codes a full turn has.
    pub fn states(&self) -> usize {
        self.states
    }

    /// Angle of the sinusoid through readings at the sweep's codes, rad; see [`Fit`].
    pub fn angle<const W: usize>(&self, readings: &[[f32; W]]) -> [f32; W] {
        fit::phase(readings, &self.phasors)
    }

    /// Variance of the phase that is found, rad squared; `None` where there is no formula.
    pub fn variance(&self, readout: &Readout) -> Option<f64> {
        self.method.variance(self, readout)
    }

    /// By how much errors of states stand in the phase that is found; see [`StateShare`].
    pub fn shares(&self, angle: f64) -> Vec<StateShare> {
        self.method.shares(self, angle)
    }

    /// Finds the phase of what is joined, rad.
    pub fn solve<const W: usize>(
        &self,
        steps: Option<Steps<W>>,
        desk: &mut impl Desk<W>,
        scratch: &mut SweepScratch<W>,
    ) -> [f32; W] {
        self.method.solve(self, steps, desk, scratch)
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
