//! A phase shifter that adds two signals a quarter turn apart, each weighted by a digital-to-analogue converter.

use crate::chain::phase_shifter::VECTOR_SUM;
use crate::chain::state_table::STATES;
use crate::chain::states::{BIT_GAIN_ERROR, BIT_PHASE_ERROR, STATE_GAIN_ERROR, STATE_PHASE_ERROR};
use crate::chain::{Code, Listed, NEPERS_A_DB};
use crate::inspection::read_tolerance;
use crate::io::{Check, Count, Dimension, Key, Table, keys};
use crate::math::{Complex, Lanes, TAU, elementary, scalar, single};
use crate::random::{Draws, Tolerance, Toleranced, Value};
use multiversion::multiversion;

/// Errors of a vector-sum shifter.
///
/// Formula: state m asks for (I, Q) = (cos, sin) of its phase, each rounded to one of 2^(dac_bits - 1) - 1 steps to either
/// side, a tie to the even one; I' = g_I I + o_I, Q' = g_Q Q + o_Q; s = I' + Q' e^(j(pi/2 + eps)). Units: gains in dB, offsets
/// of full scale, eps in rad. Source: model of a modulator with imbalance, common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct VectorSum<T = Value> {
    dac_bits: u64,
    i_gain_error: T,
    q_gain_error: T,
    i_offset: T,
    q_offset: T,
    quadrature_error: T,
    /// `[code]`.
    points: Vec<Point>,
}

/// What a state asks for.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Point {
    /// Weights as the converters give them.
    i: f32,
    q: f32,
    /// The nominal state, of size 1.
    cosine: f32,
    sine: f32,
}

/// The errors of one channel.
struct Errors<const W: usize> {
    i_gain: [f32; W],
    q_gain: [f32; W],
    i_offset: [f32; W],
    q_offset: [f32; W],
    cosine: [f32; W],
    sine: [f32; W],
}

/// Least power of a state, -100 dB: offsets can cancel a weight, and nothing has no level.
const LEAST: f32 = 1e-10;

keys! {
    pub(super) KEYS: "A shifter that sums two signals a quarter turn apart";
    DAC_BITS: Count =
        Key::count("dac_bits", 2..=16, "7", "Bits of each converter");
    I_GAIN_ERROR: Toleranced =
        Key::tolerance("i_gain_error", Dimension::Level, Check::Any, "0 dB", "Gain error of the in-phase path").or_exactly(0.0);
    Q_GAIN_ERROR: Toleranced =
        Key::tolerance("q_gain_error", Dimension::Level, Check::Any, "0 dB", "Gain error of the quadrature path").or_exactly(0.0);
    I_OFFSET: Toleranced =
        Key::tolerance("i_offset", Dimension::Ratio, Check::Any, "0.0", "Offset of the in-phase weight, over its full scale").or_exactly(0.0);
    Q_OFFSET: Toleranced =
        Key::tolerance("q_offset", Dimension::Ratio, Check::Any, "0.0", "Offset of the quadrature weight, over its full scale").or_exactly(0.0);
    QUADRATURE_ERROR: Toleranced =
        Key::tolerance("quadrature_error", Dimension::Angle, Check::Any, "0 deg", "How far the two signals are off a quarter turn").or_exactly(0.0);
}

impl VectorSum<Tolerance> {
    /// Reads the table at `vector_sum`, if there is one, of a shifter of so many codes.
    pub(super) fn read(table: &Table, codes: usize) -> Option<VectorSum<Tolerance>> {
        if !table.has(VECTOR_SUM) {
            return None;
        }
        let sum = table.table(VECTOR_SUM)?;
        let errors =
            [BIT_PHASE_ERROR, BIT_GAIN_ERROR, STATE_PHASE_ERROR, STATE_GAIN_ERROR].map(|key| key.name);
        for key in errors.into_iter().chain([STATES.name]).filter(|key| table.has(key)) {
            table.error(
                table.span_of(key),
                format!("`{key}` beside `vector_sum`"),
                "the states come from the vector sum",
                Some("keep one of the two".into()),
            );
        }
        let dac_bits = sum.read(&DAC_BITS);
        let full_scale = ((1u32 << (dac_bits - 1)) - 1) as f64;
        let rounded = |weight: f64| (elementary::round(weight * full_scale) / full_scale) as f32;
        let point = |code: usize| {
            let (sine, cosine) = scalar::sin_cos(TAU * code as f64 / codes as f64);
            Point { i: rounded(cosine), q: rounded(sine), cosine: cosine as f32, sine: sine as f32 }
        };
        Some(VectorSum {
            dac_bits,
            i_gain_error: read_tolerance(&sum, &I_GAIN_ERROR),
            q_gain_error: read_tolerance(&sum, &Q_GAIN_ERROR),
            i_offset: read_tolerance(&sum, &I_OFFSET),
            q_offset: read_tolerance(&sum, &Q_OFFSET),
            quadrature_error: read_tolerance(&sum, &QUADRATURE_ERROR),
            points: (0..codes).map(point).collect(),
        })
    }
}

impl<T> VectorSum<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> VectorSum<U> {
        VectorSum {
            i_gain_error: to(Listed::one(&I_GAIN_ERROR, &self.i_gain_error)),
            q_gain_error: to(Listed::one(&Q_GAIN_ERROR, &self.q_gain_error)),
            i_offset: to(Listed::one(&I_OFFSET, &self.i_offset)),
            q_offset: to(Listed::one(&Q_OFFSET, &self.q_offset)),
            quadrature_error: to(Listed::one(&QUADRATURE_ERROR, &self.quadrature_error)),
            dac_bits: self.dac_bits,
            points: self.points.clone(),
        }
    }

    /// Bits of each converter.
    pub(crate) fn dac_bits(&self) -> u64 {
        self.dac_bits
    }
}

impl VectorSum {
    #[inline(always)]
    fn errors<const W: usize>(&self, draws: &Draws<W>, channel: usize) -> Errors<W> {
        let value = |of: &Value| {
            let deviation = of.deviation_at(draws, 0, channel);
            std::array::from_fn::<f32, W, _>(|l| of.nominal as f32 + deviation[l])
        };
        let gain = |of: &Value| value(of).map(|db| single::exp(NEPERS_A_DB as f32 * held(db)));
        let turn = value(&self.quadrature_error).map(single::sin_cos);
        Errors {
            i_gain: gain(&self.i_gain_error),
            q_gain: gain(&self.q_gain_error),
            i_offset: value(&self.i_offset),
            q_offset: value(&self.q_offset),
            cosine: turn.map(|(_, cosine)| cosine),
            sine: turn.map(|(sine, _)| sine),
        }
    }

    /// The complex gain of every state of one channel.
    #[inline(always)]
    pub(super) fn states_of<const W: usize>(
        &self,
        draws: &Draws<W>,
        channel: usize,
        states: &mut [Complex<W>],
    ) {
        let errors = self.errors(draws, channel);
        for (point, state) in self.points.iter().zip(states) {
            let (mut re, mut im) = (Lanes::ZERO, Lanes::ZERO);
            for l in 0..W {
                (re.0[l], im.0[l]) = errors.sum(point, l);
            }
            *state = Complex { re, im };
        }
    }

    /// Adds how far the states are off nominal that channels from `first` on stand at: nepers, rad, `[channel][lane]`.
    pub(super) fn add<const W: usize>(
        &self,
        draws: &Draws<W>,
        first: usize,
        codes: &[[Code; W]],
        gain: &mut [[f32; W]],
        phase: &mut [[f32; W]],
    ) {
        add(self, draws, first, codes, gain, phase);
    }
}

/// A gain error within 100 dB, so that no power leaves the range of single precision.
#[inline(always)]
fn held(db: f32) -> f32 {
    let db = if db > -100.0 { db } else { -100.0 };
    if db < 100.0 { db } else { 100.0 }
}

impl<const W: usize> Errors<W> {
    /// The sum of the two signals in one lane: (real part, imaginary part).
    #[inline(always)]
    fn sum(&self, point: &Point, l: usize) -> (f32, f32) {
        let i = self.i_gain[l] * point.i + self.i_offset[l];
        let q = self.q_gain[l] * point.q + self.q_offset[l];
        (i - q * self.sine[l], q * self.cosine[l])
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn add<const W: usize>(
    sum: &VectorSum,
    draws: &Draws<W>,
    first: usize,
    codes: &[[Code; W]],
    gain: &mut [[f32; W]],
    phase: &mut [[f32; W]],
) {
    let sums = gain.iter_mut().zip(phase);
    for (channel, ((gain, phase), codes)) in sums.zip(codes).enumerate() {
        let errors = sum.errors(draws, first + channel);
        for l in 0..W {
            let point = sum.points[codes[l] as usize];
            let (re, im) = errors.sum(&point, l);
            let power = re * re + im * im;
            // Turned back by the nominal phase, so that what is left is small.
            let (x, y) = (re * point.cosine + im * point.sine, im * point.cosine - re * point.sine);
            gain[l] += 0.5 * single::ln(if power > LEAST { power } else { LEAST });
            phase[l] += single::atan2(y, x);
        }
    }
}

#[cfg(test)]
mod tests;
