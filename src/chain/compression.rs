//! How an amplifier compresses, and turns the phase, as it nears its saturation.

use crate::chain::states::SINGLE_NEPERS_A_DB;
use crate::chain::{Amplifier, Chain, Conditions, Listed, NEPERS_A_DB, Named};
use crate::inspection::read_tolerance;
use crate::io::{Check, Dimension, Key, Table, keys};
use crate::math::single;
use crate::random::{Draws, Tolerance, Toleranced, Value};

/// The law by which an amplifier saturates.
///
/// Formula: with r the small-signal output over the saturated one (amplitudes), gain falls by (1 + r^(2p))^(1/(2p)), p the
/// smoothness (2 unless stated, as of a soft solid-state amplifier); the phase turns by A x^q/(1 + x^q), x = r over `knee`, where half of
/// A is reached (saturation itself unless stated), q the exponent (2 unless stated). Units: dBm, 1, rad, dB. Source: C. Rapp,
/// ESA SP-332, 1991 (from memory); the phase in the form of published channel models (from memory).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Rapp<T = Value> {
    saturation: T,
    smoothness: T,
    phase: T,
    knee: T,
    exponent: T,
}

/// Smoothness and exponent: from a gentle bend to a corner. Draws are held to the same.
const SOFTEST: f64 = 0.25;
const HARDEST: f64 = 50.0;

keys! {
    pub(super) KEYS: "How it compresses; not at all where it is left out";
    SATURATION: Toleranced =
        Key::tolerance("compression.saturation", Dimension::Power, Check::Within(-150.0, 150.0), "15 dBm", "Saturated output power");
    SMOOTHNESS: Toleranced =
        Key::tolerance("compression.smoothness", Dimension::Ratio, Check::Within(SOFTEST, HARDEST), "2.0",
            "Smoothness of the knee in gain").or_exactly(2.0);
    PHASE: Toleranced =
        Key::tolerance("compression.phase", Dimension::Angle, Check::Any, "5 deg",
            "Phase that it turns by when it is driven far into saturation").or_exactly(0.0);
    KNEE: Toleranced =
        Key::tolerance("compression.knee", Dimension::Level, Check::Within(-60.0, 60.0), "0 dB",
            "Output over saturation at which half of that phase is reached").or_exactly(0.0);
    EXPONENT: Toleranced =
        Key::tolerance("compression.exponent", Dimension::Ratio, Check::Within(SOFTEST, HARDEST), "2.0",
            "How fast that phase sets in").or_exactly(2.0);
}

impl Rapp<Tolerance> {
    pub(super) fn read(table: &Table) -> Rapp<Tolerance> {
        Rapp {
            saturation: read_tolerance(table, &SATURATION),
            smoothness: read_tolerance(table, &SMOOTHNESS),
            phase: read_tolerance(table, &PHASE),
            knee: read_tolerance(table, &KNEE),
            exponent: read_tolerance(table, &EXPONENT),
        }
    }
}

impl<T> Rapp<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Rapp<U> {
        Rapp {
            saturation: to(Listed::one(&SATURATION, &self.saturation)),
            smoothness: to(Listed::one(&SMOOTHNESS, &self.smoothness)),
            phase: to(Listed::one(&PHASE, &self.phase)),
            knee: to(Listed::one(&KNEE, &self.knee)),
            exponent: to(Listed::one(&EXPONENT, &self.exponent)),
        }
    }
}

impl Rapp {
    /// What the law on the drawing does at a small-signal output (dBm): nepers, rad.
    fn nominal(&self, output_dbm: f32) -> (f32, f32) {
        let single = |of: &Value| of.nominal as f32;
        saturate(
            output_dbm - single(&self.saturation),
            single(&self.smoothness),
            single(&self.phase),
            single(&self.knee),
            single(&self.exponent),
        )
    }
}

/// A compressing amplifier of a chain under some conditions.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Compression<'c> {
    amplifier: &'c Amplifier,
    law: &'c Rapp,
    /// Frequency over the command frequency, Hz.
    away: f32,
    /// K.
    warming: f32,
    /// Small-signal gain on the drawing, dB.
    nominal_gain_db: f32,
    /// Input on the drawing, dBm.
    nominal_input_dbm: f32,
    /// Compression on the drawing: nepers, rad.
    nominal: (f32, f32),
}

impl<'c> Compression<'c> {
    fn new(amplifier: &'c Amplifier, law: &'c Rapp, at: &Conditions, nominal_input_dbm: f64) -> Self {
        let (gain, input) = (amplifier.nominal_gain_db(at) as f32, nominal_input_dbm as f32);
        Compression {
            amplifier,
            law,
            away: (at.frequency - at.command_frequency) as f32,
            warming: at.warming() as f32,
            nominal_gain_db: gain,
            nominal_input_dbm: input,
            nominal: law.nominal(input + gain),
        }
    }

    /// Power that comes in where all is as on the drawing, dBm.
    pub(crate) fn nominal_input_dbm(&self) -> f32 {
        self.nominal_input_dbm
    }

    /// Adds the compression of one channel at an input (dBm) over that of the drawing at the nominal input: nepers, rad. Nominal
    /// drive adds exactly 0 where nothing varies.
    #[inline(always)]
    pub(crate) fn add<const W: usize>(
        &self,
        draws: &Draws<W>,
        channel: usize,
        input_dbm: &[f32; W],
        gain: &mut [f32; W],
        phase: &mut [f32; W],
    ) {
        let Compression { amplifier, law, away, warming, .. } = *self;
        let of = |value: &'c Value| (value.nominal as f32, *value.deviation_at(draws, 0, channel));
        let (_, level) = of(&amplifier.gain);
        let (_, slope) = of(&amplifier.slope);
        let (common_drift, drift) = of(&amplifier.gain_temperature);
        let (common_saturation, saturation) = of(&law.saturation);
        let (common_smoothness, smoothness) = of(&law.smoothness);
        let (common_turn, turn) = of(&law.phase);
        let (common_knee, knee) = of(&law.knee);
        let (common_exponent, exponent) = of(&law.exponent);
        for l in 0..W {
            let deviation = level[l] + slope[l] * away + (common_drift + drift[l]) * warming;
            let output = input_dbm[l] + (self.nominal_gain_db + deviation);
            let (nepers, radians) = saturate(
                output - (common_saturation + saturation[l]),
                common_smoothness + smoothness[l],
                common_turn + turn[l],
                common_knee + knee[l],
                common_exponent + exponent[l],
            );
            gain[l] += nepers - self.nominal.0;
            phase[l] += radians - self.nominal.1;
        }
    }
}

/// Gain (nepers) and phase (rad) of an amplifier whose small-signal output is `over_db` above saturation.
#[inline(always)]
fn saturate(over_db: f32, smoothness: f32, phase: f32, knee_db: f32, exponent: f32) -> (f32, f32) {
    let twice = 2.0 * held(smoothness);
    // ln(1 + e^x), without e^x where that is large.
    let x = twice * (SINGLE_NEPERS_A_DB * over_db);
    let (above, size) = if x > 0.0 { (x, x) } else { (0.0, -x) };
    let gain = -(above + single::ln(1.0 + single::exp(-size))) / twice;
    let y = held(exponent) * (SINGLE_NEPERS_A_DB * (over_db - knee_db));
    (gain, phase / (1.0 + single::exp(-y)))
}

/// A smoothness or an exponent within its range.
#[inline(always)]
fn held(power: f32) -> f32 {
    let power = if power > SOFTEST as f32 { power } else { SOFTEST as f32 };
    if power < HARDEST as f32 { power } else { HARDEST as f32 }
}

impl Chain {
    /// Power into a block of a nominal channel without taper, dBm, amplifiers before it compressing as on the drawing; `None`
    /// where the study states no drive.
    pub(crate) fn nominal_input_dbm(&self, block: usize, at: &Conditions) -> Option<f64> {
        let through = |input: f64, named: &Named| {
            let compressed = named.block.compression().map_or(0.0, |(amplifier, law)| {
                f64::from(Compression::new(amplifier, law, at, input).nominal.0)
            });
            input + named.block.nominal_gain_db(at) + compressed / NEPERS_A_DB
        };
        self.drive().map(|drive| self.blocks()[..block].iter().fold(drive, through))
    }

    /// The places of the amplifiers that compress, and what each does under some conditions; none where the study states no
    /// drive.
    pub(crate) fn compressing(&self, at: &Conditions) -> impl Iterator<Item = (usize, Compression<'_>)> {
        self.blocks().iter().enumerate().filter_map(move |(place, named)| {
            let (amplifier, law) = named.block.compression()?;
            let input = self.nominal_input_dbm(place, at)?;
            Some((place, Compression::new(amplifier, law, at, input)))
        })
    }
}

#[cfg(test)]
mod tests;
