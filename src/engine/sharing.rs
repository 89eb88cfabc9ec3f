//! What models that run together have in common, so that it is worked out once. This is decided once a run, by comparing what is
//! compiled: its parts (`Model::parts`) by their equality, draws and noise by their keys. What is compared field by field names all fields, so
//! that a new field does not compile until it is decided what it affects.

use crate::bench::{Calibration, Fixture, Stability};
use crate::model::{Course, Model, NoiseKeys, TableSpec};
use crate::random::{SharedDraws, Value};

/// What each of several models shares with those before it, `[model]`.
#[derive(Clone, Debug)]
pub(super) struct Sharing {
    pub models: Vec<Shared>,
    /// States of the widest shifter whose readings' noise is worth keeping; 0 where it is not.
    pub noise_of_states: usize,
}

/// What a model shares with those before it.
#[derive(Clone, Debug)]
pub(super) struct Shared {
    /// Number of the batch that holds its units.
    pub batch: usize,
    /// What sources its units have in common with those of models before it; `None` where all units are those of such a model.
    pub shared: Option<SharedDraws>,
    /// Where the values of its units are to be had, `[calibration]`; `None` where they have to be worked out. Verdicts are its
    /// own.
    pub outcomes: Vec<Option<Origin>>,
}

/// A calibration of an earlier model.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Origin {
    pub model: usize,
    pub calibration: usize,
}

impl Sharing {
    /// Compares each model with all before it.
    pub(super) fn of(models: &[Model]) -> Sharing {
        let mut all: Vec<Shared> = Vec::with_capacity(models.len());
        let mut batches = 0;
        for (number, model) in models.iter().enumerate() {
            let before = &models[..number];
            let likeness: Vec<Likeness> = before.iter().map(|other| Likeness::of(model, other)).collect();
            let outcomes = (0..model.calibrations.len()).map(|calibration| {
                let mut before = before.iter().zip(&likeness).enumerate();
                before.find_map(|(number, (other, likeness))| {
                    let is_it = |its: &usize| comes_to_the_same(model, calibration, other, *its, likeness);
                    let calibration = (0..other.calibrations.len()).find(is_it)?;
                    Some(Origin { model: number, calibration })
                })
            });
            let outcomes = outcomes.collect();
            let shared = match likeness.iter().position(|of| of.batch) {
                Some(like) => Shared { batch: all[like].batch, shared: None, outcomes },
                None => {
                    let others = before.iter().enumerate().filter(|(other, _)| all[*other].shared.is_some());
                    let others: Vec<_> = others.map(|(other, model)| (other, &model.sources)).collect();
                    batches += 1;
                    Shared { batch: batches - 1, shared: Some(model.sources.shared(&others)), outcomes }
                }
            };
            all.push(shared);
        }
        let noise_of_states = if readers(models, &all) > 1 {
            models.iter().map(|model| model.hardware.shifter).max().unwrap_or(0)
        } else {
            0
        };
        Sharing { models: all, noise_of_states }
    }
}

/// Calibrations that a bench really does.
fn readers(models: &[Model], shared: &[Shared]) -> usize {
    let of = |(model, shared): (&Model, &Shared)| {
        let calibrations = model.calibrations.iter().zip(&shared.outcomes);
        let is_done = |(of, origin): &(&Calibration, &Option<Origin>)| origin.is_none() && of.align.is_some();
        calibrations.filter(is_done).count()
    };
    models.iter().zip(shared).map(of).sum()
}

/// In what two models are alike, bit for bit.
struct Likeness {
    /// The units before anything is done to them, and what sets them.
    units: bool,
    /// All that a batch holds once it is drawn and built.
    batch: bool,
    /// The beams they are steered to, and what is taken of a beam.
    figures: bool,
    /// The bench, but for its receiver, which depends on the calibration; and all that is drawn.
    bench: bool,
}

impl Likeness {
    fn of(model: &Model, other: &Model) -> Likeness {
        let (own, its) = (model.parts(), other.parts());
        let units = own.units == its.units && model.sources.agree(&other.sources, &drawn_for_bench(model));
        let all_draws = model.sources.agree(&other.sources, &[]);
        let bench = own.bench == its.bench && reads_alike(&model.noise, &other.noise) && all_draws;
        Likeness {
            units,
            batch: units && all_draws && model.views == other.views,
            figures: own.figures == its.figures,
            bench,
        }
    }
}

/// What is drawn of the bench: no unit depends on it.
fn drawn_for_bench(model: &Model) -> [&Value; 8] {
    let Fixture {
        gain_imbalance,
        phase_imbalance,
        reconnection_gain,
        reconnection_phase,
        probe_gain,
        probe_phase,
    } = &model.fixture;
    let Stability { linearity, warm_up, walk_db: _, warm_up_time: _ } = &model.stability;
    [
        gain_imbalance,
        phase_imbalance,
        reconnection_gain,
        reconnection_phase,
        probe_gain,
        probe_phase,
        linearity,
        warm_up,
    ]
}

/// True where noise is the same in all rounds that both models have.
fn reads_alike(keys: &NoiseKeys, other: &NoiseKeys) -> bool {
    let NoiseKeys { alone, looked, joined, turned, field, walk } = keys;
    (alone, looked, turned, field, walk)
        == (&other.alone, &other.looked, &other.turned, &other.field, &other.walk)
        && joined.iter().zip(&other.joined).all(|(own, its)| own == its)
}

/// True where a calibration leaves every unit with the values, the bench time and the fate that another model's leaves it with.
fn comes_to_the_same(model: &Model, number: usize, other: &Model, its: usize, likeness: &Likeness) -> bool {
    let (own, its) = ((model, number), (other, its));
    let [calibration, its_calibration] = [own, its].map(|(model, number)| &model.calibrations[number]);
    // A unit that stays as it comes from assembly meets no bench.
    let is_met_alike = calibration.is_none()
        || likeness.bench && model.receiver_for(calibration) == other.receiver_for(its_calibration);
    likeness.units
        && likeness.figures
        && is_met_alike
        && does_the_same(calibration, its_calibration)
        && makes_the_same_tables(own, its)
}

/// True where two calibrations are the same work; the receiver is compared with its averages.
fn does_the_same(calibration: &Calibration, its: &Calibration) -> bool {
    let Calibration { name: _, averages: _, characterise, level, align, passes, relevels, offsets, tables } =
        calibration;
    (characterise, level, align, tables) == (&its.characterise, &its.level, &its.align, &its.tables)
        && (passes, relevels, offsets) == (&its.passes, &its.relevels, &its.offsets)
}

/// True where the code tables of two calibrations are made for the same and used alike. A model numbers its views by itself.
fn makes_the_same_tables((model, number): (&Model, usize), (other, its): (&Model, usize)) -> bool {
    let Course { tables, chosen } = &model.courses[number];
    let its = &other.courses[its];
    let is_for_the_same = |(own, its): (&TableSpec, &TableSpec)| {
        let TableSpec { view, point } = own;
        model.views[*view] == other.views[its.view] && *point == its.point
    };
    *chosen == its.chosen
        && tables.len() == its.tables.len()
        && tables.iter().zip(&its.tables).all(is_for_the_same)
}

#[cfg(test)]
mod tests;
