//! The queue of chunks of trials, from the thread that begins one to the one that releases it.
//!
//! Threads ask for a task. Finished chunks are merged in the order of trials, by one thread at a time, and then, where needed, counted by
//! any thread that is free. The number of chunks that are begun and not released is bounded, so memory is bounded however slow merging is; a
//! thread without a task sleeps.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// What a thread is to do next.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Task<Chunk, Counted> {
    /// Work out the chunk of this number.
    Begin(u64),
    /// Merge this one: no other thread does, and all before it are merged.
    Merge(Chunk),
    /// Count these, in any order.
    Count(Vec<Counted>),
    /// Nothing more.
    End,
}

/// What is left to do for a chunk that was merged.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Merged<Counted> {
    /// Something to count.
    ToCount(Counted),
    /// Nothing.
    Done,
}

#[derive(Debug)]
pub(super) struct Line<Chunk, Counted> {
    /// Chunks in all.
    chunks: u64,
    /// Chunks that may be in hand or in the line at once.
    room: u64,
    /// Chunks that are counted together while there is room for others: what is counted in is fetched from memory once for all.
    together: usize,
    /// True once no more is wanted: threads look at it while they work.
    is_ended: AtomicBool,
    state: Mutex<State<Chunk, Counted>>,
    changed: Condvar,
}

#[derive(Debug)]
struct State<Chunk, Counted> {
    begun: u64,
    /// The next chunk to merge.
    next: u64,
    /// Chunks that nobody holds any more.
    released: u64,
    is_merging: bool,
    /// Worked out before their turn.
    early: BTreeMap<u64, Chunk>,
    to_count: Vec<Counted>,
    sleeping: usize,
}

/// Chunks that are counted together at most.
const TOGETHER: usize = 16;

/// Sleeping threads check this often for a stop.
const NAP: Duration = Duration::from_millis(50);

impl<Chunk, Counted> Line<Chunk, Counted> {
    /// An empty line for so many chunks, of which so many may exist at once, at least one.
    pub(super) fn new(chunks: u64, room: usize) -> Line<Chunk, Counted> {
        let state = State {
            begun: 0,
            next: 0,
            released: 0,
            is_merging: false,
            early: BTreeMap::new(),
            to_count: Vec::new(),
            sleeping: 0,
        };
        let (room, together) = (room.max(1), (room / 2).clamp(1, TOGETHER));
        Line {
            chunks,
            room: room as u64,
            together,
            is_ended: AtomicBool::new(false),
            state: Mutex::new(state),
            changed: Condvar::new(),
        }
    }

    /// What to do next; waits until there is something. Nothing is begun once `is_stopped`, but chunks that were begun are merged.
    pub(super) fn next(&self, is_stopped: impl Fn() -> bool) -> Task<Chunk, Counted> {
        let mut state = self.lock();
        loop {
            let (next, is_ended) = (state.next, self.is_ended());
            if !state.is_merging
                && !is_ended
                && let Some(chunk) = state.early.remove(&next)
            {
                state.is_merging = true;
                return Task::Merge(chunk);
            }
            let is_wanted = state.begun < self.chunks && !is_ended && !is_stopped();
            let has_room = state.begun < state.released + self.room;
            if is_wanted && has_room && state.to_count.len() < self.together {
                state.begun += 1;
                return Task::Begin(state.begun - 1);
            }
            if !state.to_count.is_empty() {
                let all = state.to_count.len();
                return Task::Count(state.to_count.split_off(all - all.min(self.together)));
            }
            if !is_wanted && !state.is_merging && (is_ended || state.next == state.begun) {
                return Task::End;
            }
            state.sleeping += 1;
            let (woken, _) = self.changed.wait_timeout(state, NAP).unwrap_or_else(PoisonError::into_inner);
            state = woken;
            state.sleeping -= 1;
        }
    }

    /// Whether no more is wanted.
    pub(super) fn is_ended(&self) -> bool {
        self.is_ended.load(Ordering::Relaxed)
    }

    /// Hands in a chunk that is worked out.
    pub(super) fn hand_in(&self, number: u64, chunk: Chunk) {
        self.change(|state| {
            state.early.insert(number, chunk);
        });
    }

    /// Reports that a chunk is merged, what is left to do for it, and whether it is the last that is wanted.
    pub(super) fn merged(&self, left: Merged<Counted>, is_last: bool) {
        self.change(|state| {
            state.is_merging = false;
            state.next += 1;
            self.is_ended.fetch_or(is_last, Ordering::Relaxed);
            match left {
                Merged::ToCount(counted) => state.to_count.push(counted),
                Merged::Done => state.released += 1,
            }
        });
    }

    /// Reports that so many chunks are counted.
    pub(super) fn counted(&self, chunks: usize) {
        self.change(|state| state.released += chunks as u64);
    }

    fn change(&self, change: impl FnOnce(&mut State<Chunk, Counted>)) {
        let mut state = self.lock();
        change(&mut state);
        if state.sleeping > 0 {
            self.changed.notify_all();
        }
    }

    /// What the lock holds; a thread that panicked with it ends the run anyway.
    fn lock(&self) -> MutexGuard<'_, State<Chunk, Counted>> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicU64;
    use std::thread;

    const RUNS: fn() -> bool = || false;
    const STOPPED: fn() -> bool = || true;

    #[test]
    fn chunks_are_joined_in_order_and_no_more_exist_than_there_is_room_for() {
        let line = Line::<u64, u64>::new(10, 2);
        assert_eq!((line.next(RUNS), line.next(RUNS)), (Task::Begin(0), Task::Begin(1)));
        line.hand_in(1, 11);
        line.hand_in(0, 10);
        assert_eq!(line.next(RUNS), Task::Merge(10));
        // One joins at a time; when the chunk is counted, and not before, there is room for another.
        line.merged(Merged::ToCount(10), false);
        assert_eq!(line.next(RUNS), Task::Merge(11));
        assert_eq!(line.next(RUNS), Task::Count(vec![10]));
        line.counted(1);
        assert_eq!(line.next(RUNS), Task::Begin(2));
        line.merged(Merged::Done, false);
        assert_eq!(line.next(RUNS), Task::Begin(3));
        // What was begun before a stop is joined.
        line.hand_in(2, 12);
        line.hand_in(3, 13);
        assert_eq!(line.next(STOPPED), Task::Merge(12));
        line.merged(Merged::Done, false);
        assert_eq!(line.next(STOPPED), Task::Merge(13));
        line.merged(Merged::Done, false);
        assert_eq!(line.next(STOPPED), Task::End);
    }

    #[test]
    fn what_comes_after_the_end_is_left_alone() {
        let line = Line::<u64, u64>::new(10, 4);
        (0..3).for_each(|number| assert_eq!(line.next(RUNS), Task::Begin(number)));
        (0..3).for_each(|number| line.hand_in(number, number));
        assert_eq!(line.next(RUNS), Task::Merge(0));
        line.merged(Merged::ToCount(0), true);
        assert!(line.is_ended());
        assert_eq!((line.next(RUNS), line.next(RUNS)), (Task::Count(vec![0]), Task::End));
    }

    /// All chunks are joined once, in order, by any number of threads in any room, and every one is counted.
    #[test]
    fn threads_lose_nothing_and_none_waits_for_ever() {
        for (threads, room) in [(1, 1), (2, 1), (3, 2), (8, 3), (8, 100)] {
            let line = Line::<u64, u64>::new(500, room);
            let (last, sum) = (AtomicU64::new(0), AtomicU64::new(0));
            thread::scope(|scope| {
                for _ in 0..threads {
                    scope.spawn(|| {
                        loop {
                            match line.next(RUNS) {
                                Task::Begin(number) => line.hand_in(number, number),
                                Task::Merge(number) => {
                                    assert_eq!(last.fetch_add(1, Ordering::Relaxed), number);
                                    let is_kept = number.is_multiple_of(3);
                                    sum.fetch_add(if is_kept { number } else { 0 }, Ordering::Relaxed);
                                    let left = if is_kept { Merged::Done } else { Merged::ToCount(number) };
                                    line.merged(left, false);
                                }
                                Task::Count(numbers) => {
                                    sum.fetch_add(numbers.iter().sum(), Ordering::Relaxed);
                                    line.counted(numbers.len());
                                }
                                Task::End => break,
                            }
                        }
                    });
                }
            });
            assert_eq!((last.into_inner(), sum.into_inner()), (500, 499 * 250), "{threads} {room}");
        }
    }
}
