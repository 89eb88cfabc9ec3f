//! Two channels in the arms of the coupler.

use super::{SINGLE_NEPERS_A_DB, SimulatedBench, polar};
use crate::bench::{Code, Pair, Port, Reconnection};
use crate::engine::compression::over;
use crate::math::Complex;
use crate::random::Value;

impl<const W: usize> SimulatedBench<'_, W> {
    /// Amplitudes of a pair with both shifters at code 0, what the arms do included.
    pub(super) fn arms(&mut self, pair: &Pair) -> [Complex<W>; 2] {
        if self.view().is_whole {
            return self.two_in_the_air(pair);
        }
        let model = self.model;
        let Pair { reference, stepped, is_swapped, reconnection, round } = *pair;
        let mut of_reference = match self.room.reference {
            Some((channel, amplitude)) if channel == reference => amplitude,
            _ => {
                let amplitude = self.at_code(reference, 0);
                self.room.reference = Some((reference, amplitude));
                amplitude
            }
        };
        let mut of_stepped = self.room.amplitude[stepped];
        let fixture = &model.fixture;
        if fixture.is_ideal() {
            return [of_reference, of_stepped];
        }
        let against = (reconnection == Reconnection::Anew).then_some(reference);
        let slot = Port::Stepped.slot(round, against);
        if against.is_none() {
            self.connect(&fixture.reconnection_gain, slot);
            self.connect(&fixture.reconnection_phase, slot);
        }
        let is_imbalanced = !is_swapped;
        of_stepped = of_stepped * self.arm(is_imbalanced, slot, stepped);
        if reconnection == Reconnection::Anew {
            let slot = Port::Reference.slot(round, Some(stepped));
            of_reference = of_reference * self.arm(is_swapped, slot, reference);
        }
        [of_reference, of_stepped]
    }

    /// What an arm does to a channel: the coupler's imbalance, where it has it, and the cable's repeatability.
    pub(super) fn arm(&self, is_imbalanced: bool, slot: u32, channel: usize) -> Complex<W> {
        let fixture = &self.model.fixture;
        let sum = |[imbalance, repeatability]: [&Value; 2]| -> [f32; W] {
            let drawn = self.connection(repeatability, slot, channel);
            let (of_coupler, nominal) = if is_imbalanced {
                (imbalance.deviation_at(self.draws, 0, channel), imbalance.nominal)
            } else {
                (const { &[0.0; W] }, 0.0)
            };
            let common = (nominal + repeatability.nominal) as f32;
            std::array::from_fn(|l| common + (of_coupler[l] + drawn[l]))
        };
        let db = sum([&fixture.gain_imbalance, &fixture.reconnection_gain]);
        let phase = sum([&fixture.phase_imbalance, &fixture.reconnection_phase]);
        polar(&db.map(|db| SINGLE_NEPERS_A_DB * db), &phase)
    }

    /// The reference's arm with its shifter turned to a code.
    pub(super) fn turned(&self, reference: usize, code: Code) -> Complex<W> {
        // From code 0 to where it is turned.
        let (from, to) = (self.state(reference, 0), self.state(reference, code));
        self.room.arms[0] * polar(&over(&to[0], &from[0]), &over(&to[1], &from[1]))
    }
}

/// Number of the channel that a pair is held against, where it meets it anew; 0 where there is but one.
pub(super) fn meets(pair: &Pair) -> u32 {
    if pair.reconnection == Reconnection::Anew { pair.reference as u32 + 1 } else { 0 }
}
