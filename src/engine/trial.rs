//! The model on one page: what happens to one batch of virtual units.

use crate::chain::{Conditions, Side};
use crate::engine::batch::Batch;
use crate::engine::desk::SimulatedDesk;
use crate::engine::outcomes::{Outcomes, PlanOutcomes};
use crate::figure::Look;
use crate::plan::Plan;

/// Trials in flight at once. Any other width gives the same bits.
pub const LANES: usize = 8;

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

/// Makes every channel's gain and phase from the draws: as the bench sees it at the command frequency, and as
/// it radiates at every frequency, the stepped blocks at code 0 but for their states' errors.
pub fn build<const W: usize>(plan: &Plan, batch: &mut Batch<W>) {
    let conditions = |frequency| Conditions { frequency, command_frequency: plan.command_frequency };
    let at_bench = &mut batch.at_bench;
    at_bench.clear();
    let command = conditions(plan.command_frequency);
    plan.chain.add(Side::Before, &command, &batch.draws, &mut at_bench.gain, &mut at_bench.phase);
    for (radiating, frequency) in batch.radiating.iter_mut().zip(&plan.frequencies) {
        radiating.clear();
        for side in [Side::Before, Side::Behind] {
            let conditions = conditions(*frequency);
            plan.chain.add(side, &conditions, &batch.draws, &mut radiating.gain, &mut radiating.phase);
        }
    }
}

/// Runs one calibration plan on the simulated bench, by the code that a real bench uses.
pub fn calibrate<const W: usize>(plan: &Plan, calibration: usize, batch: &mut Batch<W>) {
    let calibration = &plan.calibrations[calibration];
    let receiver = plan.receiver_for(calibration);
    let Batch { draws, at_bench, bench, sweep, table, first_trial, .. } = batch;
    let mut desk = SimulatedDesk { plan, receiver, first_trial: *first_trial, draws, at_bench, room: bench };
    calibration.run(&mut desk, &plan.hardware, &plan.clock, receiver.averages, sweep, table);
}

/// Sets the codes for a beam and takes the channels as seen from its direction.
pub fn steer<const W: usize>(plan: &Plan, look_number: usize, look: &Look, batch: &mut Batch<W>) {
    let Batch { draws, radiating, table, field, codes, .. } = batch;
    let radiating = &radiating[plan.frequency_of(look_number)];
    let shifter = plan.chain.shifter();
    for channel in 0..plan.channels() {
        let mut gain = radiating.gain[channel];
        let mut phase = radiating.phase[channel].map(|phase| phase + look.path[channel]);
        if let Some(attenuator) = plan.chain.attenuator() {
            attenuator.set(draws, channel, &table.attenuator[channel], &mut gain, &mut phase);
        }
        codes[channel] = table.shifter_code(channel, look.command[channel], shifter.states());
        shifter.set(draws, channel, &codes[channel], &mut gain, &mut phase);
        field.gain[channel] = gain;
        field.phase[channel] = phase;
    }
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
    for lane in 0..count {
        kept.push(plan, |column| batch.values[column][lane], batch.table.seconds[lane]);
    }
}
