//! Units on the bench.

use crate::bench::{Bench, Calibration, LiveChannels, Tabled};
use crate::engine::batch::Batch;
use crate::engine::observer::Observer;
use crate::engine::pair::Kept;
use crate::engine::simulated_bench::{GivenUp, SimulatedBench};
use crate::engine::unrounded::reach_levels;
use crate::model::Model;
use crate::random::Draws;
use std::mem::swap;
use std::ops::ControlFlow;

/// Calibrates the units by one of the model's calibrations on the simulated bench, by the code that a real bench uses, at the bench that
/// the observer makes of it; `noise` is what other calibrations read before. Breaks once it is given up.
pub(super) fn calibrate<const W: usize, O: Observer<W>>(
    model: &Model,
    number: usize,
    batch: &mut Batch<W>,
    noise: &mut Kept<W>,
    should_stop: &dyn Fn() -> bool,
    observer: &mut O,
) -> ControlFlow<()> {
    let (calibration, course) = (&model.calibrations[number], &model.courses[number]);
    let receiver = model.receiver_for(calibration);
    let Batch { draws, seen, seen_inputs, bench: room, scratch, tables, first_trial, .. } = batch;
    let Batch { seconds, set_by, is_stranded, living, .. } = batch;
    set_by.fill(None);
    swap(room.kept_noise(), noise);
    let is_dead = fates(model, draws);
    let (meter, averages, first_trial) = (receiver.meter(), receiver.averages, *first_trial);
    let is_steady = !meter.saturates() && model.stability.is_ideal();
    let mut bench = SimulatedBench {
        model,
        meter,
        listener: if is_steady { meter } else { meter.without_display() },
        is_steady,
        averages,
        first_trial,
        draws,
        seen,
        inputs: seen_inputs,
        view: 0,
        point: None,
        compressor: None,
        room,
        should_stop,
    };
    bench.open();
    let mut bench = observer.bench(bench);
    let mut tables = course.tables.iter().zip(&mut *tables).enumerate();
    let done = tables.try_for_each(|(number, (spec, table))| {
        bench.begin(spec.view, spec.point)?;
        let command = spec.point.map(|point| &*model.commands[point]);
        calibration.run(&mut bench, &model.hardware, number, command, living, scratch, table)
    });
    *is_stranded = stranded(calibration, &is_dead, living);
    *seconds = [[0.0; W]; 4];
    if !calibration.is_none() {
        *seconds = model.clock.split(bench.work(), averages);
    }
    observer.leave(bench);
    swap(room.kept_noise(), noise);
    match done {
        Ok(()) => ControlFlow::Continue(()),
        Err(GivenUp) => ControlFlow::Break(()),
    }
}

/// Which channels are dead, `[channel][lane]`; empty where none can be.
fn fates<const W: usize>(model: &Model, draws: &Draws<W>) -> Vec<[bool; W]> {
    let fate = &model.dead.fate;
    let channels = if fate.is_zero() { 0 } else { model.channels() };
    (0..channels).map(|channel| fate.deviation_at(draws, 0, channel).map(|fate| fate != 0.0)).collect()
}

/// Units in which the bench took a dead channel for a living one that phases hang on.
fn stranded<const W: usize>(
    calibration: &Calibration,
    is_dead: &[[bool; W]],
    living: &LiveChannels<W>,
) -> [bool; W] {
    if is_dead.is_empty() {
        return [false; W];
    }
    let channels = is_dead.len();
    std::array::from_fn(|l| calibration.is_misled(living, l, channels, |channel| is_dead[channel][l]))
}

/// Takes the channels as they radiate under some conditions with the attenuators of a code table.
pub(super) fn set_attenuators<const W: usize>(
    model: &Model,
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
    let attenuator = model.chain.attenuator();
    if let Some(attenuator) = attenuator {
        attenuator.need(codes, &model.sources, draws);
    }
    let at = &model.conditions[conditions];
    attenuated[conditions].attenuate(&radiating[conditions], attenuator, at, draws, codes);
    if model.hardware.unrounded.attenuator {
        reach_levels(&tables[table], &mut attenuated[conditions]);
    }
}
