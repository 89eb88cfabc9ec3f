//! What is kept of every trial of a chunk, in trial order.

use crate::bench::KINDS_OF_WORK;
use crate::model::Model;
use serde::{Deserialize, Serialize};

/// Trials of a chunk: a multiple of every batch width, and one for each bit of a word, so that what is true or false
/// of a unit is kept as a word for the chunk.
pub(crate) const CHUNK: usize = u64::BITS as usize;

/// Why a unit counts as failed whatever its figures are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Failure {
    /// It has more dead channels than a unit may have.
    DeadChannels,
    /// The bench took a dead channel for a living one, and phases hang on it.
    DeadReference,
    /// A figure came out as no number.
    NoFigure,
}

impl Failure {
    /// All of them, the first reason of a unit first.
    pub(crate) const ALL: [Failure; 3] = [Failure::DeadChannels, Failure::DeadReference, Failure::NoFigure];

    /// In plain words.
    pub(crate) fn reason(self) -> &'static str {
        match self {
            Failure::DeadChannels => "more dead channels than allowed",
            Failure::DeadReference => "a dead channel was taken for a living one, and phases hang on it",
            Failure::NoFigure => "a figure could not be computed",
        }
    }
}

/// Failures that are known before a figure is taken.
pub(super) const KNOWN_FAILURES: usize = 2;

/// Outcomes of a chunk of trials for every calibration plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Outcomes {
    /// The first trial.
    pub first_trial: u64,
    /// Trials held, at most [`CHUNK`].
    pub trials: u64,
    /// One for each calibration plan.
    pub calibrations: Vec<PlanOutcomes>,
}

impl Outcomes {
    /// None yet, from a trial on.
    pub(crate) fn new(model: &Model, first_trial: u64) -> Outcomes {
        Outcomes {
            first_trial,
            trials: 0,
            calibrations: vec![PlanOutcomes::new(model); model.calibrations.len()],
        }
    }

    /// Whether these are all trials of a chunk.
    pub(super) fn is_whole(&self) -> bool {
        self.trials == CHUNK as u64
    }

    /// Number of the chunk that they belong to.
    pub(super) fn chunk(&self) -> u64 {
        self.first_trial / CHUNK as u64
    }

    /// Adds the trials of the same chunk that follow.
    pub(super) fn append(&mut self, next: &Outcomes) {
        debug_assert_eq!(self.first_trial + self.trials, next.first_trial, "trials that follow");
        self.trials += next.trials;
        self.calibrations.iter_mut().zip(&next.calibrations).for_each(|(of, next)| of.append(next));
    }

    /// Takes back what was judged of the trials that are not counted yet.
    pub(super) fn take_back(&mut self) {
        let trials = self.trials as usize;
        self.calibrations.iter_mut().for_each(|of| of.truncate(trials));
    }
}

/// Outcomes of a chunk for one calibration plan. Words hold a bit for each unit, the first one lowest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct PlanOutcomes {
    units: usize,
    /// Value of each column of the model, `[column][CHUNK]`.
    values: Vec<f64>,
    /// For each limit of the model, which units meet it.
    met: Vec<u64>,
    /// For each of [`Failure::ALL`], which units fail for it.
    failed: [u64; Failure::ALL.len()],
    /// Bench time, s.
    seconds: Vec<f64>,
    /// The same by kind of work, `[kind]`.
    split: [Vec<f64>; KINDS_OF_WORK.len()],
}

impl PlanOutcomes {
    /// None yet.
    pub(crate) fn new(model: &Model) -> PlanOutcomes {
        PlanOutcomes {
            units: 0,
            values: vec![0.0; model.columns.len() * CHUNK],
            met: vec![0; model.limits.len()],
            failed: [0; Failure::ALL.len()],
            seconds: Vec::with_capacity(CHUNK),
            split: std::array::from_fn(|_| Vec::with_capacity(CHUNK)),
        }
    }

    /// Judges the units of the first `count` lanes and appends them: value of each column of the model,
    /// `[column][lane]`, bench time by kind of work, s, and whether they fail whatever they measure, in the order of
    /// [`Failure::ALL`]. A chunk has room for [`CHUNK`] units.
    pub(crate) fn push<const W: usize>(
        &mut self,
        model: &Model,
        count: usize,
        values: &[[f64; W]],
        seconds: &[[f64; W]; KINDS_OF_WORK.len()],
        failed: &[[bool; W]; KNOWN_FAILURES],
    ) {
        let from = self.units;
        let mut unmeasured = [false; W];
        for (kept, values) in self.values.chunks_exact_mut(CHUNK).zip(values) {
            kept[from..from + count].copy_from_slice(&values[..count]);
            for l in 0..W {
                unmeasured[l] |= !values[l].is_finite();
            }
        }
        let [dead, stranded] = failed;
        for (kept, failed) in self.failed.iter_mut().zip([dead, stranded, &unmeasured]) {
            *kept |= word(failed, count) << from;
        }
        for (met, limit) in self.met.iter_mut().zip(&model.limits) {
            *met |= word(&values[limit.column].map(|value| limit.is_met_by(value)), count) << from;
        }
        let [set_up, reconnection, setting, reading] = seconds;
        let all = |l| set_up[l] + reconnection[l] + setting[l] + reading[l];
        self.seconds.extend((0..count).map(all));
        for (kept, split) in self.split.iter_mut().zip(seconds) {
            kept.extend_from_slice(&split[..count]);
        }
        self.units += count;
    }

    /// Hands back what the last `count` units were judged by, in the form that [`PlanOutcomes::push`] takes: values, bench time, and
    /// whether each is stranded. What is known of dead channels is known without it.
    pub(super) fn recall<const W: usize>(
        &self,
        count: usize,
        values: &mut [[f64; W]],
        seconds: &mut [[f64; W]; KINDS_OF_WORK.len()],
        is_stranded: &mut [bool; W],
    ) {
        let from = self.units - count;
        for (values, kept) in values.iter_mut().zip(self.values.chunks_exact(CHUNK)) {
            values[..count].copy_from_slice(&kept[from..from + count]);
        }
        for (seconds, kept) in seconds.iter_mut().zip(&self.split) {
            seconds[..count].copy_from_slice(&kept[from..]);
        }
        let stranded = self.failed[Failure::DeadReference as usize];
        is_stranded[..count].iter_mut().zip(from..).for_each(|(is, unit)| *is = has(stranded, unit));
    }

    fn append(&mut self, next: &PlanOutcomes) {
        let (from, more) = (self.units, next.units);
        for (kept, next) in self.values.chunks_exact_mut(CHUNK).zip(next.values.chunks_exact(CHUNK)) {
            kept[from..from + more].copy_from_slice(&next[..more]);
        }
        let words = self.met.iter_mut().chain(&mut self.failed);
        words.zip(next.met.iter().chain(&next.failed)).for_each(|(word, next)| *word |= next << from);
        self.seconds.extend_from_slice(&next.seconds);
        self.split.iter_mut().zip(&next.split).for_each(|(split, next)| split.extend_from_slice(next));
        self.units += more;
    }

    /// Forgets all units but the first ones.
    fn truncate(&mut self, units: usize) {
        if self.units <= units {
            return;
        }
        self.units = units;
        self.values.chunks_exact_mut(CHUNK).for_each(|values| values[units..].fill(0.0));
        self.met.iter_mut().chain(&mut self.failed).for_each(|word| *word &= first_bits(units));
        self.seconds.truncate(units);
        self.split.iter_mut().for_each(|split| split.truncate(units));
    }

    /// Values of a column, `[unit]`.
    pub(crate) fn values(&self, column: usize) -> &[f64] {
        &self.values[column * CHUNK..][..self.units]
    }

    /// Values of one unit, `[column]`.
    pub(crate) fn row(&self, unit: usize) -> impl Iterator<Item = f64> {
        self.values.chunks_exact(CHUNK).map(move |column| column[unit])
    }

    /// Bench time, s, `[unit]`.
    pub(crate) fn seconds(&self) -> &[f64] {
        &self.seconds
    }

    /// For each limit of the model, the units that meet it.
    pub(crate) fn met(&self) -> &[u64] {
        &self.met
    }

    /// For each family of limits, the units that meet all of it.
    pub(super) fn families_met(&self, model: &Model) -> Vec<u64> {
        let mut met = vec![self.all(); model.family_count()];
        model.families.iter().zip(&self.met).for_each(|(family, of)| met[*family] &= of);
        met
    }

    /// All units.
    pub(crate) fn all(&self) -> u64 {
        first_bits(self.units)
    }

    /// The same by kind of work, `[kind][unit]`.
    pub(crate) fn split(&self) -> &[Vec<f64>] {
        &self.split
    }

    /// Units that fail for a reason of their own, the first of [`Failure::ALL`] that applies.
    pub(crate) fn failed_for(&self, failure: Failure) -> u64 {
        let before = self.failed[..failure as usize].iter().fold(0, |before, units| before | units);
        self.failed[failure as usize] & !before
    }

    /// Units that pass.
    pub(crate) fn passed(&self) -> u64 {
        self.met.iter().fold(self.sound(), |passed, met| passed & met)
    }

    /// Units that fail for no reason of their own.
    pub(crate) fn sound(&self) -> u64 {
        self.failed.iter().fold(self.all(), |sound, failed| sound & !failed)
    }

    /// Number of the first limit of the model that a unit misses.
    pub(crate) fn first_missed(&self, unit: usize) -> Option<usize> {
        self.met.iter().position(|met| !has(*met, unit))
    }

    /// Why a unit counts as failed besides its limits.
    pub(crate) fn failure(&self, unit: usize) -> Option<Failure> {
        Failure::ALL.into_iter().find(|failure| has(self.failed[*failure as usize], unit))
    }

    /// Whether a unit passes.
    pub(crate) fn passes(&self, unit: usize) -> bool {
        has(self.passed(), unit)
    }
}

/// The word with the bits of the first lanes.
fn word<const W: usize>(lanes: &[bool; W], count: usize) -> u64 {
    let word = lanes.iter().rev().fold(0, |word, lane| word << 1 | u64::from(*lane));
    word & first_bits(count)
}

/// The word in which the first bits are set, at most all.
fn first_bits(count: usize) -> u64 {
    u64::MAX.checked_shr((CHUNK - count) as u32).unwrap_or(0)
}

fn has(word: u64, unit: usize) -> bool {
    word >> unit & 1 == 1
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::io::SourceText;
    use crate::study;

    /// Two beams, two figures: four columns; a limit on the level at both beams, one on the pointing at one.
    const STUDY: &str = r#"
title = "Judged"
seed = 7
trials = 100
frequencies = ["10 GHz"]
figures = ["pointing_error", "peak_side_lobe"]
array = { layout = { kind = "linear", count = 8, spacing = "15 mm" } }
beam = [{ name = "left", theta = "-20 deg" }, { name = "ahead", theta = "0 deg" }]
block = [{ name = "shifter", kind = "phase_shifter", bits = 4 }]
calibration = [{ name = "none" }]
limit = [
    { figure = "peak_side_lobe", at_most = "-11 dB" },
    { figure = "pointing_error", at_most = "0.5 deg", beam = "ahead" },
]
"#;

    pub(crate) fn model() -> Model {
        let source = SourceText { name: "judged.toml".into(), text: STUDY.into() };
        crate::model::compile(&study::parse(&source).unwrap(), STUDY)
    }

    /// Columns of a unit: pointing at both beams, side lobes at both.
    pub(crate) const GOOD: [f64; 4] = [0.9, -0.1, -13.0, -13.0];
    pub(crate) const POINTS_AWAY: [f64; 4] = [0.1, -0.6, -13.0, -13.0];
    pub(crate) const LOBES: [f64; 4] = [0.1, 0.1, -13.0, -10.0];
    pub(crate) const LOBES_AND_AWAY: [f64; 4] = [0.1, 0.6, -10.0, -10.0];
    pub(crate) const UNMEASURED: [f64; 4] = [f64::INFINITY, 0.1, -13.0, -13.0];
    pub(crate) const NO_POINTING: [f64; 4] = [0.1, f64::NAN, -13.0, -13.0];

    /// Pushes units, W at a time.
    pub(crate) fn judged<const W: usize>(model: &Model, units: &[[f64; 4]]) -> PlanOutcomes {
        let mut outcomes = PlanOutcomes::new(model);
        for (number, units) in units.chunks(W).enumerate() {
            // Lanes beyond the last unit hold units that must not be seen.
            let lane = |l: usize| units.get(l).copied().unwrap_or(UNMEASURED);
            let values: Vec<[f64; W]> = (0..4).map(|c| std::array::from_fn(|l| lane(l)[c])).collect();
            let seconds = std::array::from_fn(|l| (number * W + l) as f64);
            let split = [[0.0; W], [0.0; W], seconds, [0.0; W]];
            outcomes.push(model, units.len(), &values, &split, &[[false; W]; 2]);
        }
        outcomes
    }

    #[test]
    fn units_are_judged_one_by_one() {
        let model = model();
        let units = [GOOD, POINTS_AWAY, LOBES, LOBES_AND_AWAY, UNMEASURED, NO_POINTING];
        let outcomes = judged::<16>(&model, &units);
        // Limits of the model: side lobes at the left and ahead, pointing ahead.
        let first_missed = [None, Some(2), Some(1), Some(0), None, Some(2)];
        let fails = Some(Failure::NoFigure);
        let failure = [None, None, None, None, fails, fails];
        for unit in 0..units.len() {
            assert_eq!(outcomes.first_missed(unit), first_missed[unit], "{unit}");
            assert_eq!(outcomes.failure(unit), failure[unit], "{unit}");
            assert_eq!(outcomes.passes(unit), unit == 0, "{unit}");
            assert!(outcomes.row(unit).zip(units[unit]).all(|(a, b)| a.to_bits() == b.to_bits()));
        }
        let unmeasured = outcomes.failed_for(Failure::NoFigure);
        assert_eq!((outcomes.all(), unmeasured, outcomes.passed()), (0b11_1111, 0b11_0000, 1));
        assert_eq!(outcomes.met(), [0b11_0111, 0b11_0011, 0b01_0101]);
        assert_eq!(outcomes.values(3), [-13.0, -13.0, -10.0, -10.0, -13.0, -13.0]);
        assert_eq!(outcomes.seconds(), [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
    }

    #[test]
    fn the_width_does_not_matter() {
        let model = model();
        let kinds = [GOOD, POINTS_AWAY, GOOD, LOBES, LOBES_AND_AWAY];
        for count in [1, 5, 16, 63, CHUNK] {
            let units: Vec<[f64; 4]> = kinds.iter().cycle().take(count).copied().collect();
            let one = judged::<1>(&model, &units);
            assert_eq!(one, judged::<16>(&model, &units), "{count}");
            assert_eq!(one.all().count_ones() as usize, count);
        }
    }
}
