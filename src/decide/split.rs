//! The work on some designs, parted for several machines.

use crate::engine::CHUNK;
use crate::model::Model;
use std::ops::Range;

/// Some trials of a design.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Job {
    /// Number of the design.
    pub design: usize,
    /// The trials; those of a shard are whole chunks, except for the last of the design.
    pub trials: Range<u64>,
}

/// One of several shards of the same work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Shard {
    /// Its number, from 1.
    pub number: u64,
    /// How many there are.
    pub of: u64,
}

/// All trials of all designs.
pub(crate) fn whole(models: &[Model]) -> Vec<Job> {
    let job = |(design, model): (usize, &Model)| Job { design, trials: 0..model.trials.most() };
    models.iter().enumerate().map(job).collect()
}

impl Shard {
    /// The jobs of this shard: chunks of trials in the order of designs, as many in each shard but for one, so that many small designs
    /// balance as well as a large one.
    pub(crate) fn jobs(self, models: &[Model]) -> Vec<Job> {
        let chunks = |model: &Model| model.trials.most().div_ceil(CHUNK as u64);
        let all: u128 = models.iter().map(|model| u128::from(chunks(model))).sum();
        let cut = |number: u64| (all * u128::from(number) / u128::from(self.of)) as u64;
        let mine = cut(self.number - 1)..cut(self.number);
        let mut jobs = Vec::new();
        let mut start = 0;
        for (design, model) in models.iter().enumerate() {
            let own = start..start + chunks(model);
            let (first, last) = (own.start.max(mine.start), own.end.min(mine.end));
            if first < last {
                let trial = |chunk: u64| ((chunk - start) * CHUNK as u64).min(model.trials.most());
                jobs.push(Job { design, trials: trial(first)..trial(last) });
            }
            start = own.end;
        }
        jobs
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::Trials;

    #[test]
    fn shards_hold_every_trial_once_and_balance() {
        let text = include_str!("../../tests/data/pair.toml");
        let source = crate::io::SourceText { name: "pair.toml".into(), text: text.into() };
        let model = crate::model::compile(&crate::study::parse(&source).expect("a study"), text);
        let of = |trials| Model { trials: Trials::Fixed(trials), ..model.clone() };
        for (models, count) in [
            (vec![of(1000)], 7),
            (vec![of(100), of(64), of(1), of(5000)], 5),
            (vec![of(3); 9], 4),
            (vec![of(70)], 40),
        ] {
            let shards: Vec<Vec<Job>> =
                (1..=count).map(|number| Shard { number, of: count }.jobs(&models)).collect();
            let mut next = vec![0; models.len()];
            for job in shards.iter().flatten() {
                assert_eq!(job.trials.start, next[job.design]);
                assert!(job.trials.start.is_multiple_of(CHUNK as u64) && !job.trials.is_empty());
                next[job.design] = job.trials.end;
            }
            let most: Vec<u64> = models.iter().map(|model| model.trials.most()).collect();
            assert_eq!(next, most);
            let chunks = |jobs: &Vec<Job>| -> u64 {
                jobs.iter().map(|job| (job.trials.end - job.trials.start).div_ceil(CHUNK as u64)).sum()
            };
            let sizes: Vec<u64> = shards.iter().map(chunks).collect();
            assert!(
                sizes.iter().max().expect("shards") - sizes.iter().min().expect("shards") <= 1,
                "{sizes:?}"
            );
        }
    }
}
