//! Sources of several lists that draw alike: what one has drawn, another takes over.

use super::{Set, Source, Sources, Sum};
use crate::random::{Draws, Value};

/// For each source of a list, the sources of other lists that draw alike, `[source]`.
#[derive(Clone, Debug, Default)]
pub(crate) struct SharedDraws(Vec<Vec<SharedSource>>);

/// A source of another list.
#[derive(Clone, Copy, Debug)]
struct SharedSource {
    list: usize,
    source: usize,
}

#[cfg(test)]
impl SharedDraws {
    /// Sources of other lists in all.
    pub(super) fn count(&self) -> usize {
        self.0.iter().map(Vec::len).sum()
    }
}

impl Sources {
    /// Looks through other lists, each with its number, for sources that draw as those of this one do.
    pub(crate) fn shared(&self, others: &[(usize, &Sources)]) -> SharedDraws {
        let of = |number: usize| {
            let same = |(list, other): &(usize, &Sources)| {
                let source = (0..other.list.len()).find(|source| self.draws_as(number, other, *source))?;
                Some(SharedSource { list: *list, source })
            };
            others.iter().filter_map(same).collect()
        };
        SharedDraws((0..self.list.len()).map(of).collect())
    }

    /// As [`Sources::draw`], but what sources that draw alike have drawn for the same trials is copied, slot by slot, that of sources drawn on use
    /// too. `other` gives a list and its draws by number.
    pub(crate) fn draw_shared<'o, const W: usize>(
        &self,
        first_trial: u64,
        shared: &SharedDraws,
        other: impl Fn(usize) -> (&'o Sources, &'o Draws<W>),
        draws: &mut Draws<W>,
    ) {
        draws.begin(first_trial);
        // From the last: the second distribution of a tolerance stands behind the first, and is added to it at once.
        for (number, (source, shared)) in self.list.iter().zip(&shared.0).enumerate().rev() {
            for slot in 0..source.slots {
                let drawn = shared.iter().find_map(|same| {
                    let (sources, from) = other(same.list);
                    let of = &sources.list[same.source];
                    let is_there =
                        slot < of.slots && from.first_trial() == first_trial && from.is_drawn(of, slot);
                    is_there.then_some((of, from))
                });
                if let Some((of, from)) = drawn {
                    draws.take(source, slot, from, of);
                    self.add_second(number, slot, draws);
                }
            }
        }
        self.draw_at_once(draws);
    }

    /// True where every source has the draws and the place of its like in another list, but for those that some values are
    /// drawn from.
    pub(crate) fn agree(&self, other: &Sources, but_for: &[&Value]) -> bool {
        let left_out: Vec<usize> = but_for.iter().flat_map(|of| self.numbers_of(of)).collect();
        let agrees = |number: &usize| {
            let (own, its) = (&self.list[*number], &other.list[*number]);
            self.draws_as(*number, other, *number)
                && (own.slots, own.on_use, own.place, own.first_slot, own.sum)
                    == (its.slots, its.on_use, its.place, its.first_slot, its.sum)
        };
        let mut numbers = (0..self.list.len()).filter(|number| !left_out.contains(number));
        self.list.len() == other.list.len() && numbers.all(|number| agrees(&number))
    }

    /// Numbers of the sources that a value is drawn from.
    fn numbers_of(&self, value: &Value) -> impl Iterator<Item = usize> {
        let first = value.place().map(|place| place.source);
        let second = first.and_then(|first| self.list[first].sum).map(|Sum { with, .. }| with);
        first.into_iter().chain(second)
    }

    /// True where a source has the draws of another list's at every slot that both have.
    fn draws_as(&self, number: usize, other: &Sources, its: usize) -> bool {
        let (source, its) = (&self.list[number], &other.list[its]);
        let are_alike = match (source.set, its.set) {
            (None, None) => true,
            (Some(set), Some(its)) => self.is_the_set(&self.sets[set], other, &other.sets[its]),
            _ => false,
        };
        are_alike && source.draws_by_itself_as(its)
    }

    /// True where sources are correlated alike.
    fn is_the_set(&self, set: &Set, other: &Sources, its: &Set) -> bool {
        let Set { members, factor } = set;
        let mut pairs = members.iter().zip(&its.members);
        members.len() == its.members.len()
            && *factor == its.factor
            && pairs.all(|(own, its)| self.list[*own].draws_by_itself_as(&other.list[*its]))
    }
}

impl Source {
    /// True where both have the same draws, but for what correlation makes of them.
    fn draws_by_itself_as(&self, other: &Source) -> bool {
        // What a source is called, where its draws stand and when they are drawn changes none of them.
        let Source {
            key,
            distribution,
            groups,
            lot,
            place,
            is_frozen,
            name: _,
            inspected: _,
            scope: _,
            nominal: _,
            dimension: _,
            slots: _,
            on_use: _,
            first_slot: _,
            set: _,
            sum: _,
        } = self;
        (key, distribution, groups, lot, is_frozen)
            == (&other.key, &other.distribution, &other.groups, &other.lot, &other.is_frozen)
            && place.channels_a_group == other.place.channels_a_group
    }
}
