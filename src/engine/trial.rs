//! The model on one page: what happens to one batch of virtual units.

use crate::bench::{Code, CodeTable, Command, ShifterSetting};
use crate::chain::{Conditions, PhaseShifter, Side};
use crate::engine::batch::Batch;
use crate::engine::channels::{Channels, Sums};
use crate::engine::desk::SimulatedDesk;
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
            steer(plan, number, look, batch);
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

/// Makes every channel's gain and phase from the draws: as the bench sees it, and as it radiates under all conditions in use,
/// the stepped blocks at code 0 but for their states' errors.
pub fn build<const W: usize>(plan: &Plan, batch: &mut Batch<W>) {
    let Batch { draws, sums, at_bench, radiating, .. } = batch;
    let add = |sums: &mut Sums<W>, side, conditions: &Conditions| {
        plan.chain.add(side, conditions, draws, &mut sums.gain, &mut sums.phase);
    };
    sums.clear();
    add(sums, Side::Before, &plan.at_bench);
    at_bench.take(sums);
    // Where the first conditions are those of the bench, what stands before the plane is there already.
    let mut is_before_there = true;
    for (radiating, conditions) in radiating.iter_mut().zip(&plan.conditions) {
        if !(is_before_there && *conditions == plan.at_bench) {
            sums.clear();
            add(sums, Side::Before, conditions);
        }
        is_before_there = false;
        add(sums, Side::Behind, conditions);
        radiating.take(sums);
    }
}

/// Runs one calibration plan on the simulated bench, by the code that a real bench uses, and sets the attenuators
/// that it chose.
pub fn calibrate<const W: usize>(plan: &Plan, calibration: usize, batch: &mut Batch<W>) {
    let calibration = &plan.calibrations[calibration];
    let receiver = plan.receiver_for(calibration);
    let Batch { draws, at_bench, bench, sweep, table, first_trial, .. } = batch;
    let meter = receiver.meter();
    let mut desk = SimulatedDesk { plan, meter, first_trial: *first_trial, draws, at_bench, room: bench };
    calibration.run(&mut desk, &plan.hardware, &plan.clock, receiver.averages, sweep, table);
    set_attenuators(plan, batch);
}

/// Takes the channels as they radiate with the attenuators of the code table.
pub(super) fn set_attenuators<const W: usize>(plan: &Plan, batch: &mut Batch<W>) {
    let Batch { draws, radiating, attenuated, table, .. } = batch;
    let attenuator = plan.chain.attenuator();
    if let Some(attenuator) = attenuator {
        attenuator.need(&table.attenuator, &plan.sources, draws);
    }
    for (attenuated, radiating) in attenuated.iter_mut().zip(radiating) {
        attenuated.attenuate(radiating, attenuator, draws, &table.attenuator);
    }
}

/// Sets the codes for a beam and takes the channels as seen from its direction.
pub fn steer<const W: usize>(plan: &Plan, look_number: usize, look: &Look, batch: &mut Batch<W>) {
    let Batch { draws, attenuated, table, field, codes, .. } = batch;
    let attenuated = &attenuated[plan.conditions_of(look_number)];
    let commands = &plan.commands[look_number];
    steer_channels(plan.chain.shifter(), commands, &look.path, draws, attenuated, table, codes, field);
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
#[allow(clippy::too_many_arguments, reason = "the parts of a batch, each borrowed its own way")]
fn steer_channels<const W: usize>(
    shifter: &PhaseShifter,
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
    for (channel, command) in commands.iter().enumerate() {
        let (gain, phase) = (&attenuated.gain[channel], &attenuated.phase[channel]);
        let (to_gain, to_phase) = (&mut field.gain[channel], &mut field.phase[channel]);
        let (found, codes) = (&table.phase[channel], &mut codes[channel]);
        for l in 0..W {
            let code = setting.code(command, found[l]);
            codes[l] = code;
            to_gain[l] = gain[l];
            to_phase[l] = phase[l] + path[channel] + step * (code as i32 as f32);
        }
    }
    shifter.errors().add(draws, 0, codes, &mut field.gain, &mut field.phase);
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
fn judge<const W: usize>(plan: &Plan, count: usize, batch: &Batch<W>, kept: &mut PlanOutcomes) {
    kept.push(plan, count, &batch.values, &batch.table.seconds);
}
