//! Channels that do not work at all.

use crate::io::{Check, Dimension, Table};
use crate::random::{Sources, Tolerance};

/// How likely a channel is dead, and how many of a unit may be.
#[derive(Clone, Debug, PartialEq)]
pub struct DeadChannels {
    /// 0 for a channel that lives.
    pub fate: Tolerance,
    /// Probability that a channel is dead.
    pub probability: f64,
    /// Most dead channels of a unit that does not fail for it.
    pub allowed: usize,
}

impl DeadChannels {
    /// Reads `dead_channel = { probability = 0.001, allowed = 0 }` of the array; absent: all live.
    pub(super) fn read(array: &Table, channels: usize) -> DeadChannels {
        let Some(table) = array.table("dead_channel") else {
            return DeadChannels { fate: Tolerance::exact(0.0), probability: 0.0, allowed: 0 };
        };
        let probability = table.number("probability", Check::Within(0.0, 0.5));
        DeadChannels {
            fate: Tolerance::by_chance(probability),
            probability,
            allowed: table.count_or("allowed", 0..=channels as u64, 0) as usize,
        }
    }

    /// Gives it its place among the draws.
    pub fn bind(&mut self, sources: &mut Sources) {
        sources.bind("array.dead_channel".into(), &mut self.fate, 1, Dimension::Ratio, false);
    }
}
