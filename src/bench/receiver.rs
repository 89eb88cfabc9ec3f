//! The power receiver of the bench.

use crate::io::{Check, Dimension, Table};
use crate::math::{elementary, scalar};
use multiversion::multiversion;

/// A power receiver: noise, averaging, display.
///
/// Formula: with P the power over a nominal channel, F the noise floor and m averages,
/// reading = 10 log10(P + F) + s z, s^2 = [noise^2 + (10/ln 10)^2 (2 P F + F^2)/(P + F)^2]/m, z a standard normal draw;
/// then no lower than `floor`, then rounded to `resolution` (midway to the even digit). `noise` is the
/// receiver's own instability at any level; the F terms are the mean and variance of |A + n|^2 for a complex
/// normal n of power F, taken as normal, which averaging makes them. Units: dB, linear power.
/// Source: own derivation from the Rice law's first two moments.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Receiver {
    /// Noise of one reading at a level well over the noise floor, dB (standard deviation).
    pub noise_db: f64,
    /// Readings averaged for each reading that is used.
    pub averages: u32,
    /// Last digit of the display, dB; 0 shows every digit.
    pub resolution_db: f64,
    /// Lowest level that is displayed, dB over a nominal channel.
    pub floor_db: Option<f64>,
    /// Thermal noise power, dB over a nominal channel.
    pub noise_floor_db: Option<f64>,
}

const DB_A_NEPER_OF_POWER: f64 = 10.0 / std::f64::consts::LN_10;

/// Most averages of one reading.
pub const MOST_AVERAGES: u64 = 1_000_000;

impl Receiver {
    /// Reads `receiver = { ... }` of the bench; absent, it is ideal.
    pub fn read(bench: Option<&Table>) -> Receiver {
        let Some(table) = bench.and_then(|bench| bench.table("receiver")) else {
            return Receiver {
                noise_db: 0.0,
                averages: 1,
                resolution_db: 0.0,
                floor_db: None,
                noise_floor_db: None,
            };
        };
        Receiver {
            noise_db: table.quantity_or("noise", Dimension::Level, Check::NonNegative, 0.0),
            averages: table.count_or("averages", 1..=MOST_AVERAGES, 1) as u32,
            resolution_db: table.quantity_or("resolution", Dimension::Level, Check::NonNegative, 0.0),
            floor_db: table.optional_quantity("floor", Dimension::Level, Check::Any),
            noise_floor_db: table.optional_quantity("noise_floor", Dimension::Level, Check::Any),
        }
    }

    /// True when a reading needs a draw.
    pub fn is_noisy(&self) -> bool {
        self.noise_db > 0.0 || self.noise_floor_db.is_some()
    }

    /// Turns powers over a nominal channel into readings, dB, in place; `deviates` are standard normal.
    pub fn display(&self, power: &mut [f64], deviates: &[f64]) {
        let share = 1.0 / f64::from(self.averages).sqrt();
        match self.noise_floor_db {
            None => to_db(power, deviates, self.noise_db * share),
            Some(floor_db) => {
                let floor = scalar::pow(10.0, floor_db / 10.0);
                let own = self.noise_db * self.noise_db;
                for (power, z) in power.iter_mut().zip(deviates) {
                    let total = *power + floor;
                    let thermal = (2.0 * *power + floor) * floor / (total * total);
                    let sd = share * (own + DB_A_NEPER_OF_POWER * DB_A_NEPER_OF_POWER * thermal).sqrt();
                    *power = DB_A_NEPER_OF_POWER * elementary::ln(total) + sd * z;
                }
            }
        }
        if let Some(floor) = self.floor_db {
            power.iter_mut().for_each(|reading| *reading = reading.max(floor));
        }
        if self.resolution_db > 0.0 {
            round_to(power, self.resolution_db);
        }
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn to_db(power: &mut [f64], deviates: &[f64], sd: f64) {
    for (power, z) in power.iter_mut().zip(deviates) {
        *power = DB_A_NEPER_OF_POWER * elementary::ln(*power) + sd * z;
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn round_to(readings: &mut [f64], resolution: f64) {
    for reading in readings {
        *reading = elementary::round(*reading / resolution) * resolution;
    }
}
