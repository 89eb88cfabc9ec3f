//! A fixed tree over chunk numbers: results of neighbouring chunks are merged two by two, then fours, then eights, so that the
//! bits depend neither on how a run was split nor on the order of merging.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::ops::Range;

/// Results of chunks: the largest whole branches of the tree that can be made of those that are there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Tree<T> {
    /// By the first chunk.
    branches: BTreeMap<u64, Branch<T>>,
}

/// 2^`level` chunks; the number of the first is a multiple of that.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Branch<T> {
    level: u32,
    value: T,
}

impl<T> Default for Tree<T> {
    fn default() -> Tree<T> {
        Tree { branches: BTreeMap::new() }
    }
}

impl<T> Tree<T> {
    /// Adds the result of a chunk that is not there yet; `join` puts what comes after into what comes before.
    pub(super) fn insert(&mut self, chunk: u64, value: T, join: impl Fn(&mut T, &T)) {
        self.add(chunk, Branch { level: 0, value }, &join);
    }

    /// Adds the results of other chunks.
    pub(super) fn merge(&mut self, other: Tree<T>, join: impl Fn(&mut T, &T)) {
        for (first, branch) in other.branches {
            self.add(first, branch, &join);
        }
    }

    fn add(&mut self, mut first: u64, mut branch: Branch<T>, join: &impl Fn(&mut T, &T)) {
        loop {
            let length = 1 << branch.level;
            let sibling = first ^ length;
            if self.branches.get(&sibling).is_none_or(|of| of.level != branch.level) {
                break;
            }
            let Some(other) = self.branches.remove(&sibling) else { break };
            let (mut before, after) = if sibling < first { (other, branch) } else { (branch, other) };
            join(&mut before.value, &after.value);
            branch = Branch { level: before.level + 1, ..before };
            first = first.min(sibling);
        }
        self.branches.insert(first, branch);
    }

    /// The branches in the order of their chunks.
    pub(super) fn branches(self) -> impl Iterator<Item = (Range<u64>, T)> {
        self.branches.into_iter().map(|(first, of)| (first..first + (1 << of.level), of.value))
    }

    /// Their chunks.
    pub(super) fn ranges(&self) -> impl Iterator<Item = Range<u64>> {
        self.branches.iter().map(|(first, of)| *first..first + (1 << of.level))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Key, Stream};
    use rand::RngExt;

    /// Text shows the tree that it was put together by.
    fn join(before: &mut String, after: &String) {
        *before = format!("({before}{after})");
    }

    #[test]
    fn chunks_are_put_together_by_their_numbers_whatever_the_order() {
        let mut stream = Stream::new(Key::new(5, "orders of chunks"), 0, 0, 0);
        let mut next = |below: u64| stream.random_range(0..below);
        let expected = ["(((ab)(cd))((ef)(gh)))", "(ij)", "k"];
        for _ in 0..200 {
            let mut chunks: Vec<u64> = (0..11).collect();
            (1..11).for_each(|i| chunks.swap(i, next(1 + i as u64) as usize));
            let mut parts = vec![Tree::default(); 3];
            for chunk in chunks {
                let name = char::from(b'a' + chunk as u8).to_string();
                parts[next(3) as usize].insert(chunk, name, join);
            }
            let mut whole = Tree::default();
            parts.into_iter().for_each(|part| whole.merge(part, join));
            assert_eq!(whole.ranges().collect::<Vec<_>>(), [0..8, 8..10, 10..11]);
            let found: Vec<String> = whole.branches().map(|(_, value)| value).collect();
            assert_eq!(found, expected);
        }
    }
}
