//! A bench with a stated defect makes the stated error: each against a closed form or against the same thing computed apart from the
//! program, in double precision and without its code; each with a twin that must miss.

mod air;
mod amplifiers;
mod characterised;
mod dead_channels;
mod drift;
mod flat_readings;
mod minutes;
mod tables;
mod tapers;

use beamyield::engine::{Unit, rebuild};
use beamyield::math::TAU;
use beamyield::model::Model;
use beamyield::stats::Moments;

/// The deviations of one source by channel, at a slot.
fn drawn(model: &Model, unit: &Unit, name: &str, slot: usize) -> Vec<f64> {
    let source = model.sources.list().iter().position(|source| source.name == name);
    let source = source.unwrap_or_else(|| panic!("no source {name}"));
    unit.deviations[source][slot].clone()
}

/// Moments over the first units of a plan.
fn over_units(model: &Model, units: u64, number: impl Fn(&Unit) -> f64) -> Moments {
    let mut moments = Moments::default();
    (0..units).for_each(|trial| moments.push(number(&rebuild(model, trial))));
    moments
}

/// An angle within half a turn of 0.
fn folded(angle: f64) -> f64 {
    angle - TAU * (angle / TAU).round()
}

/// A wrapped mean-free rms of phases, as the residual of alike amplitudes: the phase of the mean phasor is taken out.
fn residual_rms(phases: &[f64]) -> f64 {
    let (re, im) = phases.iter().fold((0.0, 0.0), |(re, im), p| (re + p.cos(), im + p.sin()));
    let common = im.atan2(re);
    (phases.iter().map(|p| folded(p - common).powi(2)).sum::<f64>() / phases.len() as f64).sqrt()
}

/// Angle and swing over mean of the sinusoid a + b cos + c sin fitted to powers at angles: three normal equations, solved by elimination.
fn sinusoid(angles: &[f64], powers: &[f64]) -> (f64, f64) {
    let mut rows = [[0.0; 4]; 3];
    for (angle, power) in angles.iter().zip(powers) {
        let base = [1.0, angle.cos(), angle.sin()];
        for (row, of_row) in rows.iter_mut().zip(base) {
            (0..3).for_each(|column| row[column] += of_row * base[column]);
            row[3] += of_row * power;
        }
    }
    for pivot in 0..3 {
        let row = rows[pivot];
        for (number, other) in rows.iter_mut().enumerate() {
            if number != pivot {
                let share = other[pivot] / row[pivot];
                (0..4).for_each(|column| other[column] -= share * row[column]);
            }
        }
    }
    let [a, b, c] = std::array::from_fn(|i| rows[i][3] / rows[i][i]);
    (c.atan2(b), b.hypot(c) / a)
}
