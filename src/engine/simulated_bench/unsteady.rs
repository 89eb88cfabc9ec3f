//! Readings of a receiver that drifts, stretches levels or saturates: one after the other, each at its time.

use super::SimulatedBench;
use crate::bench::NEPERS_A_DB_OF_POWER;
use crate::math::single;
use crate::random::draw;

/// Where the receiver's gain has wandered to.
#[derive(Clone, Debug)]
pub(super) struct Wander<const W: usize> {
    /// The random walk, dB.
    walk: [f32; W],
    /// Time of the last reading since set-up, s.
    at: [f64; W],
    /// Readings taken.
    count: [u32; W],
}

impl<const W: usize> Default for Wander<W> {
    fn default() -> Wander<W> {
        Wander { walk: [0.0; W], at: [0.0; W], count: [0; W] }
    }
}

impl<const W: usize> SimulatedBench<'_, W> {
    /// What is displayed of levels and noise, dB, at the time that the work done so far has taken. Only lanes that take the
    /// reading move on in time.
    pub(super) fn show_unsteady(
        &mut self,
        level: &[f32; W],
        noise: &[f32; W],
        takes: &[bool; W],
    ) -> [f32; W] {
        let stability = &self.model.stability;
        let tilt = stability.linearity.deviation_at(self.draws, 0, 0);
        let tilt: [f32; W] = std::array::from_fn(|l| stability.linearity.nominal as f32 + tilt[l]);
        let drift = if stability.drifts() { self.drift(takes) } else { [0.0; W] };
        std::array::from_fn(|l| self.meter.show_off(level[l], noise[l], drift[l], tilt[l]))
    }

    /// A channel read alone at a level, dB, with standard normal draws.
    pub(super) fn read_one_alone(
        &mut self,
        level: &[f32; W],
        deviates: &[f32; W],
        takes: &[bool; W],
    ) -> [f32; W] {
        let power = level.map(|db| single::exp(db * NEPERS_A_DB_OF_POWER));
        let (mut shown, mut noise) = ([0.0; W], [0.0; W]);
        for l in 0..W {
            let (level, sd) = self.meter.level_and_sd(power[l]);
            shown[l] = level;
            noise[l] = if self.meter.is_noisy { sd * deviates[l] } else { 0.0 };
        }
        self.show_unsteady(&shown, &noise, takes)
    }

    /// The drift of this moment, dB.
    fn drift(&mut self, takes: &[bool; W]) -> [f32; W] {
        let (model, stability) = (self.model, &self.model.stability);
        let seconds: [f64; W] = model.clock.seconds(&self.room.work, self.averages);
        let wander = &mut self.room.wander;
        if stability.walk_db > 0.0 {
            // A step of the walk belongs to the reading that it leads to, whichever lanes read besides.
            let counts = wander.count;
            let steps = draw::normal_block::<W>(model.noise.walk, self.first_trial, |l| counts[l] / 4, 0);
            for l in (0..W).filter(|l| takes[*l]) {
                let since = seconds[l] - model.clock.set_up - wander.at[l];
                wander.walk[l] += stability.walk_over(since) * steps[counts[l] as usize % 4][l];
            }
        }
        let warm_up = stability.warm_up.deviation_at(self.draws, 0, 0);
        let mut drift = [0.0; W];
        for l in (0..W).filter(|l| takes[*l]) {
            wander.at[l] = seconds[l] - model.clock.set_up;
            wander.count[l] += 1;
            let gained = (stability.warm_up.nominal as f32 + warm_up[l]) * stability.warmed(wander.at[l]);
            drift[l] = wander.walk[l] + gained;
        }
        drift
    }
}
