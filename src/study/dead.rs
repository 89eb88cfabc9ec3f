//! Channels that do not work at all.

use crate::array::MOST_A_SIDE;
use crate::bench::DeadRule;
use crate::io::{Check, Count, Dimension, Key, Nested, Or, Quantity, Table, keys};
use crate::random::{Sources, Tolerance, Value};

/// How likely a channel is dead, and how many of a unit may be.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct DeadChannels<T = Value> {
    /// 0 for a channel that lives.
    pub fate: T,
    /// Probability that a channel is dead.
    pub probability: f64,
    /// Most dead channels of a unit that does not fail for it.
    pub allowed: usize,
    /// How the bench knows a dead channel.
    pub rule: DeadRule,
}

keys! {
    KEYS: "Channels that do not work at all; none where it is left out";
    PROBABILITY: Quantity =
        Key::number("probability", Check::Within(0.0, 0.5), "0.001", "Probability that a channel is dead");
    ALLOWED: Or<Count, u64> =
        Key::count("allowed", 0..=MOST_A_SIDE, "1", "Most dead channels of a unit that does not fail for it; 0 where it is left out").or(0);
}

/// Key of it in the table of the array.
pub(super) const DEAD_CHANNEL: Key<Nested> =
    Key::table("dead_channel", &KEYS, "{ probability = 0.001, allowed = 1 }");

impl DeadChannels<Tolerance> {
    /// Reads `dead_channel = { probability = 0.001, allowed = 0 }` of the array; absent: all live. And `dead_below` of the bench.
    pub(super) fn read(array: &Table, bench: Option<&Table>, channels: usize) -> DeadChannels<Tolerance> {
        let Some(table) = array.table(DEAD_CHANNEL) else {
            let rule = DeadRule::read(bench, false);
            return DeadChannels { fate: Tolerance::exact(0.0), probability: 0.0, allowed: 0, rule };
        };
        let probability = table.read(&PROBABILITY);
        let fate = Tolerance::by_chance(probability);
        DeadChannels {
            rule: DeadRule::read(bench, !fate.is_zero()),
            fate,
            probability,
            allowed: table.read(&ALLOWED.up_to(channels as u64)) as usize,
        }
    }

    /// Gives it its place among the draws.
    pub(crate) fn bind(&self, sources: &mut Sources) -> DeadChannels {
        let DeadChannels { fate, probability, allowed, rule } = self;
        DeadChannels {
            fate: sources.bind("array.dead_channel".into(), fate, 1, Dimension::Ratio, false),
            probability: *probability,
            allowed: *allowed,
            rule: *rule,
        }
    }
}
