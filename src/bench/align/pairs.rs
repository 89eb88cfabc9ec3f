//! Pairs of channels through the coupler.

use super::{PAIRING, Pairing, PassState, Phased, SWAP_ARMS, square};
use crate::bench::method::{Method, Sweep, SweepScratch};
use crate::bench::{Bench, Fixture, Pair, Readout, Reconnection};
use crate::io::Table;
use crate::math::single::within_half_a_turn;

/// Pairs that are measured one after the other.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Pairs {
    /// How the phase of a pair is found.
    pub method: Method,
    /// The codes that one of its shifters is stepped through.
    pub sweep: Sweep,
    /// Which pairs.
    pub pairing: Pairing,
    /// Every pair is measured a second time with its arms exchanged, and the two phases are averaged. Four connections make a
    /// phase then, each made for it alone.
    pub swaps_arms: bool,
}

impl Pairs {
    pub(super) fn read(table: &Table, method: Method, states: usize) -> Pairs {
        Pairs {
            method,
            sweep: method.read_sweep(table, states),
            pairing: table.read(&PAIRING),
            swaps_arms: table.read(&SWAP_ARMS),
        }
    }

    pub(super) fn run<D: Bench<W>, const W: usize>(
        &self,
        bench: &mut D,
        pass: &PassState<W>,
        scratch: &mut SweepScratch<W>,
        phase: &mut [[f32; W]],
    ) -> Result<(), D::Fault> {
        self.pairing.run(&mut Joining { pairs: self, pass, bench, scratch }, phase)
    }

    /// The residual errors that pairs leave in `channels` channels, rad squared.
    ///
    /// Formula: independent errors s^2 of pairs and an error c that all pairs share count as the pairing has it
    /// ([`Pairing::leaves`]). A pair moves one cable or two, each of r^2; exchanged arms are four cables and half of each, and
    /// share nothing. Source: own derivation.
    pub(crate) fn leaves(&self, channels: usize, readout: &Readout, fixture: &Fixture) -> Phased {
        let (own, shared) = self.pairing.leaves(channels as f64);
        let cables = if self.swaps_arms { 1.0 } else { self.pairing.cables() };
        let halved = if self.swaps_arms { 0.5 } else { 1.0 };
        Phased {
            readings: self.method.variance(&self.sweep, readout).map(|variance| own * halved * variance),
            connections: own * cables * square(&fixture.reconnection_phase),
            coupler: if self.swaps_arms { 0.0 } else { shared * square(&fixture.phase_imbalance) },
            probe: 0.0,
        }
    }

    pub(super) fn title(&self, reference: usize) -> String {
        let pairs = self.pairing.title(reference);
        let method = self.method.title(self.sweep.codes().len());
        let swapped = if self.swaps_arms { ", the arms exchanged and averaged" } else { "" };
        format!("{pairs} by {method}{swapped}")
    }
}

/// A bench that joins one pair after the other.
pub(super) struct Joining<'a, 'k, D, const W: usize> {
    pub pairs: &'a Pairs,
    pub pass: &'a PassState<'k, W>,
    bench: &'a mut D,
    scratch: &'a mut SweepScratch<W>,
}

impl<D: Bench<W>, const W: usize> Joining<'_, '_, D, W> {
    /// The phase that `stepped` must add to come into phase with `reference`, rad, in some lanes.
    pub(super) fn measure(
        &mut self,
        reference: usize,
        stepped: usize,
        reconnection: Reconnection,
        lanes: &[bool; W],
    ) -> Result<[f32; W], D::Fault> {
        let steps = self.pass.steps_of(stepped);
        let round = self.pass.round;
        let pair = Pair { reference, stepped, is_swapped: false, reconnection, round };
        self.bench.join(pair, lanes)?;
        let mut phase = self.pairs.method.solve(&self.pairs.sweep, steps, self.bench, self.scratch)?;
        phase.iter_mut().for_each(|phase| *phase += self.pass.imbalance);
        if self.pairs.swaps_arms {
            self.bench.join(Pair { is_swapped: true, round: round + 1, ..pair }, lanes)?;
            let other = self.pairs.method.solve(&self.pairs.sweep, steps, self.bench, self.scratch)?;
            for l in 0..W {
                // Exchanged arms turn the imbalance's sign.
                phase[l] += 0.5 * within_half_a_turn(other[l] - self.pass.imbalance - phase[l]);
            }
        }
        Ok(phase)
    }
}
