//! Units that are mended: some of their parts are replaced, and they come to the bench again.

use crate::model::{Model, NoiseKeys};
use crate::random::Key;
use crate::study::{Replacing, Trials};

/// What is drawn anew each time that a unit comes to the bench; its coupler, its probe and how its receiver stretches stay.
const EACH_TIME: [&str; 3] =
    ["bench.reconnection.gain", "bench.reconnection.phase", "bench.receiver.warm_up"];

impl Model {
    /// The same units after an attempt, from 1, to mend them: replaced parts and what the bench does anew are drawn from streams of the
    /// attempt, all else is as it was. So attempt k of unit n is always the same. Of the first `units`.
    pub(crate) fn attempt(&self, replacing: &Replacing, number: u32, units: u64) -> Model {
        let mut model = Model { trials: Trials::Fixed(units), ..self.clone() };
        let is_replaced = |source: &str| {
            replacing.names.iter().any(|name| match name.as_str() {
                Replacing::DEAD_CHANNEL => source == "array.dead_channel",
                block => source.strip_prefix(block).is_some_and(|key| key.starts_with('.')),
            })
        };
        model.sources.replace(number, |source| is_replaced(source) || EACH_TIME.contains(&source));
        let rounds = self.noise.joined.len() as u32;
        model.noise = NoiseKeys::new(rounds, |name| Key::of_attempt(self.seed, name, number));
        model
    }
}
