//! Units on the bench.

use crate::bench::{Calibration, Desk, Living, Tabled};
use crate::engine::batch::Batch;
use crate::engine::desk::{GivenUp, SimulatedDesk};
use crate::engine::observer::Observer;
use crate::engine::pair::Kept;
use crate::engine::unrounded::reach_levels;
use crate::plan::Plan;
use crate::random::Draws;
use std::mem::swap;
use std::ops::ControlFlow;

/// Calibrates the units by one of the plan's calibrations on the simulated bench, by the code that a real bench uses, at the desk that
/// the observer makes of it; `noise` is what other calibrations read before. Breaks once it is given up.
pub(super) fn calibrate<const W: usize, O: Observer<W>>(
    plan: &Plan,
    number: usize,
    batch: &mut Batch<W>,
    noise: &mut Kept<W>,
    gives_up: &dyn Fn() -> bool,
    observer: &mut O,
) -> ControlFlow<()> {
    let (calibration, course) = (&plan.calibrations[number], &plan.courses[number]);
    let receiver = plan.receiver_for(calibration);
    let Batch { draws, seen, seen_inputs, bench, scratch, tables, first_trial, .. } = batch;
    let Batch { seconds, set_by, is_stranded, living, .. } = batch;
    set_by.fill(None);
    swap(bench.kept_noise(), noise);
    let is_dead = fates(plan, draws);
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
        compressor: None,
        room: bench,
        gives_up,
    };
    desk.open();
    let mut desk = observer.desk(desk);
    let mut tables = course.tables.iter().zip(&mut *tables).enumerate();
    let done = tables.try_for_each(|(number, (spec, table))| {
        desk.begin(spec.view, spec.look)?;
        let command = spec.look.map(|look| &*plan.commands[look]);
        calibration.run(&mut desk, &plan.hardware, number, command, living, scratch, table)
    });
    *is_stranded = stranded(calibration, &is_dead, living);
    *seconds = [[0.0; W]; 4];
    if !calibration.is_none() {
        *seconds = plan.clock.split(desk.work(), averages);
    }
    observer.leave(desk);
    swap(bench.kept_noise(), noise);
    match done {
        Ok(()) => ControlFlow::Continue(()),
        Err(GivenUp) => ControlFlow::Break(()),
    }
}

/// Which channels are dead, `[channel][lane]`; empty where none can be.
fn fates<const W: usize>(plan: &Plan, draws: &Draws<W>) -> Vec<[bool; W]> {
    let fate = &plan.dead.fate;
    let channels = if fate.is_zero() { 0 } else { plan.channels() };
    (0..channels).map(|channel| fate.deviation_at(draws, 0, channel).map(|fate| fate != 0.0)).collect()
}

/// Units in which the bench took a dead channel for a living one that phases hang on.
fn stranded<const W: usize>(
    calibration: &Calibration,
    is_dead: &[[bool; W]],
    living: &Living<W>,
) -> [bool; W] {
    if is_dead.is_empty() {
        return [false; W];
    }
    let channels = is_dead.len();
    std::array::from_fn(|l| calibration.is_misled(living, l, channels, |channel| is_dead[channel][l]))
}

/// Takes the channels as they radiate under some conditions with the attenuators of a code table.
pub(super) fn set_attenuators<const W: usize>(
    plan: &Plan,
    conditions: usize,
    table: usize,
    batch: &mut Batch<W>,
) {
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
    if plan.hardware.unrounded.attenuator {
        reach_levels(&tables[table], &mut attenuated[conditions]);
    }
}
