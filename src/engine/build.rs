//! From the draws to channels.

use crate::chain::{Conditions, Side};
use crate::engine::batch::Batch;
use crate::engine::channels::Sums;
use crate::engine::compression::Inputs;
use crate::model::Model;

/// Makes every channel's gain and phase from the draws: as benches see it, and as it radiates under all conditions in use,
/// the stepped blocks at code 0 but for their states' errors.
pub(super) fn build<const W: usize>(model: &Model, batch: &mut Batch<W>) {
    let Batch { draws, sums, seen, seen_inputs, radiating, radiating_inputs, dead, field, .. } = batch;
    let mut inputs = Inputs::default();
    let add = |sums: &mut Sums<W>, inputs: &mut Inputs<W>, side, conditions: &Conditions| {
        let Sums { gain, phase } = sums;
        model.chain.add(side, conditions, draws, gain, phase, |gain| inputs.push(gain));
    };
    // What stands before the plane is often there already.
    let mut is_before_there = None;
    for ((seen, seen_inputs), view) in seen.iter_mut().zip(seen_inputs).zip(&model.views).rev() {
        sums.begin(&model.head_start);
        inputs.clear();
        add(sums, &mut inputs, Side::Before, &view.at);
        is_before_there = (!view.is_whole).then_some(view.at);
        if view.is_whole {
            add(sums, &mut inputs, Side::Behind, &view.at);
        }
        seen.take(sums);
        seen_inputs.clone_from(&inputs);
    }
    for ((radiating, radiating_inputs), conditions) in
        radiating.iter_mut().zip(radiating_inputs).zip(&model.conditions)
    {
        if is_before_there != Some(*conditions) {
            sums.begin(&model.head_start);
            inputs.clear();
            add(sums, &mut inputs, Side::Before, conditions);
        }
        is_before_there = None;
        add(sums, &mut inputs, Side::Behind, conditions);
        radiating.take(sums);
        radiating_inputs.clone_from(&inputs);
    }
    if !model.dead.fate.is_zero() {
        *dead = [0; W];
        field.dead.resize(model.channels(), [false; W]);
        for (channel, is_dead) in field.dead.iter_mut().enumerate() {
            *is_dead = model.dead.fate.deviation_at(draws, 0, channel).map(|fate| fate != 0.0);
            for l in 0..W {
                dead[l] += u32::from(is_dead[l]);
            }
            seen.iter_mut().chain(&mut *radiating).for_each(|channels| channels.mute(channel, is_dead));
        }
    }
}
