//! Limits that the very same units miss.
//!
//! The limits begin in one group, and each unit parts every group into the limits that it misses and those that it meets. A group is
//! only ever parted, so how many units miss one group whole and nothing else can be counted as they come: what was counted for a group
//! no longer holds once it is parted. Exact for any number of units, in room for two numbers a limit.

use serde::{Deserialize, Serialize};

/// Groups of limits, each by the lowest number of a limit in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct JointMisses {
    /// For each limit, its group.
    group: Vec<usize>,
    /// For each group, at its number, the units that miss all of it and nothing else; 0 elsewhere.
    nothing_else: Vec<u64>,
}

impl JointMisses {
    /// Of a chunk: `all` its units side by side in a word, and for each limit those that meet it.
    pub(super) fn of(met: &[u64], all: u64) -> JointMisses {
        let first_like = |word: &u64| met.iter().position(|other| other == word).unwrap_or(0);
        let group: Vec<usize> = met.iter().map(first_like).collect();
        let leads = |limit: usize| group[limit] == limit;
        let (mut missed_one, mut missed_more) = (0, 0);
        for (_, met) in met.iter().enumerate().filter(|(limit, _)| leads(*limit)) {
            missed_more |= missed_one & !met;
            missed_one |= !met;
        }
        let count = |limit: usize| {
            let missed = if leads(limit) { all & !met[limit] & !missed_more } else { 0 };
            u64::from(missed.count_ones())
        };
        let nothing_else = (0..met.len()).map(count).collect();
        JointMisses { group, nothing_else }
    }

    /// Adds other units; the order does not matter.
    pub(super) fn merge(&mut self, other: &JointMisses) {
        let limits = 0..self.group.len();
        let is_same = |a: usize, b: usize| self.group[a] == self.group[b] && other.group[a] == other.group[b];
        // A limit leads its group on both sides or stands behind both leaders.
        let first_like = |limit: usize| {
            let from = self.group[limit].max(other.group[limit]);
            (from..limit).find(|before| is_same(*before, limit)).unwrap_or(limit)
        };
        let group: Vec<usize> = limits.map(first_like).collect();
        let mut of_other = other.nothing_else.clone();
        for (limit, group) in group.iter().enumerate() {
            if *group != self.group[limit] {
                self.nothing_else[self.group[limit]] = 0;
            }
            if *group != other.group[limit] {
                of_other[other.group[limit]] = 0;
            }
        }
        self.nothing_else.iter_mut().zip(of_other).for_each(|(mine, more)| *mine += more);
        self.group = group;
    }

    /// The groups: the limits of each, and how many units miss them and nothing else.
    pub(super) fn groups(&self) -> impl Iterator<Item = (Vec<usize>, u64)> {
        let leaders = (0..self.group.len()).filter(|limit| self.group[*limit] == *limit);
        leaders.map(|leader| {
            let limits = (leader..self.group.len()).filter(|limit| self.group[*limit] == leader);
            (limits.collect(), self.nothing_else[leader])
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::outcomes::CHUNK;
    use crate::random::{Key, Stream};
    use rand::RngExt;
    use std::collections::{BTreeMap, BTreeSet};

    /// Units given by the limits that each misses, chunk by chunk.
    fn alike(limits: usize, units: &[Vec<usize>], chunk: usize) -> JointMisses {
        let mut whole = JointMisses { group: vec![0; limits], nothing_else: vec![0; limits] };
        for units in units.chunks(chunk) {
            let met =
                |limit| units.iter().rev().fold(0, |word, of| word << 1 | u64::from(!of.contains(&limit)));
            let met: Vec<u64> = (0..limits).map(met).collect();
            let all = u64::MAX >> (CHUNK - units.len());
            whole.merge(&JointMisses::of(&met, all));
        }
        whole
    }

    /// The same by the definition: limits with one set of failing units are a group, and a unit counts for the group that is all it
    /// misses.
    fn by_definition(limits: usize, units: &[Vec<usize>]) -> Vec<(Vec<usize>, u64)> {
        let missing = |limit: &usize| -> BTreeSet<usize> {
            units.iter().enumerate().filter(|(_, of)| of.contains(limit)).map(|(unit, _)| unit).collect()
        };
        let mut groups = BTreeMap::<BTreeSet<usize>, Vec<usize>>::new();
        (0..limits).for_each(|limit| groups.entry(missing(&limit)).or_default().push(limit));
        let mut groups: Vec<Vec<usize>> = groups.into_values().collect();
        groups.sort();
        let is = |unit: &&Vec<usize>, group: &[usize]| {
            !group.is_empty() && unit.len() == group.len() && group.iter().all(|limit| unit.contains(limit))
        };
        let count = |group: &[usize]| units.iter().filter(|unit| is(unit, group)).count() as u64;
        groups.into_iter().map(|group| (group.clone(), count(&group))).collect()
    }

    #[test]
    fn units_of_a_table_worked_by_hand() {
        // Limits 0, 2 and 4 are missed by units 1, 2 and 5; limit 1 by 2 and 3; limit 3 by none.
        let units = [vec![], vec![0, 2, 4], vec![0, 1, 2, 4], vec![1], vec![], vec![0, 2, 4]];
        let expected = [(vec![0, 2, 4], 2), (vec![1], 1), (vec![3], 0)];
        for chunk in 1..=6 {
            assert_eq!(alike(5, &units, chunk).groups().collect::<Vec<_>>(), expected, "{chunk}");
        }
        // A unit that misses 2 alone parts the group, and who missed 0, 2 and 4 has missed two things: {0, 4} and {2}.
        let parted = [&units[..], &[vec![2]]].concat();
        let expected = [(vec![0, 4], 0), (vec![1], 1), (vec![2], 1), (vec![3], 0)];
        assert_eq!(alike(5, &parted, 3).groups().collect::<Vec<_>>(), expected);
    }

    #[test]
    fn any_units_in_any_parts_are_grouped_as_defined() {
        let mut stream = Stream::new(Key::new(7, "units that miss limits"), 0, 0, 0);
        let mut next = |below: u64| stream.random_range(0..below);
        for round in 0..200 {
            let (limits, kinds) = (1 + next(9) as usize, 1 + next(5) as usize);
            let kinds: Vec<Vec<usize>> =
                (0..kinds).map(|_| (0..limits).filter(|_| next(3) == 0).collect()).collect();
            let units: Vec<Vec<usize>> =
                (0..1 + next(150)).map(|_| kinds[next(kinds.len() as u64) as usize].clone()).collect();
            let expected = by_definition(limits, &units);
            let whole = alike(limits, &units, CHUNK);
            assert_eq!(whole.groups().collect::<Vec<_>>(), expected, "{round}");
            assert_eq!(whole, alike(limits, &units, 1 + next(20) as usize), "{round}");
            // Merged from the end to the start, and by halves.
            let (first, last) = units.split_at(units.len() / 3);
            let mut joined = alike(limits, last, CHUNK);
            joined.merge(&alike(limits, first, CHUNK));
            assert_eq!(joined, whole, "{round}");
        }
    }
}
