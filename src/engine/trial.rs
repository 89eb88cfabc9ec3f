//! The model on one page: what happens to one batch of virtual units.

use crate::bench::{Calibration, Code, CodeTable, Command, Desk, ShifterSetting};
use crate::chain::{Conditions, PhaseShifter, Side};
use crate::engine::batch::Batch;
use crate::engine::channels::{Channels, Sums};
use crate::engine::compression::{Compressor, Inputs, Stepped, over};
use crate::engine::coupling::couple;
use crate::engine::desk::{SimulatedDesk, Tabled};
use crate::engine::outcomes::{Outcomes, PlanOutcomes};
use crate::figure::{Field, Look};
use crate::plan::Plan;
use crate::random::Draws;
use multiversion::multiversion;

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
        calibrate(plan, calibration, batch);
        for (number, look) in plan.looks.iter().enumerate() {
            steer(plan, calibration, number, look, batch);
            measure(plan, number, look, batch);
        }
        judge(plan, count, batch, kept);
    }
    outcomes.trials += count as u64;
}

/// Draws every deviation of the units and of the bench.
pub fn draw<const W: usize>(plan: &Plan, first_trial: u64, batch: &mut Batch<W>) {
    batch.first_trial = first_trial;
    plan.sources.draw(first_trial, &mut batch.draws);
}

/// Makes every channel's gain and phase from the draws: as benches see it, and as it radiates under all conditions in use,
/// the stepped blocks at code 0 but for their states' errors.
pub fn build<const W: usize>(plan: &Plan, batch: &mut Batch<W>) {
    let Batch { draws, sums, seen, seen_inputs, radiating, radiating_inputs, dead, .. } = batch;
    let mut inputs = Inputs::default();
    let add = |sums: &mut Sums<W>, inputs: &mut Inputs<W>, side, conditions: &Conditions| {
        let Sums { gain, phase } = sums;
        plan.chain.add(side, conditions, draws, gain, phase, |gain| inputs.push(gain));
    };
    // What stands before the plane is often there already.
    let mut is_before_there = None;
    for ((seen, seen_inputs), view) in seen.iter_mut().zip(seen_inputs).zip(&plan.views).rev() {
        sums.begin(&plan.head_start);
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
        radiating.iter_mut().zip(radiating_inputs).zip(&plan.conditions)
    {
        if is_before_there != Some(*conditions) {
            sums.begin(&plan.head_start);
            inputs.clear();
            add(sums, &mut inputs, Side::Before, conditions);
        }
        is_before_there = None;
        add(sums, &mut inputs, Side::Behind, conditions);
        radiating.take(sums);
        radiating_inputs.clone_from(&inputs);
    }
    if !plan.dead.fate.is_zero() {
        *dead = [0; W];
        for channel in 0..plan.channels() {
            let is_dead = plan.dead.fate.deviation_at(draws, 0, channel).map(|fate| fate != 0.0);
            for l in 0..W {
                dead[l] += u32::from(is_dead[l]);
            }
            seen.iter_mut().chain(&mut *radiating).for_each(|channels| channels.silence(channel, &is_dead));
        }
    }
}

/// Runs one calibration plan on the simulated bench, by the code that a real bench uses.
pub fn calibrate<const W: usize>(plan: &Plan, number: usize, batch: &mut Batch<W>) {
    let _ = calibrate_on(plan, number, batch, |desk| desk);
}

/// The same on a desk that is made of the simulated one.
pub(super) fn calibrate_on<'b, const W: usize, D: Desk<W> + Tabled>(
    plan: &'b Plan,
    number: usize,
    batch: &'b mut Batch<W>,
    make: impl FnOnce(SimulatedDesk<'b, W>) -> D,
) -> D {
    let (calibration, course) = (&plan.calibrations[number], &plan.courses[number]);
    let receiver = plan.receiver_for(calibration);
    let Batch { draws, seen, seen_inputs, bench, sweep, tables, first_trial, .. } = batch;
    let Batch { seconds, set_by, is_stranded, .. } = batch;
    set_by.fill(None);
    *is_stranded = stranded(plan, calibration, draws);
    let (meter, averages, first_trial) = (receiver.meter(), receiver.averages, *first_trial);
    let mut desk = SimulatedDesk {
        plan,
        meter,
        averages,
        first_trial,
        draws,
        seen,
        inputs: seen_inputs,
        view: 0,
        look: None,
        room: bench,
    };
    desk.open();
    let mut desk = make(desk);
    for (number, (spec, table)) in course.tables.iter().zip(&mut *tables).enumerate() {
        desk.begin(spec.view, spec.look);
        let command = spec.look.map(|look| &*plan.commands[look]);
        calibration.run(&mut desk, &plan.hardware, number, command, sweep, table);
    }
    *seconds = [[0.0; W]; 4];
    if !calibration.is_none() {
        *seconds = plan.clock.split(desk.work(), averages);
    }
    desk
}

/// Units in which a dead channel is one that others are held against: their phases mean nothing.
fn stranded<const W: usize>(plan: &Plan, calibration: &Calibration, draws: &Draws<W>) -> [bool; W] {
    let mut is_stranded = [false; W];
    if plan.dead.fate.is_zero() {
        return is_stranded;
    }
    let Some(align) = &calibration.align else { return is_stranded };
    for channel in 0..plan.channels() {
        if align.leans_on(channel) {
            let fate = plan.dead.fate.deviation_at(draws, 0, channel);
            (0..W).for_each(|l| is_stranded[l] |= fate[l] != 0.0);
        }
    }
    is_stranded
}

/// Takes the channels as they radiate under some conditions with the attenuators of a code table.
fn set_attenuators<const W: usize>(plan: &Plan, conditions: usize, table: usize, batch: &mut Batch<W>) {
    let Batch { draws, radiating, attenuated, tables, set_by, .. } = batch;
    if set_by[conditions] == Some(table) {
        return;
    }
    set_by[conditions] = Some(table);
    let codes = &tables[table].attenuator;
    let attenuator = plan.chain.attenuator();
    if let Some(attenuator) = attenuator {
        attenuator.need(codes, &plan.sources, draws);
    }
    let at = &plan.conditions[conditions];
    attenuated[conditions].attenuate(&radiating[conditions], attenuator, at, draws, codes);
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
    let states = shifter.states();
    for (channel, command) in commands.iter().enumerate() {
        if let Some(measured) = table.measured.phases() {
            let steps = Some(&measured[channel * states..][..states]);
            let codes = &mut codes[channel];
            for l in 0..W {
                codes[l] = setting.code_by(command, table.phase[channel][l], steps, l);
            }
            continue;
        }
        let (found, codes) = (&table.phase[channel], &mut codes[channel]);
        for l in 0..W {
            codes[l] = setting.code(command, found[l]);
        }
    }
    for channel in 0..commands.len() {
        let (gain, phase) = (&attenuated.gain[channel], &attenuated.phase[channel]);
        let (to_gain, to_phase) = (&mut field.gain[channel], &mut field.phase[channel]);
        let codes = &codes[channel];
        for l in 0..W {
            to_gain[l] = gain[l];
            to_phase[l] = phase[l] + path[channel] + step * (codes[l] as i32 as f32);
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
