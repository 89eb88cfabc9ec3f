//! The list of everything that is drawn.
//!
//! A source is known by its name ("feed cable.length"), never by its number: adding a block, or a bit,
//! leaves every other draw as it was.

mod shared;

pub(crate) use shared::SharedDraws;

use crate::io::Dimension;
use crate::random::{
    Correlation, Distribution, Draws, Grouping, Inspected, Key, Scope, Spread, Stated, Tolerance, Value,
};

/// Where draws stand in the buffer: `[slot][group]`, in lanes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Place {
    /// Number of the source; of a sum, of the first that it adds.
    source: usize,
    start: usize,
    /// Rows from slot to slot: odd, so that the slots of a channel do not all fall on the same set of a cache.
    stride: usize,
    pub(in crate::random) channels_a_group: usize,
}

impl Place {
    /// The row of a slot's first group.
    #[inline(always)]
    pub(in crate::random) fn start_of(&self, slot: usize) -> usize {
        self.start + slot * self.stride
    }
}

/// One named source of deviations.
#[derive(Clone, Debug)]
pub(crate) struct Source {
    /// Block (or bench part) and key, joined by a point; a second distribution of a tolerance adds its scope after a comma.
    pub name: String,
    /// Distribution of the deviation.
    pub distribution: Distribution,
    /// What stands between the delivered parts and these, where it is stated.
    pub inspected: Option<Box<Inspected>>,
    /// What shares one draw.
    pub scope: Scope,
    /// Nominal value that the deviation is added to.
    pub nominal: f64,
    /// Kind of quantity, for printing.
    pub dimension: Dimension,
    /// Independent draws for each group: bits, states, or 1.
    pub slots: usize,
    /// Groups: channels, chips, boards, or 1.
    pub groups: usize,
    /// True when a slot is drawn only once something uses it.
    on_use: bool,
    /// True when it does not deviate at all.
    pub(in crate::random) is_frozen: bool,
    pub(in crate::random) key: Key,
    pub(in crate::random) place: Place,
    /// Units that share a draw, where it is drawn for each lot.
    pub(in crate::random) lot: Option<u64>,
    /// First of its slots among those of all sources.
    pub(in crate::random) first_slot: usize,
    /// Number of the set of correlated sources that it belongs to.
    set: Option<usize>,
    /// What it is added to, where a tolerance has two distributions.
    sum: Option<Sum>,
}

/// The sum of two sources of one tolerance.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Sum {
    /// Number of the second.
    with: usize,
    /// Where the sum stands, by the finer of the two scopes.
    place: Place,
}

/// Sources whose scores are correlated.
#[derive(Clone, Debug)]
struct Set {
    /// Numbers of the sources; the first keeps its own draws.
    members: Vec<usize>,
    /// L of [`Correlation`].
    factor: Vec<Vec<f64>>,
}

impl Source {
    /// The group that a channel belongs to.
    pub(crate) fn group_of(&self, channel: usize) -> usize {
        channel / self.place.channels_a_group
    }
}

/// All sources of a plan.
#[derive(Clone, Debug)]
pub(crate) struct Sources {
    seed: u64,
    grouping: Grouping,
    list: Vec<Source>,
    sets: Vec<Set>,
    rows: usize,
    slots: usize,
}

impl Sources {
    /// An empty list for a seed and a grouping of the channels.
    pub(crate) fn new(seed: u64, grouping: Grouping) -> Sources {
        Sources { seed, grouping, list: Vec::new(), sets: Vec::new(), rows: 0, slots: 0 }
    }

    /// Gives a tolerance its place among the draws, with `slots` independent draws for each group, and answers with the value that
    /// units have. A tolerance that does not vary takes no place. With `on_use` a slot is left undrawn until [`Sources::need`].
    pub(crate) fn bind(
        &mut self,
        name: String,
        tolerance: &Tolerance,
        slots: usize,
        dimension: Dimension,
        on_use: bool,
    ) -> Value {
        let Some(spread) = &tolerance.spread else { return Value::exact(tolerance.nominal) };
        let stated = Stated { dimension, nominal: tolerance.nominal };
        let first = self.add(name.clone(), spread, stated, slots, on_use);
        self.list[first].inspected = tolerance.inspected.clone();
        let mut place = self.list[first].place;
        if let Some(second) = &tolerance.second {
            let name = format!("{name}, {}", second.scope.name());
            let with = self.add(name, second, stated, slots, on_use);
            let size = |scope| self.grouping.channels_of(scope);
            let finer = if size(second.scope) < size(spread.scope) { second.scope } else { spread.scope };
            place = self.place(first, finer, slots);
            self.list[first].sum = Some(Sum { with, place });
        }
        Value::drawn(tolerance, spread, place)
    }

    /// Adds a source and answers with its number.
    fn add(&mut self, name: String, spread: &Spread, of: Stated, slots: usize, on_use: bool) -> usize {
        let number = self.list.len();
        let source = Source {
            key: Key::new(self.seed, &name),
            name,
            distribution: spread.distribution.clone(),
            inspected: None,
            scope: spread.scope,
            nominal: of.nominal,
            dimension: of.dimension,
            slots,
            groups: self.groups(spread.scope),
            on_use,
            is_frozen: false,
            place: self.place(number, spread.scope, slots),
            lot: self.grouping.lot.filter(|_| spread.scope == Scope::Lot),
            first_slot: self.slots,
            set: None,
            sum: None,
        };
        self.slots += slots;
        self.list.push(source);
        number
    }

    /// Correlates parameters of a block that were bound.
    pub(crate) fn correlate(&mut self, block: &str, correlation: &Correlation) {
        let number = |key: &&str| {
            let name = format!("{block}.{key}");
            self.list.iter().position(|source| source.name == name)
        };
        let members: Option<Vec<usize>> = correlation.keys.iter().map(number).collect();
        let Some(members) = members else { return };
        for member in &members {
            self.list[*member].set = Some(self.sets.len());
        }
        self.sets.push(Set { members, factor: correlation.factor.clone() });
    }

    /// The sources, by number, that vary together with one: itself, and those that it is correlated with.
    pub(crate) fn together_with(&self, number: usize) -> Vec<usize> {
        self.list[number].set.map_or(vec![number], |set| self.sets[set].members.clone())
    }

    /// Lets sources, by number, read an independent second sample. Those that are correlated with one of them have to be named too.
    pub(crate) fn rekey(&mut self, numbers: &[usize]) {
        for number in numbers {
            let source = &mut self.list[*number];
            source.key = Key::of_second_sample(self.seed, &source.name);
        }
    }

    /// Lets sources whose names are chosen draw what an attempt, from 1, to mend a unit puts in their place. Parts come from the lot that
    /// the unit is of, so what is drawn for each lot stays.
    pub(crate) fn replace(&mut self, attempt: u32, is_chosen: impl Fn(&str) -> bool) {
        let seed = self.seed;
        for source in self.list.iter_mut().filter(|of| of.scope != Scope::Lot && is_chosen(&of.name)) {
            source.key = Key::of_attempt(seed, &source.name, attempt);
        }
    }

    /// Keeps sources, by number, at their nominal values. Those that are correlated with one of them have to be named too.
    pub(crate) fn freeze(&mut self, numbers: &[usize]) {
        numbers.iter().for_each(|number| self.list[*number].is_frozen = true);
    }

    /// Leaves every source at its nominal value, drawn on use or not: a unit as on the drawing, to which
    /// [`Sources::deviate`] adds.
    pub(crate) fn hold<const W: usize>(&self, draws: &mut Draws<W>) {
        draws.begin(0);
        for source in &self.list {
            (0..source.slots).for_each(|slot| draws.freeze(source, slot));
        }
        for (number, source) in self.list.iter().enumerate() {
            (0..source.slots).for_each(|slot| self.add_second(number, slot, draws));
        }
    }

    /// Gives one slot of a source's group a deviation in each lane, whatever it had.
    pub(crate) fn deviate<const W: usize>(
        &self,
        number: usize,
        slot: usize,
        group: usize,
        deviation: &[f32; W],
        draws: &mut Draws<W>,
    ) {
        draws.put(&self.list[number], slot, group, deviation);
        let sums = |first: &usize| self.list[*first].sum.is_some_and(|sum| sum.with == number);
        let first = (0..self.list.len()).find(sums).unwrap_or(number);
        self.add_second(first, slot, draws);
    }

    /// The coefficient by which two sources of one set are correlated, by number: 0 where they are drawn apart.
    pub(crate) fn coefficient(&self, a: usize, b: usize) -> f64 {
        let (Some(set), true) = (self.list[a].set, self.list[a].set == self.list[b].set) else { return 0.0 };
        let Set { members, factor } = &self.sets[set];
        let row = |number| members.iter().position(|member| *member == number).map(|place| &factor[place]);
        let (Some(a), Some(b)) = (row(a), row(b)) else { return 0.0 };
        a.iter().zip(b).map(|(a, b)| a * b).sum()
    }

    /// Draws a source, by number, as its parts are delivered: without their inspection.
    pub(crate) fn uninspect(&mut self, number: usize) {
        let sum = self.list[number].sum;
        let source = &mut self.list[number];
        let Some(inspected) = source.inspected.take() else { return };
        match (inspected.lot, sum) {
            (Some(lot), Some(Sum { with, .. })) => {
                source.distribution = inspected.delivered;
                self.list[with].distribution = lot;
            }
            // Parts do not differ from their lot.
            (Some(lot), None) => source.distribution = lot,
            (None, _) => source.distribution = inspected.delivered,
        }
    }

    /// Room for the slots of a source.
    fn place(&mut self, source: usize, scope: Scope, slots: usize) -> Place {
        let stride = self.groups(scope) | 1;
        let start = self.rows;
        self.rows += slots * stride;
        Place { source, start, stride, channels_a_group: self.grouping.channels_of(scope) }
    }

    fn groups(&self, scope: Scope) -> usize {
        self.grouping.channels.div_ceil(self.grouping.channels_of(scope))
    }

    /// How channels and units are grouped.
    pub(crate) fn grouping(&self) -> &Grouping {
        &self.grouping
    }

    /// Units that hang together, from trial 0 on: those of a lot that shares a draw which varies. Where there are lots of several sizes,
    /// the least number that all of them divide, so that no lot is cut. `None` where no two units share a draw.
    pub(crate) fn lot(&self) -> Option<u64> {
        let varies = |source: &&Source| !source.is_frozen && source.distribution.sd() > 0.0;
        let sizes = self.list.iter().filter(varies).filter_map(|source| source.lot);
        sizes.reduce(whole_lots).filter(|units| *units > 1)
    }

    /// The sources in the order they were bound.
    pub(crate) fn list(&self) -> &[Source] {
        &self.list
    }

    /// Begins a batch of the trials `first_trial ..` and draws every source, but for those drawn on use.
    pub(crate) fn draw<const W: usize>(&self, first_trial: u64, draws: &mut Draws<W>) {
        draws.begin(first_trial);
        self.draw_at_once(draws);
    }

    /// Draws what is not drawn yet, but for the sources drawn on use.
    fn draw_at_once<const W: usize>(&self, draws: &mut Draws<W>) {
        let at_once = |number: &usize| !self.list[*number].on_use;
        for number in (0..self.list.len()).filter(at_once) {
            (0..self.list[number].slots).for_each(|slot| self.draw_slot(number, slot, draws));
        }
    }

    /// Draws what [`Sources::draw`] left out as well.
    pub(crate) fn draw_rest<const W: usize>(&self, draws: &mut Draws<W>) {
        for (number, source) in self.list.iter().enumerate() {
            (0..source.slots).for_each(|slot| self.draw_slot(number, slot, draws));
        }
    }

    /// Draws one slot of a value, if it is not drawn yet.
    pub(crate) fn need<const W: usize>(&self, value: &Value, slot: usize, draws: &mut Draws<W>) {
        if let Some(place) = value.place() {
            self.draw_slot(place.source, slot, draws);
        }
    }

    fn draw_slot<const W: usize>(&self, number: usize, slot: usize, draws: &mut Draws<W>) {
        let source = &self.list[number];
        if draws.is_drawn(source, slot) {
            return;
        }
        match source.set.map(|set| &self.sets[set]) {
            _ if source.is_frozen => draws.freeze(source, slot),
            None => draws.draw(source, slot),
            Some(set) => draws.draw_set(&self.list, &set.members, &set.factor, slot),
        }
        self.add_second(number, slot, draws);
    }

    /// Adds the second distribution of a tolerance to the first, which is drawn, where there are two.
    fn add_second<const W: usize>(&self, number: usize, slot: usize, draws: &mut Draws<W>) {
        let source = &self.list[number];
        if let Some(Sum { with, place }) = &source.sum {
            self.draw_slot(*with, slot, draws);
            let groups = self.grouping.channels.div_ceil(place.channels_a_group);
            draws.add(place, groups, [&source.place, &self.list[*with].place], slot);
        }
    }

    /// The deviations of the first channels at a slot that is not kept, drawn for the batch in `draws`, `[channel][lane]`: of a source with
    /// more draws than are worth keeping.
    pub(crate) fn draw_once<const W: usize>(
        &self,
        value: &Value,
        slot: u32,
        channels: usize,
        draws: &Draws<W>,
    ) -> Vec<[f32; W]> {
        let Some(place) = value.place() else { return vec![[0.0; W]; channels] };
        let mut deviations = vec![[0.0; W]; channels];
        let mut add = |source: &Source| {
            let groups = channels.checked_sub(1).map_or(0, |last| source.group_of(last) + 1);
            let rows = draws.draw_apart(source, slot, groups);
            for (channel, deviation) in deviations.iter_mut().enumerate() {
                let row = &rows[source.group_of(channel)];
                (0..W).for_each(|l| deviation[l] += row[l]);
            }
        };
        let source = &self.list[place.source];
        add(source);
        if let Some(Sum { with, .. }) = source.sum {
            add(&self.list[with]);
        }
        deviations
    }

    /// A buffer for one batch.
    pub(crate) fn buffer<const W: usize>(&self) -> Draws<W> {
        let groups = self.list.iter().map(|source| source.groups).max().unwrap_or(0);
        let scores = |set: &Set| set.members.len() * self.list[set.members[0]].groups;
        let scores = self.sets.iter().map(scores).max().unwrap_or(0);
        Draws::new(self.rows, self.slots, groups, scores)
    }
}

/// Fewest units that hold whole lots of both sizes: the least common multiple; of numbers too large for it, the largest number.
pub(crate) fn whole_lots(a: u64, b: u64) -> u64 {
    let (mut divisor, mut rest) = (a.max(b), a.min(b));
    while rest > 0 {
        (divisor, rest) = (rest, divisor % rest);
    }
    (a / divisor.max(1)).saturating_mul(b)
}

#[cfg(test)]
mod tests;
