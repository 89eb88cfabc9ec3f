//! A sinusoid through readings at phases that are no whole steps.

use crate::bench::Code;
use crate::bench::receiver::NEPERS_A_DB_OF_POWER;
use crate::math::{scalar, single};

/// Angle of the sinusoid a + b cos + c sin fitted to linear powers at measured phases, rad.
///
/// Formula: normal equations of the three parameters with the constant eliminated. `readings` are dB, `[read code][lane]`;
/// `steps` the phases of all codes. Where the phases leave b and c undetermined the angle is 0.
/// Source: linear least squares.
pub(super) fn phase<const W: usize>(readings: &[[f32; W]], codes: &[Code], steps: &[[f32; W]]) -> [f32; W] {
    std::array::from_fn(|l| {
        let samples = readings.iter().zip(codes).map(|(reading, code)| {
            let (sin, cos) = single::sin_cos(steps[*code as usize][l]);
            let power = single::exp(NEPERS_A_DB_OF_POWER * reading[l] - super::fit::HEADROOM);
            (f64::from(cos), f64::from(sin), f64::from(power))
        });
        let n = readings.len() as f64;
        let (mut c, mut s, mut cc, mut cs, mut ss) = (0.0, 0.0, 0.0, 0.0, 0.0);
        let (mut p, mut pc, mut ps) = (0.0, 0.0, 0.0);
        for (cos, sin, power) in samples {
            c += cos;
            s += sin;
            cc += cos * cos;
            cs += cos * sin;
            ss += sin * sin;
            p += power;
            pc += power * cos;
            ps += power * sin;
        }
        let (cc, cs, ss) = (cc - c * c / n, cs - c * s / n, ss - s * s / n);
        let (pc, ps) = (pc - p * c / n, ps - p * s / n);
        let (b, c) = (ss * pc - cs * ps, cc * ps - cs * pc);
        if cc * ss - cs * cs > 1e-9 { scalar::atan2(c, b) as f32 } else { 0.0 }
    })
}
