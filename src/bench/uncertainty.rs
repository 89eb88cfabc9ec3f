//! Uncertainty of the phases that a calibration finds.

use crate::bench::method::Sweep;
use crate::bench::{Align, Code, CodeTable, LiveChannels, Of, Pairs, Reading, Readout};
use crate::math::TAU;
use std::collections::HashMap;

/// Standard uncertainty (JCGM 100:2008, 2.3.1) of a phase over the reference's, rad. It holds the parts of readings and rounding, for like
/// channels at their nominal level; not those of cables and coupler, which no reading shows, nor of measured states.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Uncertainty {
    /// By the stated noise of the receiver, and by rounding to whole codes; `None` where there is no formula.
    pub by_receiver: Option<f64>,
    /// By the residuals of the fitted sinusoids, whatever the cause: noise, or states that are off. `None` where none
    /// is fitted, or readings are missing.
    pub by_residual: Option<f64>,
}

impl<const W: usize> CodeTable<W> {
    /// Standard uncertainty of each phase of a unit, `[channel]`: 0 for the reference, none for channels known to be dead and where
    /// all channels are on at once. `readings` are those that the table was made by, in their order; of a pair that was joined again
    /// the last count.
    ///
    /// Formula: u^2 is s^2 of a pair in a star; the sum over the links to the reference in a chain; 1/N^2 (4 s_rk^2 + the sum over the other
    /// channels i of s_ik^2 + s_ir^2) in all pairs of N. s^2 of a pair is the method's variance, by halves where arms are exchanged,
    /// and q^2/12 where whole codes q are found, which is alike with the arms exchanged. Units: rad. Source: law of propagation of uncertainty, JCGM
    /// 100:2008, 5.1.2 and F.2.2.1; all pairs by the means that solve them, own derivation.
    pub(crate) fn uncertainty(
        &self,
        lane: usize,
        align: &Align,
        live: &LiveChannels<W>,
        readout: &Readout,
        readings: &[Reading],
    ) -> Vec<Uncertainty> {
        let channels = self.phase.len();
        let Some(pairs) = align.pairs() else {
            return vec![Uncertainty::default(); channels];
        };
        let Pairs { method, sweep, pairing, swaps_arms } = pairs;
        let step = TAU / sweep.states() as f64;
        let rounding = if method.finds_whole_codes() { step * step / 12.0 } else { 0.0 };
        let halved = if *swaps_arms { 0.5 } else { 1.0 };
        let of_receiver = method.variance(sweep, readout).map(|variance| halved * variance + rounding);
        let of_sweeps = self.by_residual(lane, pairs, readings);
        let of_sweep = |pair: [usize; 2], is_swapped| of_sweeps.get(&(pair, is_swapped)).copied();
        let of_residual = |pair: [usize; 2]| match swaps_arms {
            false => of_sweep(pair, false),
            true => Some(0.25 * (of_sweep(pair, false)? + of_sweep(pair, true)?)),
        };
        let live_ones: Vec<usize> = (0..channels).filter(|channel| live.is_live(*channel, lane)).collect();
        let reference = live.reference(lane);
        let of_channel = |channel| {
            if !live.is_live(channel, lane) {
                return Uncertainty::default();
            }
            let pair = [reference, channel];
            let by_receiver = pairing.variance(&live_ones, pair, |_| of_receiver);
            let by_residual = pairing.variance(&live_ones, pair, of_residual);
            Uncertainty { by_receiver: by_receiver.map(f64::sqrt), by_residual: by_residual.map(f64::sqrt) }
        };
        (0..channels).map(of_channel).collect()
    }

    /// Variance of the phase that each sweep found, by its residual, for the pair of reference and stepped channel, and whether its arms were
    /// exchanged.
    fn by_residual(
        &self,
        lane: usize,
        Pairs { method, sweep, .. }: &Pairs,
        readings: &[Reading],
    ) -> HashMap<([usize; 2], bool), f64> {
        let states = sweep.states();
        let of_sweep = |readings: &[Reading]| {
            // Where the reference was turned, a state was measured by it: no sweep of the stepped channel.
            let Of::Pair { pair, turned: 0 } = readings[0].of else { return None };
            if readings.len() != sweep.codes().len() {
                return None;
            }
            let turn = |code: Code| match self.measured.phases() {
                Some(measured) => f64::from(measured[pair.stepped * states + code as usize][lane]),
                None => TAU * f64::from(code) / states as f64,
            };
            let variance = method.variance_by_residual(&Sweep::samples(readings, turn))?;
            Some((([pair.reference, pair.stepped], pair.is_swapped), variance))
        };
        readings.chunk_by(|one, next| one.of == next.of).filter_map(of_sweep).collect()
    }
}

#[cfg(test)]
mod tests;
