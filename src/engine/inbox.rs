//! What threads hand in to be joined, none waiting for another.

use std::sync::{Mutex, PoisonError};

/// Items on their way to a state.
#[derive(Debug)]
pub struct Inbox<Item, State> {
    items: Mutex<Vec<Item>>,
    state: Mutex<State>,
}

impl<Item, State> Inbox<Item, State> {
    /// Without items.
    pub fn new(state: State) -> Inbox<Item, State> {
        Inbox { items: Mutex::new(Vec::new()), state: Mutex::new(state) }
    }

    /// Hands in an item, and joins what lies there unless another thread is at it.
    pub fn hand_in(&self, item: Item, join: impl Fn(&mut State, Item)) {
        sound(self.items.lock()).push(item);
        self.join(join);
    }

    /// Joins what lies there, unless another thread is at it. That one may have looked for the last time before the last item came: who
    /// waits for something to be joined calls this while it waits, or it may wait for ever.
    pub fn join(&self, join: impl Fn(&mut State, Item)) {
        while let Ok(mut state) = self.state.try_lock() {
            let items = std::mem::take(&mut *sound(self.items.lock()));
            if items.is_empty() {
                break;
            }
            items.into_iter().for_each(|item| join(&mut state, item));
        }
    }

    /// The state with all items joined.
    pub fn finish(self, join: impl Fn(&mut State, Item)) -> State {
        let mut state = sound(self.state.into_inner());
        sound(self.items.into_inner()).into_iter().for_each(|item| join(&mut state, item));
        state
    }

    #[cfg(test)]
    fn lock(&self) -> std::sync::MutexGuard<'_, State> {
        sound(self.state.lock())
    }
}

/// What a lock holds; a thread that panicked with it ends the run anyway.
fn sound<T>(lock: Result<T, PoisonError<T>>) -> T {
    lock.unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_while_another_thread_is_at_it_is_joined_by_who_looks_next() {
        let inbox = Inbox::new(Vec::new());
        let push = |state: &mut Vec<u32>, item| state.push(item);
        inbox.hand_in(1, push);
        // Another thread has looked for the last time, and still holds the state.
        let other = inbox.lock();
        inbox.hand_in(2, push);
        assert_eq!(*other, [1]);
        drop(other);
        assert_eq!(*inbox.lock(), [1], "nobody looks by itself");
        inbox.join(push);
        assert_eq!(*inbox.lock(), [1, 2]);
        let other = inbox.lock();
        inbox.hand_in(3, push);
        drop(other);
        assert_eq!(inbox.finish(push), [1, 2, 3]);
    }
}
