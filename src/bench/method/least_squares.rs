//! A sinusoid through readings at phases that are no whole steps.

use crate::bench::Code;
use crate::bench::receiver::NEPERS_A_DB_OF_POWER;
use crate::math::{scalar, single};
use multiversion::multiversion;

/// Weights of the values at some angles, rad, in b and in c of the sinusoid a + b cos + c sin through values there, times
/// half their number: cosine and sine where the angles are equally spaced.
///
/// Formula: normal equations of the three parameters with the constant eliminated. Source: linear least squares.
pub(super) fn weights(angles: &[f64]) -> Vec<[f64; 2]> {
    let n = angles.len() as f64;
    let phasors: Vec<[f64; 2]> = angles.iter().map(|of| [scalar::cos(*of), scalar::sin(*of)]).collect();
    let mean = [0, 1].map(|part| phasors.iter().map(|of| of[part]).sum::<f64>() / n);
    let centred: Vec<[f64; 2]> = phasors.iter().map(|of| [of[0] - mean[0], of[1] - mean[1]]).collect();
    let sum = |one: usize, other: usize| centred.iter().map(|of| of[one] * of[other]).sum::<f64>();
    let (cc, cs, ss) = (sum(0, 0), sum(0, 1), sum(1, 1));
    let scale = 0.5 * n / (cc * ss - cs * cs);
    centred.iter().map(|[cos, sin]| [scale * (ss * cos - cs * sin), scale * (cc * sin - cs * cos)]).collect()
}

/// Variance of the angle of the sinusoid a + b cos + c sin through values at some angles, `[rad, value]`, by the residuals, rad
/// squared; `None` where there are no more values than parameters, or no sinusoid.
///
/// Formula: n/(n - 3) sum of (d angle/d value)^2 (value - sinusoid)^2, so that values may scatter each by its own, as powers do.
/// Source: law of propagation of uncertainty, JCGM 100:2008, 5.1.2, with each value's own residual in place of its variance;
/// n - 3 degrees of freedom.
#[cfg(test)]
pub(super) fn variance_by_residual(samples: &[[f64; 2]]) -> Option<f64> {
    let n = samples.len() as f64;
    let angles: Vec<f64> = samples.iter().map(|[angle, _]| *angle).collect();
    let weights = weights(&angles);
    let (mut b, mut c) = (0.0, 0.0);
    for ([_, value], [for_b, for_c]) in samples.iter().zip(&weights) {
        (b, c) = (b + 2.0 / n * for_b * value, c + 2.0 / n * for_c * value);
    }
    let wave = |angle: f64| b * scalar::cos(angle) + c * scalar::sin(angle);
    let a = samples.iter().map(|[angle, value]| value - wave(*angle)).sum::<f64>() / n;
    let square = b * b + c * c;
    let of = |([angle, value], [for_b, for_c]): (&[f64; 2], &[f64; 2])| {
        let turns = 2.0 / n * (b * for_c - c * for_b) / square;
        let left = turns * (value - a - wave(*angle));
        left * left
    };
    (n > 3.0 && square > 0.0).then(|| n / (n - 3.0) * samples.iter().zip(&weights).map(of).sum::<f64>())
}

/// Angle of the sinusoid a + b cos + c sin fitted to linear powers at measured phases, rad.
///
/// Formula: normal equations of the three parameters with the constant eliminated. `readings` are dB, `[read code][lane]`;
/// `steps` the phases of all codes. Where the phases leave b and c undetermined the angle is 0.
/// Source: linear least squares.
pub(super) fn phase<const W: usize>(readings: &[[f32; W]], codes: &[Code], steps: &[[f32; W]]) -> [f32; W] {
    let sums = sums(readings, codes, steps);
    let n = readings.len() as f64;
    std::array::from_fn(|l| {
        let [c, s, cc, cs, ss, p, pc, ps] = sums.map(|sum| sum[l]);
        let (cc, cs, ss) = (cc - c * c / n, cs - c * s / n, ss - s * s / n);
        let (pc, ps) = (pc - p * c / n, ps - p * s / n);
        let (b, c) = (ss * pc - cs * ps, cc * ps - cs * pc);
        if cc * ss - cs * cs > 1e-9 { scalar::atan2(c, b) as f32 } else { 0.0 }
    })
}

/// Sums over the readings of cosine, sine, their squares and product, the power, and its products with both.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn sums<const W: usize>(readings: &[[f32; W]], codes: &[Code], steps: &[[f32; W]]) -> [[f64; W]; 8] {
    let mut sums = [[0.0; W]; 8];
    let [c, s, cc, cs, ss, p, pc, ps] = &mut sums;
    for (reading, code) in readings.iter().zip(codes) {
        let step = &steps[*code as usize];
        for l in 0..W {
            let (sin, cos) = single::sin_cos(step[l]);
            let power = single::exp(NEPERS_A_DB_OF_POWER * reading[l] - super::sinusoid::HEADROOM);
            let (cos, sin, power) = (f64::from(cos), f64::from(sin), f64::from(power));
            c[l] += cos;
            s[l] += sin;
            cc[l] += cos * cos;
            cs[l] += cos * sin;
            ss[l] += sin * sin;
            p[l] += power;
            pc[l] += power * cos;
            ps[l] += power * sin;
        }
    }
    sums
}
