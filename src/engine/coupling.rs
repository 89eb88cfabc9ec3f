//! Elements that pick up what their neighbours radiate.

use crate::figure::{BeamPoint, Field};
use crate::math::{Complex, single};
use crate::model::{Coupling, Model};
use crate::random::{Draws, Value};
use multiversion::multiversion;

/// Least power of an element over its nominal one: -260 dB, so that its logarithm stays a number.
const LEAST: f32 = 1e-26;
/// Most, for an element that is hardly fed.
const MOST: f32 = 1e26;

/// Lets each element of a steered array pick up from its nearest neighbours: the excitation x_n, linear with its taper, becomes x_n + c
/// times the sum of its neighbours'. The neighbours count as the chain feeds them, so coupling is of first order. An element
/// that the taper does not feed at all stays dark. `room` is `[channel]`, and rewritten.
pub(super) fn couple<const W: usize>(
    coupling: &Coupling,
    model: &Model,
    point: &BeamPoint,
    draws: &Draws<W>,
    room: &mut Vec<Complex<W>>,
    field: &mut Field<W>,
) {
    room.resize(model.channels(), Complex::ZERO);
    mix(coupling, &model.array.amplitude, &point.path, draws, room, &mut field.gain, &mut field.phase);
}

/// The field's phases are seen from the commanded direction; `path` is what to take off to see the excitation itself.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn mix<const W: usize>(
    coupling: &Coupling,
    amplitude: &[f64],
    path: &[f32],
    draws: &Draws<W>,
    excitation: &mut [Complex<W>],
    gain: &mut [[f32; W]],
    phase: &mut [[f32; W]],
) {
    for (n, excitation) in excitation.iter_mut().enumerate() {
        let fed = amplitude[n] as f32;
        for l in 0..W {
            let size = fed * single::exp(gain[n][l]);
            (excitation.re.0[l], excitation.im.0[l]) = single::polar(size, phase[n][l] - path[n]);
        }
    }
    let c = coefficient(coupling, draws);
    for (n, neighbours) in coupling.neighbours.iter().enumerate() {
        let sum = neighbours.iter().fold(Complex::ZERO, |sum, m| sum + excitation[*m as usize]);
        let coupled = excitation[n] + c * sum;
        let fed = amplitude[n] as f32;
        let over_nominal = if fed > 0.0 { 1.0 / fed } else { 0.0 };
        for l in 0..W {
            let (re, im) = (coupled.re.0[l] * over_nominal, coupled.im.0[l] * over_nominal);
            let power = re * re + im * im;
            let power = if power > LEAST { power } else { LEAST };
            let power = if power < MOST { power } else { MOST };
            gain[n][l] = 0.5 * single::ln(power);
            phase[n][l] = single::atan2(im, re) + path[n];
        }
    }
}

/// By what each channel's signal counts in front of a probe, its neighbours' pickup included: 1 and c times the sum of its neighbours'
/// way over its own, `[channel]`; `path` is the phase of each channel's way, rad.
pub(super) fn pickup<const W: usize>(
    coupling: &Coupling,
    path: impl Fn(usize) -> f32,
    draws: &Draws<W>,
) -> Vec<Complex<W>> {
    let c = coefficient(coupling, draws);
    let factor = |(channel, neighbours): (usize, &Vec<u32>)| {
        let (mut re, mut im) = (0.0, 0.0);
        for neighbour in neighbours {
            let (x, y) = single::polar(1.0, path(*neighbour as usize) - path(channel));
            (re, im) = (re + x, im + y);
        }
        let mut factor = Complex::ZERO;
        for l in 0..W {
            factor.re.0[l] = 1.0 + (c.re.0[l] * re - c.im.0[l] * im);
            factor.im.0[l] = c.re.0[l] * im + c.im.0[l] * re;
        }
        factor
    };
    coupling.neighbours.iter().enumerate().map(factor).collect()
}

/// The coefficient of each unit.
#[inline(always)]
fn coefficient<const W: usize>(coupling: &Coupling, draws: &Draws<W>) -> Complex<W> {
    let of = |value: &Value| value.at(draws, 0, 0);
    let (db, turn) = (of(&coupling.coefficient.level), of(&coupling.coefficient.phase));
    let mut c = Complex::ZERO;
    for l in 0..W {
        let size = single::exp((crate::chain::NEPERS_A_DB * db[l]) as f32);
        (c.re.0[l], c.im.0[l]) = single::polar(size, turn[l] as f32);
    }
    c
}

#[cfg(test)]
mod tests;
