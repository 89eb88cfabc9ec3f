//! Calibration plans, of one design or of several, beside each other on the same units.

use crate::decide::bench_steps::{BenchStep, YieldDifference, bench_steps};
use crate::decide::measure::measures;
use crate::decide::{Measure, PassCollector, Passes};
use crate::engine::{CHUNK, CalibrationSummary, Control, End, Outcomes, Summary, Together, run_together};
use crate::error::Error;
use crate::model::Model;
use crate::random::whole_lots;
use crate::stats::{Estimate, Lots, MeanByLots, Moments, student};

/// One calibration plan of one design.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Candidate {
    /// Number of the design.
    pub design: usize,
    /// Number of the calibration plan in it.
    pub calibration: usize,
}

impl Candidate {
    /// All plans of the first design, then those of the next.
    pub(crate) fn all(models: &[Model]) -> impl Iterator<Item = Candidate> + '_ {
        models.iter().enumerate().flat_map(|(design, model)| {
            (0..model.calibrations.len()).map(move |calibration| Candidate { design, calibration })
        })
    }
}

/// The results of all candidates.
#[derive(Clone, Debug)]
pub(crate) struct CompareResult {
    /// All plans of the first design, then those of the next.
    pub candidates: Vec<Candidate>,
    /// Figures whose means are compared.
    pub measures: Vec<Measure>,
    /// Results of the trials, `[design]`.
    pub summaries: Vec<Summary>,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Why there are no more trials.
    pub end: End,
    passes: Vec<Passes>,
    /// Paired differences of two candidates, `[pair][measure]`.
    differences: Vec<Differences>,
}

/// Moments of the paired differences of two candidates.
#[derive(Clone, Copy, Debug)]
struct Differences {
    moments: Moments,
    /// The same by lots, where units share lots.
    lots: Option<Lots>,
}

/// The paired difference of a measure's mean between two candidates.
#[derive(Clone, Debug)]
pub(crate) struct MeanDifference {
    /// Number of the measure.
    pub measure: usize,
    /// Mean of the candidate minus that of the other, paired unit by unit.
    pub difference: Estimate,
    /// Standard error of two unpaired runs of as many units, over this one; `None` where the units do not differ.
    pub width_ratio: Option<f64>,
}

/// Runs all designs on the same units and passes their outcomes to `watch`, `[design]`, in trial order. `None` when an interrupt came
/// before the first unit.
///
/// The first design sets the number of trials and the confidence. Errors: as [`run_together`].
///
/// # Panics
/// Without a design.
pub(crate) fn compare(
    models: &[Model],
    control: Control,
    watch: impl FnMut(&[Outcomes]) -> Result<(), Error> + Send,
) -> Result<Option<CompareResult>, Error> {
    compare_by(models, measures(models), control, watch)
}

/// The same for the yields alone, without the means of the figures, whose number grows with the square of the number of candidates.
pub(crate) fn compare_yields(
    models: &[Model],
    control: Control,
    watch: impl FnMut(&[Outcomes]) -> Result<(), Error> + Send,
) -> Result<Option<CompareResult>, Error> {
    compare_by(models, Vec::new(), control, watch)
}

fn compare_by(
    models: &[Model],
    measures: Vec<Measure>,
    control: Control,
    mut watch: impl FnMut(&[Outcomes]) -> Result<(), Error> + Send,
) -> Result<Option<CompareResult>, Error> {
    let candidates: Vec<Candidate> = Candidate::all(models).collect();
    let mut kept = PassCollector::of_all(models);
    let mut all_differences: Vec<Differences> = pairs(candidates.len())
        .flat_map(|(first, second)| {
            let lots = [first, second].map(|of| models[candidates[of].design].lot());
            let lots = lots.into_iter().flatten().reduce(whole_lots).map(Lots::new);
            vec![Differences { moments: Moments::default(), lots }; measures.len()]
        })
        .collect();
    let Together { summaries, end } = run_together(models, control, |outcomes| {
        kept.iter_mut().zip(outcomes).for_each(|(kept, of)| kept.take(of));
        add_differences(&candidates, &measures, outcomes, &mut all_differences);
        watch(outcomes)
    })?;
    let confidence = models[0].confidence;
    let passes = kept.into_iter().flat_map(PassCollector::into_passes).collect();
    Ok(summaries.map(|summaries| CompareResult {
        candidates,
        measures,
        summaries,
        confidence,
        end,
        passes,
        differences: all_differences,
    }))
}

/// Pairs of candidates of which the second has a lower number than this.
fn pairs_below(candidate: usize) -> usize {
    candidate * candidate.saturating_sub(1) / 2
}

/// All pairs of candidates, each at the place that `pairs_below` gives it.
fn pairs(candidates: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..candidates).flat_map(|second| (0..second).map(move |first| (first, second)))
}

/// Adds the paired differences of a chunk, for each pair of candidates.
fn add_differences(
    candidates: &[Candidate],
    measures: &[Measure],
    outcomes: &[Outcomes],
    all_differences: &mut [Differences],
) {
    let values = |of: Candidate, measure: &Measure| {
        measure.columns[of.design]
            .map(|column| outcomes[of.design].calibrations[of.calibration].values(column))
    };
    let places = pairs(candidates.len()).flat_map(|pair| measures.iter().map(move |measure| (pair, measure)));
    let mut differences = [0.0; CHUNK];
    for (of, ((first, second), measure)) in all_differences.iter_mut().zip(places) {
        let both = (values(candidates[first], measure), values(candidates[second], measure));
        if let (Some(first), Some(second)) = both {
            for (difference, (first, second)) in differences.iter_mut().zip(first.iter().zip(second)) {
                *difference = second - first;
            }
            of.moments.merge(&Moments::of(&differences[..first.len()]));
            if let Some(lots) = &mut of.lots {
                lots.push_values(&differences[..first.len()]);
            }
        }
    }
}

impl CompareResult {
    /// Units built.
    pub(crate) fn trials(&self) -> u64 {
        self.summaries[0].trials
    }

    /// Results of a candidate.
    pub(crate) fn summary(&self, candidate: usize) -> &CalibrationSummary {
        let Candidate { design, calibration } = self.candidates[candidate];
        &self.summaries[design].calibrations[calibration]
    }

    /// Mean bench time of a unit after a candidate, s.
    pub(crate) fn seconds(&self, candidate: usize) -> f64 {
        self.summary(candidate).bench_seconds.mean
    }

    /// Yield of a candidate; `None` without limits.
    pub(crate) fn yield_of(&self, candidate: usize) -> Option<&Estimate> {
        self.summary(candidate).yield_.as_ref()
    }

    /// The candidate with the highest yield, of equals the one with the least bench time; `None` where none has one.
    pub(crate) fn best(&self) -> Option<usize> {
        let rated = (0..self.candidates.len()).filter_map(|of| Some((of, self.yield_of(of)?.value)));
        let better = |a: &(usize, f64), b: &(usize, f64)| {
            // The later of equals wins, so they are turned about.
            a.1.total_cmp(&b.1).then(self.seconds(b.0).total_cmp(&self.seconds(a.0))).then(b.0.cmp(&a.0))
        };
        rated.max_by(better).map(|(of, _)| of)
    }

    /// The difference of two candidates' yields; `None` where one has none.
    pub(crate) fn yield_difference(&self, candidate: usize, other: usize) -> Option<YieldDifference> {
        self.yield_of(candidate).and(self.yield_of(other))?;
        Some(YieldDifference::of(&self.passes[candidate], &self.passes[other], self.confidence))
    }

    /// Which units pass after a candidate.
    pub(crate) fn passes(&self, candidate: usize) -> &Passes {
        &self.passes[candidate]
    }

    /// Convergence of a candidate's yield; `None` where it has none.
    pub(crate) fn convergence(&self, candidate: usize) -> Option<Vec<Estimate>> {
        self.yield_of(candidate)?;
        Some(self.passes[candidate].convergence(self.confidence))
    }

    /// Numbers of the units that pass after a candidate and not after another, in order.
    pub(crate) fn saved(&self, candidate: usize, other: usize) -> impl Iterator<Item = u64> {
        self.passes[candidate].saved_over(&self.passes[other])
    }

    /// Differences of two candidates' means, for every measure that both have on at least two units.
    pub(crate) fn mean_differences(&self, candidate: usize, other: usize) -> Vec<MeanDifference> {
        (0..self.measures.len())
            .filter_map(|measure| self.mean_difference(candidate, other, measure))
            .collect()
    }

    /// The same for one measure.
    pub(crate) fn mean_difference(
        &self,
        candidate: usize,
        other: usize,
        measure: usize,
    ) -> Option<MeanDifference> {
        let (first, second) = (candidate.min(other), candidate.max(other));
        let pair = pairs_below(second) + first;
        let of = self.differences.get(pair * self.measures.len() + measure).filter(|_| first != second)?;
        let lots = of.lots.map(|lots| lots.by_lots());
        let lots = lots.map(|of| MeanByLots { count: of.lots, error: of.variance.sqrt() });
        let mut moments = Moments { lots, ..of.moments };
        if candidate < other {
            moments.mean = -moments.mean;
        }
        let difference = student::mean(&moments, self.confidence)?;
        let error = |of: usize| {
            let column = self.measures[measure].columns[self.candidates[of].design]?;
            Some(self.summary(of).figures[column].moments.standard_error())
        };
        let (mine, theirs) = (error(candidate)?, error(other)?);
        let width_ratio = (mine * mine + theirs * theirs).sqrt() / moments.standard_error();
        Some(MeanDifference {
            measure,
            difference,
            width_ratio: Some(width_ratio).filter(|of| of.is_finite()),
        })
    }

    /// What each further step of bench time buys in a design, each from the last plan that raised the yield. Empty where the bench
    /// takes no time or there is no yield.
    pub(crate) fn bench_steps(&self, design: usize) -> Vec<BenchStep> {
        let is_rated = |of: &usize| self.candidates[*of].design == design && self.yield_of(*of).is_some();
        let plans = (0..self.candidates.len()).filter(is_rated);
        bench_steps(plans.map(|of| (of, self.seconds(of), &self.passes[of])), self.confidence)
    }
}

#[cfg(test)]
pub(in crate::decide) mod tests {
    use super::*;

    /// Plans of a number of designs, as many of each, that pass these units of a thousand and take these seconds.
    pub(crate) fn designs(count: usize, plans: &[(std::ops::Range<usize>, f64)]) -> CompareResult {
        let mut compared = compared(plans);
        let each = plans.len() / count;
        for (number, of) in compared.candidates.iter_mut().enumerate() {
            *of = Candidate { design: number / each, calibration: number % each };
        }
        let all = std::mem::take(&mut compared.summaries[0].calibrations);
        let summary = |of: &[CalibrationSummary]| Summary { trials: 1000, calibrations: of.to_vec() };
        compared.summaries = all.chunks(each).map(summary).collect();
        compared
    }

    /// One design whose plans pass these units of a thousand and take these seconds.
    fn compared(plans: &[(std::ops::Range<usize>, f64)]) -> CompareResult {
        let seconds =
            |value: f64| Moments { count: 1000, mean: value, m2: 0.0, min: value, max: value, lots: None };
        let calibration = |(passing, value): &(std::ops::Range<usize>, f64)| CalibrationSummary {
            name: String::new(),
            yield_: Some(crate::stats::clopper_pearson(passing.len() as u64, 1000, 0.95)),
            bench_seconds: seconds(*value),
            split_seconds: Default::default(),
            failed: [0; 3],
            limits: Vec::new(),
            misses: Vec::new(),
            families: Vec::new(),
            places: Vec::new(),
            figures: Vec::new(),
        };
        let passes = |(passing, _): &(std::ops::Range<usize>, f64)| {
            Passes::of(&(0..1000).map(|unit| passing.contains(&unit)).collect::<Vec<_>>())
        };
        let calibrations = plans.iter().map(calibration).collect();
        CompareResult {
            candidates: (0..plans.len()).map(|calibration| Candidate { design: 0, calibration }).collect(),
            measures: Vec::new(),
            summaries: vec![Summary { trials: 1000, calibrations }],
            confidence: 0.95,
            end: End::Done,
            passes: plans.iter().map(passes).collect(),
            differences: Vec::new(),
        }
    }

    #[test]
    fn each_step_of_minutes_begins_at_the_last_plan_that_bought_something() {
        // By time: 0, 10, 20, 30, 40. The third loses yield; the fourth gains one unit, which is not significant.
        let of = compared(&[(0..900, 40.0), (0..100, 0.0), (0..700, 10.0), (0..600, 20.0), (0..701, 30.0)]);
        let bench_steps = of.bench_steps(0);
        let steps: Vec<_> =
            bench_steps.iter().map(|step| (step.from, step.to, step.seconds, step.buys())).collect();
        assert_eq!(steps, [(1, 2, 10.0, true), (2, 3, 10.0, false), (2, 4, 20.0, false), (2, 0, 30.0, true)]);
        assert_eq!((bench_steps[2].over.pairs.only_first, bench_steps[2].over.pairs.only_second), (1, 0));
        assert!(bench_steps[1].over.difference.high < 0.0);
        assert_eq!(of.saved(0, 4).take(2).collect::<Vec<_>>(), [701, 702]);
        // A bench that takes no time has no steps.
        assert!(compared(&[(0..900, 0.0), (0..100, 0.0)]).bench_steps(0).is_empty());
    }

    #[test]
    fn of_equal_yields_the_one_with_less_time_is_the_best() {
        assert_eq!(compared(&[(0..900, 40.0), (0..901, 50.0), (0..901, 45.0)]).best(), Some(2));
        assert_eq!(compared(&[(0..900, 40.0), (0..900, 40.0)]).best(), Some(0));
        let mut without = compared(&[(0..900, 40.0), (0..900, 40.0)]);
        without.summaries[0].calibrations.iter_mut().for_each(|of| of.yield_ = None);
        assert_eq!(without.best(), None);
        assert!(without.yield_difference(0, 1).is_none() && without.bench_steps(0).is_empty());
    }

    #[test]
    fn convergence_runs_from_the_first_units_to_all() {
        let mut of = compared(&[(0..900, 40.0), (100..200, 0.0)]);
        let points: Vec<(u64, f64)> =
            of.convergence(1).unwrap().iter().map(|of| (of.count, of.value)).collect();
        // None of the first 64, 28 of the first 128, 100 of the rest.
        assert_eq!(points[..3], [(64, 0.0), (128, 28.0 / 128.0), (256, 100.0 / 256.0)]);
        assert_eq!((points[3], points[4], points.len()), ((512, 100.0 / 512.0), (1000, 0.1), 5));
        of.summaries[0].calibrations[1].yield_ = None;
        assert_eq!(of.convergence(1), None);
    }

    #[test]
    fn a_pair_of_candidates_has_one_place() {
        let mut places = Vec::new();
        for second in 0..5 {
            places.extend((0..second).map(|first| pairs_below(second) + first));
        }
        assert_eq!(places, (0..pairs_below(5)).collect::<Vec<_>>());
    }
}
