//! The power receiver of the bench.

use crate::bench::Stability;
use crate::bench::stability;
use crate::io::{Check, Count, Dimension, Key, Nested, Optional, Or, Quantity, Table, keys};
use crate::math::deviate::FARTHEST;
use crate::math::{scalar, single};
use crate::random::Tolerance;

/// A power receiver: noise, averaging, display.
///
/// Formula: with P the power over a nominal channel, F the noise floor and m averages,
/// reading = 10 log10(P + F) + s z, s^2 = [noise^2 + (10/ln 10)^2 (2 P F + F^2)/(P + F)^2]/m, z a standard normal draw;
/// plus the drift of the moment, stretched by the linearity error (see [`Stability`]), then no lower than `floor` and no higher than
/// `saturation`, then rounded to `resolution` (midway to the even digit). `noise` is the
/// receiver's own instability at any level; the F terms are the mean and variance of |A + n|^2 for a complex
/// normal n of power F, taken as normal, which averaging makes them. Units: dB, linear power.
/// Source: own derivation from the first two moments of the Rice distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Receiver {
    /// Noise of one reading at a level well over the noise floor, dB (standard deviation).
    pub noise_db: f64,
    /// Readings averaged for each reading that is used.
    pub averages: u32,
    /// Last digit of the display, dB; 0, or less than 0.0001, shows every digit.
    pub resolution_db: f64,
    /// Lowest level that is displayed, dB over a nominal channel.
    pub floor_db: Option<f64>,
    /// Thermal noise power, dB over a nominal channel.
    pub noise_floor_db: Option<f64>,
    /// Highest level that is displayed, dB over a nominal channel.
    pub saturation_db: Option<f64>,
}

/// Most averages of one reading.
pub(super) const MOST_AVERAGES: u64 = 1_000_000;

keys! {
    KEYS: "What reads levels; ideal where it is left out", with stability::KEYS;
    NOISE: Or<Quantity, f64> =
        Key::quantity("noise", Dimension::Level, Check::NonNegative, "0.05 dB", "Standard deviation of one reading").or(0.0);
    AVERAGES: Or<Count, u64> =
        Key::count("averages", 1..=MOST_AVERAGES, "4", "Readings that are averaged for each one used; 1 where it is left out").or(1);
    RESOLUTION: Or<Quantity, f64> =
        Key::quantity("resolution", Dimension::Level, Check::NonNegative, "0.01 dB", "Step of the display; none where it is left out").or(0.0);
    FLOOR: Optional<Quantity> =
        Key::quantity("floor", Dimension::Level, Check::Any, "-40 dB", "Lowest level that is displayed, over a nominal channel").optional();
    NOISE_FLOOR: Optional<Quantity> =
        Key::quantity("noise_floor", Dimension::Level, Check::Any, "-50 dB", "Thermal noise power, over a nominal channel").optional();
    SATURATION: Optional<Quantity> =
        Key::quantity("saturation", Dimension::Level, Check::Any, "9 dB", "Highest level that is displayed, over a nominal channel").optional();
}

/// Key of the receiver in the table of the bench.
pub(crate) const RECEIVER: Key<Nested> =
    Key::table("receiver", &KEYS, "{ noise = \"0.05 dB\", averages = 4 }");

impl Receiver {
    /// Reads `receiver = { ... }` of the bench; absent, it is ideal.
    pub(crate) fn read(bench: Option<&Table>) -> (Receiver, Stability<Tolerance>) {
        let Some(table) = bench.and_then(|bench| bench.table(RECEIVER)) else {
            let ideal = Receiver {
                noise_db: 0.0,
                averages: 1,
                resolution_db: 0.0,
                floor_db: None,
                noise_floor_db: None,
                saturation_db: None,
            };
            return (ideal, Stability::read(None));
        };
        let stability = Stability::read(Some(&table));
        let receiver = Receiver {
            noise_db: table.read(&NOISE),
            averages: table.read(&AVERAGES) as u32,
            resolution_db: table.read(&RESOLUTION),
            floor_db: table.read(&FLOOR),
            noise_floor_db: table.read(&NOISE_FLOOR),
            saturation_db: table.read(&SATURATION),
        };
        (receiver, stability)
    }

    /// True when a reading needs a draw.
    pub(crate) fn is_noisy(&self) -> bool {
        self.noise_db > 0.0 || self.noise_floor_db.is_some()
    }

    /// The receiver ready to read.
    pub(crate) fn meter(&self) -> Meter {
        let share = 1.0 / f64::from(self.averages).sqrt();
        let sd = (self.noise_db * share) as f32;
        let shown = self.resolution_db >= FINEST_DB;
        Meter {
            is_noisy: self.is_noisy(),
            sd,
            reach: [1.0, -1.0].map(|sign| single::exp(sign * NEPERS_A_DB_OF_POWER * FARTHEST * sd)),
            is_thermal: self.noise_floor_db.is_some(),
            floor_power: self.noise_floor_db.map_or(0.0, |db| scalar::pow(10.0, db / 10.0) as f32),
            share: share as f32,
            floor_db: self.floor_db.map_or(f32::NEG_INFINITY, |db| db as f32),
            ceiling_db: self.saturation_db.map_or(f32::INFINITY, |db| db as f32),
            resolution: if shown { self.resolution_db as f32 } else { 0.0 },
            steps_a_db: if shown { (1.0 / self.resolution_db) as f32 } else { 0.0 },
        }
    }
}

/// Displays finer than this show every digit: single precision has no more.
const FINEST_DB: f64 = 1e-4;

/// dB in a neper of power.
const DB_A_NEPER: f32 = (10.0 / std::f64::consts::LN_10) as f32;
/// Nepers of power in a dB.
pub(crate) const NEPERS_A_DB_OF_POWER: f32 = (std::f64::consts::LN_10 / 10.0) as f32;

/// More than the kernels' errors in the power that a reading stands for: 1e-4 of it, 0.0004 dB.
const MARGIN: f32 = 1e-4;
/// Below this a reading is no power any more but the logarithm's own floor.
const NO_POWER_DB: f32 = -300.0;

/// A receiver in single precision: readings to 3e-7 of their size in dB.
///
/// Besides readings it knows how far one can be from its power, because a draw is never farther than
/// [`FARTHEST`] standard deviations: so codes that cannot win a sweep need not be drawn at all.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Meter {
    /// True when a reading needs a draw.
    pub is_noisy: bool,
    /// Standard deviation of a reading well over the noise floor, dB, averages taken.
    sd: f32,
    /// Factors between a power and the most and the least that a reading of it can stand for, without a noise floor.
    reach: [f32; 2],
    /// True with a noise floor. Kernels are compiled for each case and take it as `THERMAL`, so that work that only a noise
    /// floor needs is not computed without one.
    pub is_thermal: bool,
    floor_power: f32,
    /// One over the root of the averages.
    share: f32,
    floor_db: f32,
    ceiling_db: f32,
    resolution: f32,
    steps_a_db: f32,
}

impl Meter {
    /// The meter of other noise that takes readings to be no farther from their powers than those of `other`.
    #[cfg(test)]
    pub(crate) fn with_reach_of(self, other: &Meter) -> Meter {
        Meter { reach: other.reach, ..self }
    }

    /// The reading of a power over a nominal channel, dB; `deviate` is a standard normal draw.
    #[inline(always)]
    pub(crate) fn read<const THERMAL: bool>(&self, power: f32, deviate: f32) -> f32 {
        self.show(self.level::<THERMAL>(power), self.sd_at::<THERMAL>(power), deviate)
    }

    /// The level that a power reads without noise or display, dB.
    #[inline(always)]
    pub(crate) fn level<const THERMAL: bool>(&self, power: f32) -> f32 {
        DB_A_NEPER * single::ln(if THERMAL { power + self.floor_power } else { power })
    }

    /// The display of a level with noise of standard deviation `sd` and a standard normal draw, dB.
    #[inline(always)]
    pub(crate) fn show(&self, level: f32, sd: f32, deviate: f32) -> f32 {
        let level = level + sd * deviate;
        let level = if level < self.floor_db { self.floor_db } else { level };
        if self.resolution > 0.0 { single::round(level * self.steps_a_db) * self.resolution } else { level }
    }

    /// The same receiver as far as its display: its readings are levels with noise.
    pub(crate) fn without_display(self) -> Meter {
        let (floor_db, ceiling_db) = (f32::NEG_INFINITY, f32::INFINITY);
        Meter { floor_db, ceiling_db, resolution: 0.0, steps_a_db: 0.0, ..self }
    }

    /// The display of a level with noise, dB, by a receiver that saturates, drifts by `drift` dB and stretches levels by `tilt` dB a dB.
    #[inline(always)]
    pub(crate) fn show_unsteady(&self, level: f32, drift: f32, tilt: f32) -> f32 {
        let level = level + drift;
        let level = level + tilt * level;
        let level = if level < self.floor_db { self.floor_db } else { level };
        let level = if level > self.ceiling_db { self.ceiling_db } else { level };
        if self.resolution > 0.0 { single::round(level * self.steps_a_db) * self.resolution } else { level }
    }

    /// The reading of an amplitude over a nominal channel by a receiver of amplitude and phase: noise power of the floor added, the
    /// whole shaken by the receiver's own instability, all over the averages; `deviates` are four standard normal draws.
    #[inline(always)]
    pub(crate) fn read_field(&self, field: [f32; 2], deviates: [f32; 4]) -> [f32; 2] {
        let added = (0.5 * self.floor_power).sqrt() * self.share;
        // An instability of so many nepers shakes amplitude and phase alike.
        let shaken = 0.5 * NEPERS_A_DB_OF_POWER * self.sd;
        let [re, im] = field;
        let [a, b, c, d] = deviates;
        let re = re + shaken * (a * re - b * im) + added * c;
        let im = im + shaken * (a * im + b * re) + added * d;
        let above = self.level::<false>(re * re + im * im) - self.ceiling_db;
        let held = if above > 0.0 { single::exp(-0.5 * NEPERS_A_DB_OF_POWER * above) } else { 1.0 };
        [held * re, held * im]
    }

    /// True when the receiver has a highest level.
    pub(crate) fn saturates(&self) -> bool {
        self.ceiling_db < f32::INFINITY
    }

    /// Standard deviation of a reading, dB; the lower the power the larger.
    #[inline(always)]
    pub(crate) fn sd_at<const THERMAL: bool>(&self, power: f32) -> f32 {
        if !THERMAL {
            return self.sd;
        }
        // (2 P F + F^2)/(P + F)^2, from the floor's share of the total.
        let floor_share = self.floor_power / (power + self.floor_power);
        let thermal = floor_share * (2.0 - floor_share);
        let spread = DB_A_NEPER * self.share;
        (self.sd * self.sd + spread * spread * thermal).sqrt()
    }

    /// Level and standard deviation of a reading of a power, dB.
    pub(crate) fn level_and_sd(&self, power: f32) -> (f32, f32) {
        if self.is_thermal {
            (self.level::<true>(power), self.sd_at::<true>(power))
        } else {
            (self.level::<false>(power), self.sd_at::<false>(power))
        }
    }

    /// A power that no reading of a code can stand for more than, when the code's own power is in `least..=most`.
    #[inline(always)]
    pub(crate) fn most<const THERMAL: bool>(&self, least: f32, most: f32) -> f32 {
        if THERMAL {
            let reach = NEPERS_A_DB_OF_POWER * FARTHEST * self.sd_at::<true>(least);
            (most + self.floor_power) * single::exp(reach)
        } else {
            most * self.reach[0]
        }
    }

    /// A power that no reading of a code can stand for less than, when no power of the code is below `least`.
    #[inline(always)]
    pub(crate) fn least<const THERMAL: bool>(&self, least: f32) -> f32 {
        if THERMAL {
            let reach = NEPERS_A_DB_OF_POWER * FARTHEST * self.sd_at::<true>(least);
            (least + self.floor_power) * single::exp(-reach)
        } else {
            least * self.reach[1]
        }
    }

    /// A power that [`Meter::most`] of every code is above, if the code can read as high as `reading`.
    #[inline(always)]
    pub(crate) fn below(&self, reading: f32) -> f32 {
        let lowest = reading - 0.5 * self.resolution;
        let power = (1.0 - MARGIN) * single::exp(NEPERS_A_DB_OF_POWER * lowest);
        // All codes can read the floor of the display.
        if lowest <= self.floor_db || lowest < NO_POWER_DB { 0.0 } else { power }
    }

    /// The same for a receiver that drifts by `drift` dB at most and stretches levels by `tilt` dB a dB; 0, which all codes are above,
    /// where it does either so much that the rounding of it counts.
    #[inline(always)]
    pub(crate) fn below_unsteady(&self, reading: f32, drift: f32, tilt: f32) -> f32 {
        let shown = reading - 0.5 * self.resolution;
        let lowest = shown / (1.0 + tilt) - drift;
        let power = (1.0 - MARGIN) * single::exp(NEPERS_A_DB_OF_POWER * lowest);
        let is_any = (shown <= self.floor_db) | (lowest < NO_POWER_DB) | !is_fairly_steady(drift, tilt);
        if is_any { 0.0 } else { power }
    }

    /// A power that [`Meter::least`] of every code is below, if the code can read as low as `reading`.
    #[inline(always)]
    pub(crate) fn above(&self, reading: f32) -> f32 {
        (1.0 + MARGIN) * single::exp(NEPERS_A_DB_OF_POWER * (reading + 0.5 * self.resolution))
    }

    /// The same for a receiver that saturates, drifts by `drift` dB at least and stretches levels by `tilt` dB a dB; infinite where all
    /// codes can be the lowest, or it does either so much that the rounding of it counts.
    #[inline(always)]
    pub(crate) fn above_unsteady(&self, reading: f32, drift: f32, tilt: f32) -> f32 {
        let shown = reading + 0.5 * self.resolution;
        let highest = shown / (1.0 + tilt) - drift;
        let power = (1.0 + MARGIN) * single::exp(NEPERS_A_DB_OF_POWER * highest);
        let is_any = (shown >= self.ceiling_db) | !is_fairly_steady(drift, tilt);
        if is_any { f32::INFINITY } else { power }
    }
}

/// Whether rounding in the inverse of the display stays well under [`MARGIN`].
#[inline(always)]
fn is_fairly_steady(drift: f32, tilt: f32) -> bool {
    (drift.abs() < 30.0) & (tilt.abs() < 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn receivers() -> Vec<Receiver> {
        let plain = Receiver {
            noise_db: 0.02,
            averages: 1,
            resolution_db: 0.01,
            floor_db: None,
            noise_floor_db: None,
            saturation_db: None,
        };
        vec![
            plain,
            Receiver { noise_db: 0.0, ..plain },
            Receiver { resolution_db: 0.0, averages: 9, ..plain },
            Receiver { resolution_db: 1.0, floor_db: Some(-20.0), ..plain },
            Receiver { noise_floor_db: Some(-40.0), noise_db: 0.3, ..plain },
        ]
    }

    /// Powers over twelve decades with the deviates at the ends of the generator's range and some between.
    fn cases() -> impl Iterator<Item = (f32, f32)> {
        let powers = (-900..=300).map(|i| scalar::pow(10.0, f64::from(i) / 100.0) as f32);
        powers.flat_map(|power| [-FARTHEST, -1.7, 0.0, 0.4, FARTHEST].map(|z| (power, z)))
    }

    fn read(meter: &Meter, power: f32, z: f32) -> f32 {
        if meter.is_thermal { meter.read::<true>(power, z) } else { meter.read::<false>(power, z) }
    }

    #[test]
    fn a_reading_is_that_of_double_precision() {
        for receiver in receivers() {
            let meter = receiver.meter();
            for (power, z) in cases() {
                let floor = receiver.noise_floor_db.map_or(0.0, |db| scalar::pow(10.0, db / 10.0));
                let (p, z64) = (f64::from(power), f64::from(z));
                let thermal = (2.0 * p * floor + floor * floor) / ((p + floor) * (p + floor));
                let spread = 10.0 / std::f64::consts::LN_10;
                let variance = receiver.noise_db.powi(2) + spread * spread * thermal;
                let sd = (variance / f64::from(receiver.averages)).sqrt();
                let level = 10.0 * scalar::log10(p + floor) + sd * z64;
                let level = receiver.floor_db.map_or(level, |floor| level.max(floor));
                // Half a display step when the level is midway, else the kernels' error.
                let bound = 0.501 * receiver.resolution_db + 3e-7 * (level.abs() + 40.0);
                let found = f64::from(read(&meter, power, z));
                assert!((found - level).abs() <= bound, "{receiver:?} {power} {z}: {found} not {level}");
            }
        }
    }

    /// The lemma behind leaving codes out: what reads at least `reading` has a bound above `below(reading)`, and
    /// what reads at most `reading` one below `above(reading)`.
    #[test]
    fn the_bounds_hold_at_the_ends_of_the_draws() {
        for meter in receivers().iter().map(Receiver::meter) {
            for (power, z) in cases() {
                let reading = read(&meter, power, z);
                for lower in [power, 0.5 * power] {
                    let [most, least] = if meter.is_thermal {
                        [meter.most::<true>(lower, power), meter.least::<true>(lower)]
                    } else {
                        [meter.most::<false>(lower, power), meter.least::<false>(lower)]
                    };
                    assert!(most >= meter.below(reading), "{meter:?} {power} {z}");
                    assert!(least <= meter.above(reading), "{meter:?} {power} {z}");
                }
            }
        }
    }

    #[test]
    fn the_bounds_leave_out_what_is_far_away() {
        let meter = receivers()[0].meter();
        // 0.27 dB under the best power nothing can win with noise of 0.02 dB: 6.66 standard deviations each way.
        let power = scalar::pow(10.0, -0.0267 - 0.0007) as f32;
        assert!(meter.most::<false>(power, power) < meter.below(-0.02 * FARTHEST));
        assert!(meter.least::<false>(1.0 / power) > meter.above(0.02 * FARTHEST));
    }
}
