//! How the phase of one pair is found. One method a file; register it in the list below.
//!
//! A method asks for readings of the joined pair and answers with the phase, rad, that the stepped channel
//! must add to come into phase with the reference. The docs of each state its tie, noise and plateau rule.

use crate::bench::{Code, Desk, Work};
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

            /// Finds the phase of the joined pair, rad.
            fn solve<const W: usize>(
                self,
                align: &Align,
                desk: &mut impl Desk<W>,
                scratch: &mut SweepScratch<W>,
                work: &mut Work<W>,
            ) -> [f32; W] {
                match self { $(Method::$Type => $Type::solve(align, desk, scratch, work)),* }
            }
        }
    };
}

methods! { peak::Peak, null::Null, climb::Climb, fit::Fit }

/// Fewest codes a sinusoid can be fitted to.
const FEWEST_CODES: u64 = 3;

/// Phasing, pair by pair: every channel against one reference (a star).
#[derive(Clone, Debug, PartialEq)]
pub struct Align {
    /// How a pair's phase is found.
    pub method: Method,
    /// The channel all others are compared with.
    pub reference: usize,
    /// Codes a full turn has.
    states: usize,
    /// Codes that a sweep reads, equally spaced.
    codes: Vec<Code>,
    /// Cosine and sine of the phase of each of them.
    phasors: Vec<(f32, f32)>,
}

/// Room for one sweep's readings.
#[derive(Clone, Debug, Default)]
pub struct SweepScratch<const W: usize> {
    readings: Vec<[f32; W]>,
}

impl Align {
    /// Reads `align = { method = "peak", pairing = "star", reference = 0 }` for a unit of `channels` and a shifter of
    /// `states`; absent: no phasing.
    pub fn read(calibration: &Table, channels: usize, states: usize) -> Option<Align> {
        let table = calibration.table("align")?;
        let method = table.choice("method", "method", Method::KINDS);
        // A star is the only pairing so far; the word is read so that a study says what it means.
        table.choice_or("pairing", "pairing", &[("star", ())], ());
        let reference = table.count_or("reference", 0..=channels as u64 - 1, 0) as usize;
        let mut count = states;
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
            count = table.count_or("codes", FEWEST_CODES..=states as u64, states as u64) as usize;
            if !states.is_multiple_of(count) {
                table.error(
                    Some(table.span_of("codes")),
                    format!("{count} codes are not equally spaced over the {states} of the shifter"),
                    "does not divide the number of states",
                    Some(format!("a divisor of {states} that is at least {FEWEST_CODES}")),
                );
                count = states;
            }
        }
        Some(Align::new(method, reference, states, count))
    }

    /// Phasing that sweeps `count` equally spaced codes of `states`; `count` divides `states`.
    pub fn new(method: Method, reference: usize, states: usize, count: usize) -> Align {
        let codes: Vec<Code> = (0..count).map(|i| (i * (states / count)) as Code).collect();
        let angle = |code: &Code| TAU * f64::from(*code) / states as f64;
        let phasor = |angle: f64| (scalar::cos(angle) as f32, scalar::sin(angle) as f32);
        Align {
            method,
            reference,
            states,
            phasors: codes.iter().map(|code| phasor(angle(code))).collect(),
            codes,
        }
    }

    /// Number of codes that one sweep reads.
    pub fn codes(&self) -> usize {
        self.codes.len()
    }

    /// Phases of codes, rad.
    fn phases<const W: usize>(&self, codes: &[Code; W]) -> [f32; W] {
        let step = (TAU / self.states as f64) as f32;
        let mut phases = [0.0; W];
        for l in 0..W {
            phases[l] = step * (codes[l] as i32 as f32);
        }
        phases
    }

    /// Finds the phase of every channel against the reference, rad, `[channel][lane]`; the reference's own is 0.
    pub fn run<const W: usize>(
        &self,
        desk: &mut impl Desk<W>,
        scratch: &mut SweepScratch<W>,
        work: &mut Work<W>,
        phase: &mut [[f32; W]],
    ) {
        work.reconnections += 1;
        for (channel, phase) in phase.iter_mut().enumerate() {
            if channel == self.reference {
                *phase = [0.0; W];
                continue;
            }
            work.reconnections += 1;
            desk.join(self.reference, channel);
            *phase = self.method.solve(self, desk, scratch, work);
        }
    }

    /// Counts the settings and readings of one sweep.
    fn count_sweep<const W: usize>(&self, work: &mut Work<W>) {
        for l in 0..W {
            work.settings[l] += self.codes.len() as u32;
            work.readings[l] += self.codes.len() as u32;
        }
    }
}
