//! A coarse sweep, then the codes around its peak.

use super::{Caution, PairMethod, StateShare, Steps, Sweep, SweepScratch, readout};
use crate::bench::{Bench, Code, Receiver};

/// Codes of the coarse sweep where the study does not say.
const USUAL_CODES: usize = 8;

/// Peak of a coarse sweep of `codes` evenly spread codes, then of all codes between its two neighbours.
///
/// Ties and plateaus: the code that was read first, coarse before fine and low before high. Noise: a coarse peak
/// beside the right one leaves the fine codes on its slope, where the nearest end wins. Readings: K + 2 (M/K - 1) in place of M, where K
/// does not divide M one more or one less.
/// Source: common practice, no source.
/// No formula for the variance: the peak is flat, so that noise, display and the gains of states choose between many codes.
pub(crate) struct CoarseFine;

impl PairMethod for CoarseFine {
    const KIND: &'static str = "coarse_fine";
    const TAKES_CODES: bool = true;

    fn usual_codes(states: usize) -> usize {
        states.min(USUAL_CODES)
    }

    fn shares(sweep: &Sweep, angle: f64) -> Vec<StateShare> {
        readout::of_one_code(sweep, angle, 0.0)
    }

    fn solve<D: Bench<W>, const W: usize>(
        sweep: &Sweep,
        steps: Option<Steps<W>>,
        bench: &mut D,
        scratch: &mut SweepScratch<W>,
    ) -> Result<[f32; W], D::Fault> {
        let states = sweep.states as Code;
        let mut best = [f32::NEG_INFINITY; W];
        let mut at = [0; W];
        let mut take = |codes: &[Code; W], takes: &[bool; W], reading: &[f32; W]| {
            for l in 0..W {
                let is_better = takes[l] & (reading[l] > best[l]);
                at[l] = if is_better { codes[l] } else { at[l] };
                best[l] = if is_better { reading[l] } else { best[l] };
            }
            at
        };
        let mut coarse = [0; W];
        scratch.readings.resize(sweep.codes.len(), [0.0; W]);
        bench.sweep(&sweep.codes, &mut scratch.readings)?;
        for (code, reading) in sweep.codes.iter().zip(&scratch.readings) {
            coarse = take(&[*code; W], &[true; W], reading);
        }
        // Codes to the neighbour below, and to the one above.
        let gaps = coarse.map(|code| sweep.gaps(code));
        let widest = states.div_ceil(sweep.codes.len() as Code);
        let mut found = coarse;
        for (side, away) in (1..widest).rev().map(|away| (0, away)).chain((1..widest).map(|away| (1, away))) {
            let takes = gaps.map(|gaps| away < gaps[side]);
            let code = |code: Code| (if side == 0 { code + states - away } else { code + away }) % states;
            if takes.contains(&true) {
                let codes = coarse.map(code);
                found = take(&codes, &takes, &bench.read_each(&codes, &takes)?);
            }
        }
        Ok(sweep.phases(&found, steps))
    }

    fn caution(step: f64, receiver: &Receiver) -> Option<Caution> {
        Caution::of_flat_top(step, receiver)
    }

    fn title(codes: usize) -> String {
        format!("the peak of {codes} codes, then of those around it")
    }

    fn stepping(_: &str) -> String {
        "evenly spread codes, then those around the highest".into()
    }

    const RESULT: &'static str = "the code with the highest";
}
