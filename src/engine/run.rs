//! Chunks of trials on threads, taken in order, consumed in order.
//!
//! A chunk has a constant size, whatever the threads. Threads take chunks by counting up, and the caller's
//! thread consumes outcomes by trial, so results do not depend on who was faster. When a run is stopped, the
//! chunks already begun are the first ones without a gap: they are finished, and nothing computed is lost.

use crate::engine::batch::Batch;
use crate::engine::outcomes::Outcomes;
use crate::engine::trial::trial;
use crate::error::Error;
use crate::plan::Plan;
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc;

/// Trials of a chunk: a multiple of every batch width.
const CHUNK: u64 = 64;

/// Chunks that may wait for a slower one to be consumed, for each thread; bounds memory.
const WAITING: usize = 16;

/// How a run is driven.
#[derive(Clone, Copy, Debug)]
pub struct Control<'a> {
    /// Threads; 0 for one a core.
    pub threads: usize,
    /// Set from outside to stop after the chunks in flight.
    pub interrupt: &'a AtomicBool,
}

/// How far a run came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Trials consumed.
    pub trials: u64,
    /// True when it was stopped from outside.
    pub interrupted: bool,
}

/// Runs up to `most` trials, W at a time, and hands their outcomes over in trial order. `consume` may end the run; the outcomes
/// it was handed by then do not depend on threads or W.
///
/// Errors: whatever `consume` fails with; a thread pool that cannot be made.
pub fn run<const W: usize>(
    plan: &Plan,
    most: u64,
    control: Control,
    mut consume: impl FnMut(&Outcomes) -> Result<ControlFlow<()>, Error>,
) -> Result<Progress, Error> {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(control.threads).build();
    let pool = pool.map_err(|error| Error::Threads(error.to_string()))?;
    let threads = pool.current_num_threads();
    let next = AtomicU64::new(0);
    let ended = AtomicBool::new(false);
    let chunks = most.div_ceil(CHUNK);
    let (send, receive) = mpsc::sync_channel::<(u64, Outcomes)>(threads * WAITING);

    let work = |send: mpsc::SyncSender<(u64, Outcomes)>| {
        let mut batch = Batch::<W>::new(plan);
        loop {
            if ended.load(Ordering::Relaxed) || control.interrupt.load(Ordering::Relaxed) {
                return;
            }
            let chunk = next.fetch_add(1, Ordering::Relaxed);
            if chunk >= chunks {
                return;
            }
            let outcomes = run_chunk(plan, chunk, most, &mut batch);
            if send.send((chunk, outcomes)).is_err() {
                return;
            }
        }
    };

    pool.in_place_scope(|scope| {
        for _ in 0..threads {
            let (work, send) = (&work, send.clone());
            scope.spawn(move |_| work(send));
        }
        drop(send);
        let mut trials = 0;
        let mut due = 0;
        let mut early = BTreeMap::new();
        let mut result = Ok(());
        // Every outcome is received, even when no more are wanted, so that no thread waits for room.
        for (chunk, outcomes) in receive {
            early.insert(chunk, outcomes);
            while !ended.load(Ordering::Relaxed)
                && let Some(outcomes) = early.remove(&due)
            {
                due += 1;
                trials += outcomes.trials;
                match consume(&outcomes) {
                    Ok(ControlFlow::Continue(())) => {}
                    Ok(ControlFlow::Break(())) => ended.store(true, Ordering::Relaxed),
                    Err(error) => {
                        result = Err(error);
                        ended.store(true, Ordering::Relaxed);
                    }
                }
            }
        }
        let interrupted = !ended.load(Ordering::Relaxed) && trials < most;
        result.map(|()| Progress { trials, interrupted })
    })
}

fn run_chunk<const W: usize>(plan: &Plan, chunk: u64, most: u64, batch: &mut Batch<W>) -> Outcomes {
    let first = chunk * CHUNK;
    let last = (first + CHUNK).min(most);
    let mut outcomes = Outcomes::new(plan, first);
    let mut at = first;
    while at < last {
        let count = (last - at).min(W as u64);
        trial(plan, at, count as usize, batch, &mut outcomes);
        at += count;
    }
    outcomes
}
