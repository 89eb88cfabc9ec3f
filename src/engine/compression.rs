//! Amplifiers that compress, driven by what really reaches them: it depends on where the stepped blocks before them stand.

use crate::chain::{Compression, Conditions, NEPERS_A_DB};
use crate::model::Model;
use crate::random::Draws;
use multiversion::multiversion;

/// Gain of every channel up to each amplifier that compresses, nepers over nominal, stepped blocks at code 0, `[amplifier][channel]`.
#[derive(Clone, Debug, Default)]
pub(super) struct Inputs<const W: usize>(Vec<Vec<[f32; W]>>);

impl<const W: usize> Inputs<W> {
    /// None yet.
    pub(super) fn clear(&mut self) {
        self.0.clear();
    }

    /// The gains up to the next one.
    pub(super) fn push(&mut self, gain: &[[f64; W]]) {
        self.0.push(gain.iter().map(|gain| gain.map(|nepers| nepers as f32)).collect());
    }
}

/// The amplifiers of a chain that compress, under some conditions.
#[derive(Clone, Debug)]
pub(super) struct Compressor<'p> {
    stages: Vec<Stage<'p>>,
    /// Level each channel has by design, dB over a nominal one, `[channel]`.
    taper_db: &'p [f64],
}

#[derive(Clone, Copy, Debug)]
struct Stage<'p> {
    curve: Compression<'p>,
    is_behind_attenuator: bool,
    is_behind_shifter: bool,
}

/// Gains that the stepped blocks of one channel add where they stand, nepers.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stepped<'a, const W: usize> {
    pub attenuator: &'a [f32; W],
    pub shifter: &'a [f32; W],
}

const SINGLE_NEPERS_A_DB: f32 = NEPERS_A_DB as f32;

impl<'p> Compressor<'p> {
    /// Those of the whole chain, or of what stands before the reference plane; `None` where nothing compresses.
    pub(super) fn new(model: &'p Model, at: &Conditions, is_whole: bool) -> Option<Compressor<'p>> {
        let chain = &model.chain;
        if !chain.compresses() {
            return None;
        }
        let end = if is_whole { usize::MAX } else { chain.plane() };
        let stages = chain.compressing(at).filter(|(block, _)| *block < end).map(|(block, curve)| Stage {
            curve,
            is_behind_attenuator: chain.attenuator_place().is_some_and(|place| place < block),
            is_behind_shifter: chain.shifter_place() < block,
        });
        let stages: Vec<Stage> = stages.collect();
        (!stages.is_empty()).then_some(Compressor { stages, taper_db: &model.hardware.wanted_db })
    }

    /// Adds what all of them do to one channel over the drawing: nepers, rad. One amplifier's compression lowers the next
    /// one's drive.
    #[inline(always)]
    pub(super) fn add<const W: usize>(
        &self,
        inputs: &Inputs<W>,
        draws: &Draws<W>,
        channel: usize,
        stepped: Stepped<W>,
        gain: &mut [f32; W],
        phase: &mut [f32; W],
    ) {
        let mut compressed = [0.0; W];
        for (stage, input) in self.stages.iter().zip(&inputs.0) {
            let nominal = stage.curve.nominal_input_dbm() + self.taper_db[channel] as f32;
            let mut level = [0.0; W];
            for l in 0..W {
                let mut nepers = input[channel][l] + compressed[l];
                nepers += if stage.is_behind_attenuator { stepped.attenuator[l] } else { 0.0 };
                nepers += if stage.is_behind_shifter { stepped.shifter[l] } else { 0.0 };
                level[l] = nominal + nepers / SINGLE_NEPERS_A_DB;
            }
            stage.curve.add(draws, channel, &level, &mut compressed, phase);
        }
        for l in 0..W {
            gain[l] += compressed[l];
        }
    }
}

/// Adds what all amplifiers do to every channel, from gains as the units are built, with the attenuators set and with the shifters too:
/// nepers, rad, `[channel][lane]`.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn compress_all<const W: usize>(
    compressor: &Compressor,
    inputs: &Inputs<W>,
    draws: &Draws<W>,
    built: &[[f32; W]],
    attenuated: &[[f32; W]],
    gain: &mut [[f32; W]],
    phase: &mut [[f32; W]],
) {
    let stands = built.iter().zip(attenuated).enumerate();
    for ((channel, (built, attenuated)), (gain, phase)) in stands.zip(gain.iter_mut().zip(phase)) {
        let (attenuator, shifter) = (over(attenuated, built), over(gain, attenuated));
        compressor.add(
            inputs,
            draws,
            channel,
            Stepped { attenuator: &attenuator, shifter: &shifter },
            gain,
            phase,
        );
    }
}

/// The difference of two gains, `[lane]`.
#[inline(always)]
pub(super) fn over<const W: usize>(gain: &[f32; W], base: &[f32; W]) -> [f32; W] {
    let mut over = [0.0; W];
    for l in 0..W {
        over[l] = gain[l] - base[l];
    }
    over
}
