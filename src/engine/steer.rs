//! Beams set on calibrated units.

use crate::bench::{Code, CodeTable, Command, ShifterSetting};
use crate::chain::{Conditions, PhaseShifter};
use crate::engine::batch::Batch;
use crate::engine::calibrate::set_attenuators;
use crate::engine::channels::Channels;
use crate::engine::compression::{Compressor, compress_all};
use crate::engine::coupling::couple;
use crate::engine::unrounded::reach_phases;
use crate::figure::Field;
use crate::model::Model;
use crate::random::Draws;
use multiversion::multiversion;

/// Sets the codes for a beam and takes the channels, coupled where elements couple, as seen from its direction.
pub(super) fn steer<const W: usize>(
    model: &Model,
    calibration: usize,
    look_number: usize,
    batch: &mut Batch<W>,
) {
    let point = &model.points[look_number];
    let conditions = point.conditions;
    let table = model.courses[calibration].chosen[look_number];
    set_attenuators(model, conditions, table, batch);
    let Batch { draws, radiating, radiating_inputs, attenuated, tables, field, codes, coupled, .. } = batch;
    let (at, attenuated, table) = (&model.conditions[conditions], &attenuated[conditions], &tables[table]);
    let commands = &model.commands[look_number];
    steer_channels(model.chain.shifter(), at, commands, &point.path, draws, attenuated, table, codes, field);
    if model.hardware.unrounded.shifter {
        reach_phases(model.chain.shifter().states(), commands, table, codes, field);
    }
    if let Some(compressor) = Compressor::new(model, at, true) {
        let (radiating, inputs) = (&radiating[conditions], &radiating_inputs[conditions]);
        let Field { gain, phase, .. } = field;
        compress_all(&compressor, inputs, draws, &radiating.gain, &attenuated.gain, gain, phase);
    }
    if let Some(coupling) = &model.coupling {
        couple(coupling, model, point, draws, coupled, field);
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
#[allow(clippy::too_many_arguments, reason = "the parts of a batch, each borrowed its own way")]
fn steer_channels<const W: usize>(
    shifter: &PhaseShifter,
    at: &Conditions,
    commands: &[Command],
    path: &[f32],
    draws: &Draws<W>,
    attenuated: &Channels<W>,
    table: &CodeTable<W>,
    codes: &mut [[Code; W]],
    field: &mut Field<W>,
) {
    let setting = ShifterSetting { offsets: table.offsets, states: shifter.states() };
    let step = shifter.step() as f32;
    let measured = table.measured.phases();
    for (channel, (command, codes)) in commands.iter().zip(&mut *codes).enumerate() {
        let steps = measured.map(|measured| &measured[channel * shifter.states()..][..shifter.states()]);
        setting.codes_by(command, &table.phase[channel], steps, codes);
    }
    for channel in 0..commands.len() {
        let (gain, phase) = (&attenuated.gain[channel], &attenuated.phase[channel]);
        let (to_gain, to_phase) = (&mut field.gain[channel], &mut field.phase[channel]);
        let (codes, path) = (&codes[channel], path[channel]);
        for l in 0..W {
            to_gain[l] = gain[l];
            to_phase[l] = phase[l] + path + step * (codes[l] as i32 as f32);
        }
    }
    shifter.add_states(at, draws, 0, codes, &mut field.gain, &mut field.phase);
}
