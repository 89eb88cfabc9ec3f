//! The gain of yield when causes are made perfect: one by one, all at once, and in groups that gain only together.

use super::CalibrationBudget;
use crate::decide::{DesignRun, Passes, run_all};
use crate::engine::{Control, End};
use crate::error::Error;
use crate::model::Model;
use crate::model::vary::{Cause, without};
use crate::stats::{Estimate, Pairs};
use std::collections::BTreeMap;

/// Most causes of a group.
const MOST_TOGETHER: usize = 6;

/// Groups are tried where the gains of single causes add up to less than this part of the gain of all at once.
const MUCH_LESS: f64 = 0.5;

/// The gain of yield without some causes, on the same units.
#[derive(Clone, Debug)]
pub(crate) struct Gain {
    /// Share of the units that pass without them.
    pub yield_: Estimate,
    /// That yield minus the yield with them.
    pub gain: Estimate,
    /// The units by both verdicts, without the causes first.
    pub pairs: Pairs,
}

/// Causes that gain more together than one by one.
#[derive(Clone, Debug)]
pub(crate) struct Group {
    /// Their numbers, in the order of the study.
    pub causes: Vec<usize>,
    /// Their gain together.
    pub gain: Gain,
    /// Sum of their gains one by one.
    pub one_by_one: f64,
    /// Whether one of them is shown to gain by itself.
    pub any_alone: bool,
}

/// A cause that gains, and is not shown to gain less than the first.
#[derive(Clone, Debug)]
pub(crate) struct Rival {
    /// Its number.
    pub cause: usize,
    /// The units by both verdicts, without the first cause first.
    pub pairs: Pairs,
}

/// Causes, ranked by the gain of yield without each.
#[derive(Clone, Debug, Default)]
pub(crate) struct Gains {
    /// Causes whose gain is known, the largest first; equals in the order of the study.
    pub order: Vec<usize>,
    /// The first of them that is shown to gain.
    pub first: Option<usize>,
    /// Others that are shown to gain, and not shown to gain less than the first.
    pub rivals: Vec<Rival>,
    /// The gain without any cause; `None` where that run did not end, and without limits.
    pub all: Option<Gain>,
    /// Groups that gain only together: none, one, or a small one and a larger one that gains more.
    pub groups: Vec<Group>,
}

impl Gain {
    /// From the units that pass without the causes and with them.
    pub(super) fn of(without: &Passes, with: &Passes, confidence: f64) -> Gain {
        let pairs = without.beside(with);
        Gain { yield_: pairs.first_share(confidence), gain: pairs.difference(confidence), pairs }
    }

    /// Upper end of the gain's interval, at least 0.
    fn most(&self) -> f64 {
        self.gain.high.max(0.0)
    }
}

/// Ranks the causes of a calibration plan by its units: with all causes, without each, and without all of them.
pub(super) fn ranked(
    with: &Passes,
    each: &[Option<&Passes>],
    all: Option<&Passes>,
    confidence: f64,
) -> Gains {
    let gains: Vec<Option<Estimate>> =
        each.iter().map(|of| Some((*of)?.beside(with).difference(confidence))).collect();
    let value = |cause: &usize| gains[*cause].as_ref().map_or(f64::NAN, |gain| gain.value);
    let mut order: Vec<usize> = (0..each.len()).filter(|cause| gains[*cause].is_some()).collect();
    order.sort_by(|a, b| value(b).total_cmp(&value(a)));
    let is_shown = |cause: &usize| gains[*cause].as_ref().is_some_and(|gain| gain.low > 0.0);
    let mut shown = order.iter().copied().filter(|cause| is_shown(cause));
    let first = shown.next();
    let rivals = first.map_or(Vec::new(), |first| {
        let rival = |cause: usize| {
            let pairs = each[first]?.beside(each[cause]?);
            let behind = pairs.difference(confidence);
            (behind.low <= 0.0).then_some(Rival { cause, pairs })
        };
        shown.filter_map(rival).collect()
    });
    let all = all.map(|all| Gain::of(all, with, confidence));
    Gains { order, first, rivals, all, groups: Vec::new() }
}

/// A search for groups of causes, after one calibration plan.
pub(super) struct GroupSearch<'a> {
    /// The model with all causes.
    pub model: Model,
    pub causes: &'a [Cause],
    /// Which units pass with all causes.
    pub with: &'a Passes,
    /// Which pass without each, `[cause]`.
    pub each: Vec<&'a Passes>,
    /// Which pass without all.
    pub all: &'a Passes,
    pub control: Control<'a>,
}

/// Units that pass without some causes, by the numbers of the causes.
type Known = BTreeMap<Vec<usize>, Passes>;

impl GroupSearch<'_> {
    /// Whether the gains of single causes add up to much less than the gain of all at once.
    pub(super) fn is_worthwhile(of: &CalibrationBudget) -> bool {
        let Some(all) = of.gains.all.as_ref().filter(|all| all.gain.low > 0.0) else { return false };
        let gains = of.perfect.iter().map(|of| of.as_ref().and_then(|of| of.gain.as_ref()));
        let one_by_one: f64 = gains.map(|gain| gain.map_or(0.0, |gain| gain.value.max(0.0))).sum();
        of.gains.first.is_none() || one_by_one < MUCH_LESS * all.gain.value
    }

    /// Groups that gain only together, and why the search ended.
    ///
    /// Each cause alone is put back into the model without any. The yield that this costs orders the causes; `shares` (each one's share of
    /// the failures in all, its total index) orders equals. The first two of that order, three, and so on up to six are made perfect
    /// together, on the same units. Kept are the smallest of these sets whose gain is shown to exceed the sum of its members' gains, and
    /// the smallest that is not shown to gain less than all causes. Either drops a member where the gain lost with it is not shown to
    /// exceed the member's own gain. This takes at most seventeen runs more than there are causes.
    ///
    /// Errors: as [`run_all`].
    pub(super) fn groups(&self, shares: &[f64]) -> Result<(Vec<Group>, End), Error> {
        let every: Vec<usize> = (0..self.causes.len()).collect();
        let mut known = Known::new();
        known.extend(every.iter().map(|cause| (vec![*cause], self.each[*cause].clone())));
        known.insert(every.clone(), self.all.clone());

        let but_one: Vec<Vec<usize>> =
            every.iter().map(|cause| every.iter().copied().filter(|of| of != cause).collect()).collect();
        if self.run(&but_one, &mut known)? == End::Interrupted {
            return Ok((Vec::new(), End::Interrupted));
        }
        let cost =
            |cause: usize| known.get(&but_one[cause]).map_or(0, |rest| self.all.beside(rest).only_first);
        let mut order = every.clone();
        order.sort_by(|a, b| cost(*b).cmp(&cost(*a)).then(shares[*b].total_cmp(&shares[*a])));
        let sets: Vec<Vec<usize>> =
            (2..=MOST_TOGETHER.min(order.len())).map(|count| sorted(&order[..count])).collect();
        if self.run(&sets, &mut known)? == End::Interrupted {
            return Ok((Vec::new(), End::Interrupted));
        }
        let pays =
            |set: &&Vec<usize>| known.get(*set).is_some_and(|of| self.group(set, of, &known).is_some());
        let reaches = |set: &&Vec<usize>| {
            known.get(*set).is_some_and(|of| self.all.beside(of).difference(self.model.confidence).low <= 0.0)
        };
        let small = sets.iter().find(pays).cloned();
        let large = sets.iter().find(reaches).or(sets.last()).cloned();
        let mut groups: Vec<Group> = Vec::new();
        for set in [small, large].into_iter().flatten() {
            let (set, end) = self.needed(set, &order, &mut known)?;
            if end == End::Interrupted {
                return Ok((groups, end));
            }
            let group = known.get(&set).and_then(|of| self.group(&set, of, &known));
            let gains_more = |group: &Group| {
                let last =
                    groups.last().and_then(|last| known.get(&last.causes)).zip(known.get(&group.causes));
                last.is_none_or(|(last, of)| of.beside(last).difference(self.model.confidence).low > 0.0)
            };
            groups.extend(group.filter(gains_more));
        }
        Ok((groups, End::Done))
    }

    /// Runs the model without each set of causes that is not known yet.
    fn run(&self, sets: &[Vec<usize>], known: &mut Known) -> Result<End, Error> {
        let sets: Vec<&Vec<usize>> = sets.iter().filter(|set| !known.contains_key(*set)).collect();
        let models: Vec<Model> =
            sets.iter().map(|set| without_all(&self.model, set.iter().map(|of| &self.causes[*of]))).collect();
        let (ran, end) = run_all(&models, self.control, &mut |_| {})?;
        for (set, ran) in sets.into_iter().zip(ran) {
            let of = ran.filter(|ran| ran.summary.trials == self.with.units());
            known.extend(of.and_then(|DesignRun { mut passes, .. }| Some((set.clone(), passes.pop()?))));
        }
        Ok(end)
    }

    /// A set of causes as a group, where it is shown to gain more together: the lower end of its gain exceeds the sum of the upper ends of
    /// its members'.
    fn group(&self, set: &[usize], without: &Passes, known: &Known) -> Option<Group> {
        let gain = Gain::of(without, self.with, self.model.confidence);
        let alone = set.iter().filter_map(|cause| known.get(&vec![*cause]));
        let alone: Vec<Gain> = alone.map(|of| Gain::of(of, self.with, self.model.confidence)).collect();
        let most: f64 = alone.iter().map(Gain::most).sum();
        (set.len() > 1 && gain.gain.low > most).then(|| Group {
            causes: set.to_vec(),
            one_by_one: alone.iter().map(|of| of.gain.value).sum(),
            any_alone: alone.iter().any(|of| of.gain.low > 0.0),
            gain,
        })
    }

    /// A set without the members that gain no more in it than alone, the last in `order` tried first.
    fn needed(
        &self,
        mut set: Vec<usize>,
        order: &[usize],
        known: &mut Known,
    ) -> Result<(Vec<usize>, End), Error> {
        for cause in order.iter().rev() {
            if set.len() <= 2 || !set.contains(cause) {
                continue;
            }
            let rest: Vec<usize> = set.iter().copied().filter(|of| of != cause).collect();
            if self.run(std::slice::from_ref(&rest), known)? == End::Interrupted {
                return Ok((set, End::Interrupted));
            }
            let Some((of, without)) = known.get(&set).zip(known.get(&rest)) else { continue };
            let more = of.beside(without).difference(self.model.confidence);
            if more.low <= Gain::of(self.each[*cause], self.with, self.model.confidence).most() {
                set = rest;
            }
        }
        Ok((set, End::Done))
    }
}

fn sorted(causes: &[usize]) -> Vec<usize> {
    let mut causes = causes.to_vec();
    causes.sort_unstable();
    causes
}

/// The model without some causes.
pub(super) fn without_all<'c>(model: &Model, causes: impl IntoIterator<Item = &'c Cause>) -> Model {
    causes.into_iter().fold(model.clone(), |model, cause| without(&model, cause))
}
