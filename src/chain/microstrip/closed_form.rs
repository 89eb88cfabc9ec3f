//! The line between a strip and a ground plane in closed form: what Hammerstad and Jensen fitted to field solutions.
//!
//! Source: E. Hammerstad, O. Jensen, "Accurate models for microstrip computer-aided design", IEEE MTT-S Digest 1980, p. 407
//! (from memory), for static lines, thickness, dispersion and the current factor; good to some tenths of a percent for widths of
//! 0.01 to 100 heights and permittivities up to 128. `u` is width over height, `t` thickness over height, `er` the relative
//! permittivity of the substrate, 1 or above.

use crate::array::SPEED_OF_LIGHT;
use crate::math::elementary::{exp, ln};
use crate::math::{PI, TAU, arc};

/// Wave impedance of free space, ohm (CODATA 2018).
const FREE_SPACE: f64 = 376.730_313_668;
/// Magnetic constant, H/m (the same).
const MAGNETIC: f64 = FREE_SPACE / SPEED_OF_LIGHT;
/// Euler's number in the width that thickness adds.
const E: f64 = std::f64::consts::E;

/// x to the power y, x > 0.
#[inline(always)]
fn power(x: f64, y: f64) -> f64 {
    exp(y * ln(x))
}

/// Impedance of a strip of no thickness in air, ohm.
#[inline(always)]
fn impedance_in_air(u: f64) -> f64 {
    let f = 6.0 + (TAU - 6.0) * exp(-power(30.666 / u, 0.7528));
    FREE_SPACE / TAU * ln(f / u + (1.0 + 4.0 / (u * u)).sqrt())
}

/// Static effective permittivity of a strip of no thickness.
#[inline(always)]
pub(crate) fn effective_permittivity(u: f64, er: f64) -> f64 {
    let (square, cube) = (u * u, (u / 18.1) * (u / 18.1) * (u / 18.1));
    let fourth = square * square;
    let a = 1.0 + ln((fourth + square / 2704.0) / (fourth + 0.432)) / 49.0 + ln(1.0 + cube) / 18.7;
    let b = 0.564 * power((er - 0.9) / (er + 3.0), 0.053);
    (er + 1.0) / 2.0 + (er - 1.0) / 2.0 * power(1.0 + 10.0 / u, -a * b)
}

/// Static impedance of a strip of no thickness, ohm.
#[inline(always)]
#[cfg(test)]
pub(crate) fn impedance(u: f64, er: f64) -> f64 {
    impedance_in_air(u) / effective_permittivity(u, er).sqrt()
}

/// Static effective permittivity and impedance (ohm) of a strip with thickness, which acts as a wider one without.
#[inline(always)]
pub(crate) fn with_thickness(u: f64, t: f64, er: f64) -> (f64, f64) {
    // No thickness gives no width; the logarithm only has to stay a number there.
    let t = if t > 1e-12 { t } else { 1e-12 };
    let decay = exp(-2.0 * (6.517 * u).sqrt());
    let coth = (1.0 + decay) / (1.0 - decay);
    let in_air = t / PI * ln(1.0 + 4.0 * E / (t * coth * coth));
    let grown = exp((er - 1.0).sqrt());
    let on_substrate = 0.5 * (1.0 + 2.0 / (grown + 1.0 / grown)) * in_air;
    let (wide, mixed) = (impedance_in_air(u + in_air), impedance_in_air(u + on_substrate));
    let of_mixed = effective_permittivity(u + on_substrate, er);
    (of_mixed * (wide / mixed) * (wide / mixed), mixed / of_mixed.sqrt())
}

/// Effective permittivity at a frequency (Hz), from the static one, the static impedance (ohm) and the height (m).
#[inline(always)]
pub(crate) fn dispersed(er: f64, effective: f64, impedance: f64, height: f64, frequency: f64) -> f64 {
    let turning_point = impedance / (2.0 * MAGNETIC * height);
    let g = PI * PI / 12.0 * (er - 1.0) / effective * (TAU * impedance / FREE_SPACE).sqrt();
    let ratio = frequency / turning_point;
    er - (er - effective) / (1.0 + g * ratio * ratio)
}

/// Depth that a current at a frequency (Hz) reaches in a metal of a conductivity (S/m), m: sqrt(2/(2 pi f mu sigma)).
#[inline(always)]
pub(crate) fn skin_depth(frequency: f64, conductivity: f64) -> f64 {
    (1.0 / (PI * frequency * MAGNETIC * conductivity)).sqrt()
}

/// Surface resistance of a smooth metal, ohm: 1/(sigma delta).
#[inline(always)]
pub(crate) fn surface_resistance(frequency: f64, conductivity: f64) -> f64 {
    1.0 / (conductivity * skin_depth(frequency, conductivity))
}

/// How much more a rough metal resists: 1 + 2/pi atan(1.4 (Rq/delta)^2).
///
/// Source: E. Hammerstad, F. Bekkadal, "Microstrip Handbook", ELAB report STF44 A74169, 1975 (from memory).
#[inline(always)]
pub(crate) fn roughness_factor(roughness: f64, skin_depth: f64) -> f64 {
    let ratio = roughness / skin_depth;
    1.0 + 2.0 / PI * arc::angle(1.0, 1.4 * ratio * ratio)
}

/// Loss in strip and ground, nepers a metre, of a surface resistance (ohm), an impedance (ohm) and a width (m): Rs K/(Z0 w), with
/// Hammerstad and Jensen's factor K = exp(-1.2 (Z0/eta0)^0.7) for the crowding of the current.
#[inline(always)]
pub(crate) fn conductor_loss(resistance: f64, impedance: f64, width: f64) -> f64 {
    resistance / (impedance * width) * exp(-1.2 * power(impedance / FREE_SPACE, 0.7))
}

/// Loss in the substrate, nepers a metre: pi f/c er/sqrt(eff) (eff - 1)/(er - 1) tan d, the share of the field in the substrate
/// given by its effective permittivity (`effective`). `er` is above 1.
///
/// Source: the filling factor as in Pozar, Microwave Engineering (from memory).
#[inline(always)]
pub(crate) fn dielectric_loss(frequency: f64, er: f64, effective: f64, loss_tangent: f64) -> f64 {
    PI * frequency / SPEED_OF_LIGHT * er / effective.sqrt() * (effective - 1.0) / (er - 1.0) * loss_tangent
}
