//! What a run will take of memory and of time, before it is begun.

use crate::engine::accumulator::{Accumulator, room};
use crate::engine::observer::Nobody;
use crate::engine::outcomes::{CHUNK, Outcomes};
use crate::engine::sharing::Sharing;
use crate::engine::threads::threads;
use crate::engine::trial::{LANES, trial};
use crate::engine::workspace::Workspace;
use crate::error::Error;
use crate::io::machine::{free_bytes, resident_bytes};
use crate::model::Model;
use std::slice;
use std::time::{Duration, Instant};

/// What a run of a model will take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Forecast {
    /// Units, the most that it may build.
    pub units: u64,
    /// Threads, as many as a run takes that asks for none.
    pub threads: usize,
    /// Memory, bytes; `None` where the system does not state it.
    pub bytes: Option<u64>,
    /// Time, s; `None` where a few units take longer than anybody waits for a forecast.
    pub seconds: Option<f64>,
}

/// Units are built for so long, unless the first ones take longer; those for no longer than the second, or than compiling the model took.
const TRIED: Duration = Duration::from_millis(50);
const MOST_TRIED: Duration = Duration::from_secs(2);

/// Chunks in hand or waiting to be joined take no more room than the first, bytes, or so many a thread, but never more than the second.
const AHEAD_BYTES: usize = 32 << 20;
const AHEAD_EACH: usize = 4;
const MOST_AHEAD_BYTES: usize = 40 << 20;

/// Builds some units to see what they take, of a model that took so long to compile.
pub(crate) fn forecast(model: &Model, compiled_in: Duration) -> Forecast {
    let most_tried = MOST_TRIED.max(compiled_in);
    let threads = threads(0).unwrap_or(1);
    let units = model.trials.most();
    let models = slice::from_ref(model);
    let before = resident_bytes();
    let start = Instant::now();
    let sharing = Sharing::of(models);
    let should_stop = || start.elapsed() > most_tried;
    let mut workspace = Workspace::<LANES>::until(models, &sharing, &should_stop);
    let (mut spent, mut built) = (Duration::ZERO, 0);
    while built == 0 || start.elapsed() < TRIED {
        let mut outcomes = [Outcomes::new(model, 0)];
        let begun = Instant::now();
        if trial(&mut workspace, 0, LANES, &mut outcomes, &mut Nobody).is_break() {
            break;
        }
        // The first units meet cold memory.
        spent = if built == LANES as u64 { begun.elapsed() } else { spent + begun.elapsed() };
        built += LANES as u64;
    }
    let counted = built.saturating_sub(LANES as u64).max(LANES as u64);
    let seconds = spent.as_secs_f64() / counted as f64 * units as f64 / threads as f64;
    let after = resident_bytes();
    let of_thread = after.zip(before).map(|(after, before)| after.saturating_sub(before));
    let bytes = after
        .zip(of_thread)
        .map(|(held, of_thread)| held + (threads as u64 - 1) * of_thread + needed(models, threads, units));
    Forecast { units, threads, bytes, seconds: (built > 0).then_some(seconds) }
}

/// Chunks that may exist at once on so many threads, and the room that one takes, bytes.
pub(super) fn ahead(models: &[Model], threads: usize) -> (usize, usize) {
    let chunk: usize =
        models.iter().map(|model| model.calibrations.len() * Accumulator::bytes_of_chunk(model)).sum();
    let fitting = |bytes: usize| (bytes / chunk.max(1)).max(1);
    (fitting(AHEAD_BYTES).max(AHEAD_EACH * threads).min(fitting(MOST_AHEAD_BYTES)), chunk)
}

/// Memory that models that run together take for their results, on so many threads, bytes.
fn needed(models: &[Model], threads: usize, units: u64) -> u64 {
    let (ahead, chunk) = ahead(models, threads);
    let ahead = (ahead as u64).min(units.div_ceil(CHUNK as u64)) * chunk as u64;
    models.iter().map(|model| of_columns(model, units) + of_verdicts(model, units)).sum::<u64>() + ahead
}

fn of_columns(model: &Model, units: u64) -> u64 {
    let (room, columns) = (room(model), model.calibrations.len() * model.columns.len());
    // Lots need the first values beside what is counted of all.
    let first = if model.lot().is_some() { room.bytes(units.min(room.exact)) } else { 0 };
    columns as u64 * room.bytes(units).max(first + if units > room.exact { room.bytes(units) } else { 0 })
}

fn of_verdicts(model: &Model, units: u64) -> u64 {
    model.calibrations.len() as u64 * units.div_ceil(8)
}

/// Whether models that run together fit into the memory that is free.
///
/// # Errors
/// [`Error::Memory`] if they do not.
pub(super) fn fit(models: &[Model], threads: usize, units: u64) -> Result<(), Error> {
    let needed = needed(models, threads, units);
    match free_bytes() {
        Some(free) if needed > free => {
            let columns = models.iter().map(|model| model.calibrations.len() * model.columns.len()).sum();
            let verdicts = models.iter().map(|model| of_verdicts(model, units)).sum();
            Err(Error::Memory { needed, free, columns, verdicts })
        }
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::outcomes::tests::model;
    use crate::study::Trials;

    #[test]
    fn what_cannot_fit_is_refused_and_what_can_is_told() {
        let mut model = model();
        model.trials = Trials::Fixed(1000);
        assert!(fit(slice::from_ref(&model), 2, model.trials.most()).is_ok());
        // Verdicts take a bit a unit.
        assert_eq!(of_verdicts(&model, 8_000_000_000), 1_000_000_000 * model.calibrations.len() as u64);
        model.trials = Trials::Fixed(1 << 60);
        if free_bytes().is_some() {
            let refused = fit(slice::from_ref(&model), 2, model.trials.most()).unwrap_err();
            assert_eq!(refused.exit_code(), 2);
            assert!(refused.to_string().contains("fewer units"), "{refused}");
        }
    }
}
