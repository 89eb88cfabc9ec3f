//! Receiver noise in the readings of a method, for its formulas.

use super::Sweep;
use crate::bench::receiver::NEPERS_A_DB_OF_POWER;
use crate::bench::{Code, Meter, Receiver};
use crate::math::{TAU, elementary};

/// A receiver that reads a pair of like channels.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Readout {
    meter: Meter,
    resolution_db: f64,
    /// Mean square by which the gains of the two arms differ, nepers squared.
    pub unlike: f64,
}

/// Sensitivity of the phase (rad) that a channel is found ahead by to the errors of one state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct StateShare {
    /// The state.
    pub code: Code,
    /// Of its phase error, rad.
    pub phase: f64,
    /// Of its gain error, nepers.
    pub gain: f64,
}

impl Readout {
    /// Of a receiver as a plan uses it.
    pub(crate) fn new(receiver: &Receiver, unlike: f64) -> Readout {
        Readout { meter: receiver.meter(), resolution_db: receiver.resolution_db, unlike }
    }

    /// Variance of a reading of a power over a nominal channel, dB squared: noise, and the display's q^2/12 (JCGM 100:2008, F.2.2.1).
    pub(crate) fn variance_db(&self, power: f64) -> f64 {
        let sd = f64::from(self.meter.level_and_sd(power as f32).1);
        let sd = if self.meter.is_noisy { sd } else { 0.0 };
        sd * sd + self.resolution_db * self.resolution_db / 12.0
    }

    /// The level that a power reads, dB.
    pub(super) fn level(&self, power: f64) -> f64 {
        f64::from(self.meter.level_and_sd(power as f32).0)
    }

    /// The variance of a reading as one of the power that it stands for.
    pub(super) fn variance_of_power(&self, power: f64) -> f64 {
        let read = f64::from(crate::math::single::exp(NEPERS_A_DB_OF_POWER * self.level(power) as f32));
        let nepers = f64::from(NEPERS_A_DB_OF_POWER) * read;
        nepers * nepers * self.variance_db(power)
    }
}

/// The shares of a method that finds one whole code, where the pair's angle is nearest to `at`.
pub(super) fn of_one_code(sweep: &Sweep, angle: f64, at: f64) -> Vec<StateShare> {
    let steps = elementary::round((at - angle) / TAU * sweep.states as f64);
    let code = steps as i64 as Code & (sweep.states as Code - 1);
    vec![StateShare { code, phase: 1.0, gain: 0.0 }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Method;

    fn readout(noise_db: f64, unlike: f64) -> Readout {
        let receiver = Receiver {
            noise_db,
            averages: 1,
            resolution_db: 0.0,
            floor_db: None,
            noise_floor_db: None,
            saturation_db: None,
        };
        Readout::new(&receiver, unlike)
    }

    /// Phase (deg rms) by noise in dB on equal arms, s sqrt(2.5/K) in linear power: values of K, dB, deg by brute force, own derivation.
    #[test]
    fn noise_on_a_fit() {
        for (count, noise_db, degrees) in [(8, 0.1, 0.7375), (16, 0.1, 0.5215), (64, 0.5, 1.304)] {
            let sweep = Sweep::new(64, count);
            let found = Method::Fit.variance(&sweep, &readout(noise_db, 0.0)).unwrap().sqrt().to_degrees();
            assert!((found - degrees).abs() < 2e-3 * degrees, "{count}: {found}");
            // For contrast: noise that is added, 2 in place of 2.5.
            assert!((found * 0.8f64.sqrt() - degrees).abs() > 0.05 * degrees);
        }
    }

    /// NumPy 2.4.6, the lowest of a sweep of noisy readings, 1e5 angles: bits, noise (dB), arms unlike (nepers squared), mean square
    /// (rad squared) and its standard error.
    #[test]
    fn noise_on_a_null() {
        for (states, noise_db, unlike, square, error) in [
            (64, 0.015, 1e-3, 8.0513e-4, 2.27e-6),
            (32, 0.2, 2e-3, 3.2078e-3, 9.1e-6),
            (64, 0.3, 5e-4, 8.0870e-4, 2.29e-6),
            (64, 1.0, 1e-3, 8.3199e-4, 2.49e-6),
        ] {
            let sweep = Sweep::new(states, states);
            let step = TAU / states as f64;
            let found =
                step * step / 12.0 + Method::Null.variance(&sweep, &readout(noise_db, unlike)).unwrap();
            assert!((found - square).abs() < 4.0 * error, "{noise_db}: {found} not {square}");
        }
        // For contrast: without noise, the last of them is missed; and where more codes compete there is no formula.
        let step = TAU / 64.0;
        assert!((step * step / 12.0 - 8.3199e-4).abs() > 4.0 * 2.49e-6);
        let sweep = Sweep::new(64, 64);
        assert_eq!(Method::Null.variance(&sweep, &readout(20.0, 1e-3)), None);
    }

    /// A phase error common to all states is found whole, one common gain error not at all.
    #[test]
    fn what_all_states_share_is_found() {
        for (method, count) in [(Method::Fit, 16), (Method::Null, 64), (Method::Peak, 64)] {
            let shares = method.shares(&Sweep::new(64, count), 0.7);
            let [phase, gain] =
                [shares.iter().map(|of| of.phase).sum::<f64>(), shares.iter().map(|of| of.gain).sum()];
            assert!((phase - 1.0).abs() < 1e-12 && gain.abs() < 1e-12, "{method:?}: {phase}, {gain}");
        }
    }
}
