//! Which units pass, kept unit by unit, so that any two verdicts can be compared.

use crate::engine::{CHUNK, PlanOutcomes};
use crate::model::Model;
use crate::random::whole_lots;
use crate::stats::{Estimate, Lots, Pairs, PairsByLots, clopper_pearson};
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// Which units pass: a bit for each.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Passes {
    /// The first unit; only verdicts that begin with unit 0 are weighed.
    first: u64,
    /// The unit after the last.
    end: u64,
    /// From the word of the first unit on, the first of 64 units lowest; bits of units that are not there are 0.
    words: Vec<u64>,
    /// Units that are not there, between the first and the end, ascending.
    missing: Vec<Range<u64>>,
    /// Units of a lot, where units share lots.
    lot: Option<u64>,
}

impl Passes {
    /// Of a model, without units yet.
    pub(crate) fn new(model: &Model) -> Passes {
        Passes::starting(model, 0)
    }

    /// The same, for the units from one on.
    pub(super) fn starting(model: &Model, first: u64) -> Passes {
        Passes { first, end: first, lot: model.lot(), ..Passes::default() }
    }

    /// From verdicts unit by unit.
    #[cfg(test)]
    pub(crate) fn of(verdicts: &[bool]) -> Passes {
        let word = |units: &[bool]| units.iter().rev().fold(0, |word, passes| word << 1 | u64::from(*passes));
        let words = verdicts.chunks(CHUNK).map(word).collect();
        Passes { end: verdicts.len() as u64, words, ..Passes::default() }
    }

    /// The same in lots.
    #[cfg(test)]
    pub(crate) fn in_lots(verdicts: &[bool], lot: u64) -> Passes {
        Passes { lot: Some(lot), ..Passes::of(verdicts) }
    }

    /// Adds the units of the next chunk, or a part of it.
    pub(crate) fn push(&mut self, chunk: &PlanOutcomes) {
        self.push_word(chunk.all().count_ones(), chunk.passed());
    }

    /// Adds the next units by their verdicts, the first lowest; they do not reach beyond the end of a word.
    pub(in crate::decide) fn push_word(&mut self, units: u32, passed: u64) {
        let place = self.end % CHUNK as u64;
        match self.words.last_mut() {
            Some(last) if place > 0 => *last |= passed << place,
            _ => self.words.push(passed << place),
        }
        self.end += u64::from(units);
    }

    /// Adds verdicts on units beyond the end; those between are missing.
    pub(super) fn append(&mut self, next: &Passes) {
        if next.first > self.end {
            self.missing.push(self.end..next.first);
        }
        let at = (next.first / CHUNK as u64 - self.first / CHUNK as u64) as usize;
        self.words.resize(self.words.len().max(at + next.words.len()), 0);
        self.words[at..].iter_mut().zip(&next.words).for_each(|(mine, next)| *mine |= next);
        self.missing.extend_from_slice(&next.missing);
        self.end = next.end;
    }

    /// The unit after the last.
    pub(super) fn end(&self) -> u64 {
        self.end
    }

    /// The verdicts as words, from that of the first unit on.
    pub(super) fn words(&self) -> &[u64] {
        &self.words
    }

    /// Which units of a word are there.
    fn there(&self, number: usize) -> u64 {
        let start = (number * CHUNK) as u64;
        let below = |unit: u64| first_bits(unit.saturating_sub(start));
        let gap = |gap: &Range<u64>| below(gap.end) & !below(gap.start);
        self.missing.iter().fold(below(self.end), |there, missing| there & !gap(missing))
    }

    /// Verdicts of the chunk of a number, the first unit lowest; no unit passes beyond the last.
    pub(in crate::decide) fn word(&self, number: usize) -> u64 {
        self.words.get(number).copied().unwrap_or(0)
    }

    /// Units that pass.
    pub(crate) fn passed(&self) -> u64 {
        self.words.iter().map(|word| u64::from(word.count_ones())).sum()
    }

    /// Units in all.
    pub(crate) fn units(&self) -> u64 {
        let missing: u64 = self.missing.iter().map(|of| of.end - of.start).sum();
        self.end - self.first - missing
    }

    /// Number of the first unit that fails.
    pub(crate) fn first_failing(&self) -> Option<u64> {
        let fails = |(number, word): (usize, &u64)| {
            let failing = self.there(number) & !word;
            (failing != 0).then(|| (number * CHUNK) as u64 + u64::from(failing.trailing_zeros()))
        };
        self.words.iter().enumerate().find_map(fails)
    }

    /// Convergence of the yield: its estimate after 64 units, after twice as many, and so on up to all. `confidence` is that of each
    /// interval by itself, not of all of them at once.
    pub(crate) fn convergence(&self, confidence: f64) -> Vec<Estimate> {
        let mut found = Vec::new();
        let (mut passed, mut next) = (0, CHUNK as u64);
        let (mut before, all) = (0, self.units());
        let mut lots = self.lot.map(Lots::new);
        for (number, word) in self.words.iter().enumerate() {
            passed += u64::from(word.count_ones());
            let units = before + u64::from(self.there(number).count_ones());
            if let Some(lots) = &mut lots {
                lots.push_word((units - before) as usize, *word);
            }
            let is_more = units > before;
            before = units;
            if is_more && (units >= next || units == all) {
                let of_units = || clopper_pearson(passed, units, confidence);
                found.push(lots.map_or_else(of_units, |lots| lots.by_lots().share(confidence)));
                while next <= units {
                    next *= 2;
                }
            }
        }
        found
    }

    /// Units of a lot, and the share that passes of every whole lot; `None` where units share no lots.
    pub(crate) fn lot_shares(&self) -> Option<(u64, Vec<f64>)> {
        let size = self.lot?;
        let passes = |unit: u64| self.words[(unit / CHUNK as u64) as usize] >> (unit % CHUNK as u64) & 1;
        let share = |lot: u64| {
            let passing: u64 = (lot * size..(lot + 1) * size).map(passes).sum();
            passing as f64 / size as f64
        };
        Some((size, (0..self.units() / size).map(share).collect()))
    }

    /// These verdicts paired with others on the same units, as far as both go.
    pub(crate) fn beside(&self, other: &Passes) -> Pairs {
        let mut pairs = Pairs::default();
        let lot = match (self.lot, other.lot) {
            (Some(mine), Some(theirs)) => Some(whole_lots(mine, theirs)),
            (mine, theirs) => mine.or(theirs),
        };
        let mut lots = lot.map(|size| [Lots::new(size); 3]);
        for ((number, first), second) in (0..).zip(&self.words).zip(&other.words) {
            let all = self.there(number) & other.there(number);
            let count = |units: u64| u64::from((units & all).count_ones());
            pairs.both += count(first & second);
            pairs.only_first += count(first & !second);
            pairs.only_second += count(!first & second);
            pairs.neither += count(!first & !second);
            if let Some([firsts, seconds, differences]) = &mut lots {
                let units = all.count_ones() as usize;
                firsts.push_word(units, *first);
                seconds.push_word(units, *second);
                differences.push_difference(units, first & !second, second & !first);
            }
        }
        pairs.lots = lots.map(|lots| {
            let [first, second, difference] = lots.map(|of| of.by_lots());
            PairsByLots { first, second, difference }
        });
        pairs
    }

    /// Numbers of the units that pass here and not there, in order.
    pub(crate) fn saved_over<'a>(&'a self, other: &'a Passes) -> impl Iterator<Item = u64> + 'a {
        let words = (0..).zip(self.words.iter().zip(&other.words));
        words.flat_map(|(number, (mine, theirs))| {
            let saved = mine & !theirs;
            (0..CHUNK as u64)
                .filter(move |bit| saved >> bit & 1 == 1)
                .map(move |bit| number * CHUNK as u64 + bit)
        })
    }
}

fn first_bits(units: u64) -> u64 {
    if units >= CHUNK as u64 { u64::MAX } else { (1 << units) - 1 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn convergence_doubles_the_units_each_time() {
        for count in [1, 63, 64, 65, 128, 150, 1000] {
            let verdicts: Vec<bool> = (0..count).map(|unit| unit % 3 != 0).collect();
            let found = Passes::of(&verdicts).convergence(0.95);
            let counts: Vec<u64> = found.iter().map(|of| of.count).collect();
            let mut expected: Vec<u64> = (0..5).map(|k| 64 << k).filter(|units| *units < count).collect();
            expected.push(count);
            assert_eq!(counts, expected);
            for of in found {
                let passed = verdicts[..of.count as usize].iter().filter(|passes| **passes).count();
                assert_eq!(of, clopper_pearson(passed as u64, of.count, 0.95));
            }
        }
        assert!(Passes::default().convergence(0.95).is_empty());
    }

    #[test]
    fn the_first_failing_unit_is_found() {
        let of = |fails: &[usize], units: usize| {
            let verdicts: Vec<bool> = (0..units).map(|unit| !fails.contains(&unit)).collect();
            Passes::of(&verdicts).first_failing()
        };
        assert_eq!((of(&[2, 3, 70], 100), of(&[70, 99], 100), of(&[64], 65)), (Some(2), Some(70), Some(64)));
        assert_eq!((of(&[], 64), of(&[], 65), of(&[], 0)), (None, None, None));
    }

    #[test]
    fn verdicts_of_lots_are_paired_lot_by_lot() {
        // Lots of 100 units, over the ends of words, that pass whole or not at all: half of the first, and of those all but every fourth.
        let first: Vec<bool> = (0..6000).map(|unit| unit / 100 % 2 == 0).collect();
        let second: Vec<bool> = (0..6000).map(|unit| unit / 100 % 2 == 0 && unit / 100 % 8 != 0).collect();
        let pairs = Passes::in_lots(&first, 100).beside(&Passes::in_lots(&second, 100));
        let lots = pairs.lots.unwrap();
        assert_eq!((lots.first.lots, lots.first.seen, lots.difference.seen), (60, 30, 8));
        assert_eq!((pairs.only_first, lots.difference.mean), (800, 800.0 / 6000.0));
        // Each lot is one unit: 8 of 60 differ, which Tango's score says of 60 units.
        let of_lots = Pairs { both: 22, only_first: 8, only_second: 0, neither: 30, lots: None };
        let (found, expected) = (pairs.difference(0.95), of_lots.difference(0.95));
        assert!(
            (found.low - expected.low).abs() < 0.02 && (found.high - expected.high).abs() < 0.04,
            "{found:?}"
        );
        // Of lots of two sizes the whole lots of both.
        let crossed = Passes::in_lots(&first, 100).beside(&Passes::in_lots(&second, 150));
        assert_eq!(crossed.lots.unwrap().first.lots, 20);
        // A yield's convergence is by lots too, and of units alone where they share none.
        let last = Passes::in_lots(&first, 100).convergence(0.95).pop().unwrap();
        assert_eq!((last.value, last.method), (0.5, "Clopper-Pearson, by lots"));
        assert_eq!(last, lots.first.share(0.95));
        assert!(Passes::of(&first).beside(&Passes::of(&second)).lots.is_none());
    }

    #[test]
    fn verdicts_are_paired_unit_by_unit() {
        let first: Vec<bool> = (0..150).map(|unit| unit % 2 == 0).collect();
        let second: Vec<bool> = (0..130).map(|unit| unit % 3 == 0).collect();
        let (first, second) = (Passes::of(&first), Passes::of(&second));
        // Of 0..130: multiples of 6, of 2 alone, of 3 alone, by counting.
        let pairs = Pairs { both: 22, only_first: 43, only_second: 22, neither: 43, lots: None };
        assert_eq!(first.beside(&second), pairs);
        assert_eq!((pairs.count(), first.units(), second.units()), (130, 150, 130));
        assert_eq!(second.saved_over(&first).take(4).collect::<Vec<_>>(), [3, 9, 15, 21]);
        assert_eq!(second.saved_over(&first).count(), 22);
    }
}
