//! The model on one page: what happens to one batch of virtual units.

use crate::bench::{Code, CodeTable, Command, ShifterSetting};
use crate::chain::{Conditions, PhaseShifter};
use crate::engine::batch::Batch;
use crate::engine::build::build;
use crate::engine::calibrate::{calibrate, set_attenuators};
use crate::engine::channels::Channels;
use crate::engine::compression::{Compressor, Stepped, over};
use crate::engine::coupling::couple;
use crate::engine::outcomes::{Outcomes, PlanOutcomes};
use crate::engine::unrounded::reach_phases;
use crate::figure::{Field, Look};
use crate::plan::Plan;
use crate::random::Draws;
use multiversion::multiversion;
use std::ops::ControlFlow;

/// Trials in flight at once. Any other width gives the same bits.
pub const LANES: usize = 16;

/// Builds the units of the trials `first_trial ..`, calibrates each by every plan, steers, measures and
/// judges. The first `count` lanes are appended to the outcomes.
pub fn trial<const W: usize>(
    plan: &Plan,
    first_trial: u64,
    count: usize,
    batch: &mut Batch<W>,
    outcomes: &mut Outcomes,
) {
    draw(plan, first_trial, batch);
    build(plan, batch);
    for (calibration, kept) in outcomes.plans.iter_mut().enumerate() {
        let _ = try_out(plan, calibration, batch, &|| false);
        judge(plan, count, batch, kept);
    }
    outcomes.trials += count as u64;
}

/// Calibrates the units by one plan, and measures them at every look; breaks before the next look once it is given up.
pub(super) fn try_out<const W: usize>(
    plan: &Plan,
    calibration: usize,
    batch: &mut Batch<W>,
    gives_up: &dyn Fn() -> bool,
) -> ControlFlow<()> {
    calibrate(plan, calibration, batch);
    for (number, look) in plan.looks.iter().enumerate() {
        if gives_up() {
            return ControlFlow::Break(());
        }
        steer(plan, calibration, number, look, batch);
        measure(plan, number, look, batch);
    }
    ControlFlow::Continue(())
}

/// Draws every deviation of the units and of the bench.
pub fn draw<const W: usize>(plan: &Plan, first_trial: u64, batch: &mut Batch<W>) {
    batch.first_trial = first_trial;
    plan.sources.draw(first_trial, &mut batch.draws);
}

/// Sets the codes for a beam and takes the channels, coupled where elements couple, as seen from its direction.
pub fn steer<const W: usize>(
    plan: &Plan,
    calibration: usize,
    look_number: usize,
    look: &Look,
    batch: &mut Batch<W>,
) {
    let conditions = plan.conditions_of(look_number);
    let table = plan.courses[calibration].chosen[look_number];
    set_attenuators(plan, conditions, table, batch);
    let Batch { draws, radiating, radiating_inputs, attenuated, tables, field, codes, coupled, .. } = batch;
    let (at, attenuated, table) = (&plan.conditions[conditions], &attenuated[conditions], &tables[table]);
    let commands = &plan.commands[look_number];
    steer_channels(plan.chain.shifter(), at, commands, &look.path, draws, attenuated, table, codes, field);
    if plan.hardware.unrounded.shifter {
        reach_phases(plan.chain.shifter().states(), commands, table, codes, field);
    }
    if let Some(compressor) = Compressor::new(plan, at, true) {
        let (radiating, inputs) = (&radiating[conditions], &radiating_inputs[conditions]);
        for channel in 0..plan.channels() {
            let (gain, phase) = (&mut field.gain[channel], &mut field.phase[channel]);
            let (attenuated, radiating) = (&attenuated.gain[channel], &radiating.gain[channel]);
            let (attenuator, shifter) = (over(attenuated, radiating), over(gain, attenuated));
            let stepped = Stepped { attenuator: &attenuator, shifter: &shifter };
            compressor.add(inputs, draws, channel, stepped, gain, phase);
        }
    }
    if let Some(coupling) = &plan.coupling {
        couple(coupling, plan, look, draws, coupled, field);
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
    if let Some(measured) = table.measured.phases() {
        for (channel, command) in commands.iter().enumerate() {
            let steps = Some(&measured[channel * shifter.states()..][..shifter.states()]);
            for l in 0..W {
                codes[channel][l] = setting.code_by(command, table.phase[channel][l], steps, l);
            }
        }
    } else {
        for ((command, found), codes) in commands.iter().zip(&table.phase).zip(&mut *codes) {
            for l in 0..W {
                codes[l] = setting.code(command, found[l]);
            }
        }
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

/// Takes every figure that is due at a look.
pub fn measure<const W: usize>(plan: &Plan, look_number: usize, look: &Look, batch: &mut Batch<W>) {
    batch.field.take(&plan.array, look, plan.depth);
    for (column, value) in plan.columns.iter().zip(&mut batch.values) {
        if column.look == look_number {
            *value = column.figure.measure(look, &batch.field);
        }
    }
}

/// Compares the figures with the spec and keeps them.
pub(super) fn judge<const W: usize>(plan: &Plan, count: usize, batch: &Batch<W>, kept: &mut PlanOutcomes) {
    let too_many = |dead: u32| dead as usize > plan.dead.allowed;
    let failed = [batch.dead.map(too_many), batch.is_stranded];
    kept.push(plan, count, &batch.values, &batch.seconds, &failed);
}
