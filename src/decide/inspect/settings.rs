//! All settings of an inspection, and the answer for each.

use super::subject::{Acceptance, Notation, Subject, acceptance, settings, source};
use super::{BuiltUnits, Choice, Question, Search, SettingResult, Units, Widest, search};
use crate::decide::{Demand, ProgressSink, run_all, with_progress};
use crate::design::{Checked, Design, Result};
use crate::engine::{Control, End};
use crate::model::Model;
use crate::study::Cost;
use std::ops::Range;

/// All settings, the study's own parts and gauge first, and their common question.
pub(crate) struct Settings {
    /// The notation of an acceptance in the study.
    pub notation: Notation,
    /// The question.
    pub question: Question,
    subjects: Vec<Subject>,
}

impl Question {
    /// The question for the widest acceptance that meets a yield.
    ///
    /// # Errors
    /// As [`Demand::of`].
    pub(crate) fn widest(design: &Design, share: f64) -> Checked<Question> {
        Ok(Question::Widest(Demand::of(design, share, None)?))
    }

    /// The question for the cheapest acceptance.
    ///
    /// # Errors
    /// Without prices, and without limits.
    pub(crate) fn cheapest(design: &Design) -> Checked<Question> {
        if design.study.cost.is_none() {
            return Err(design.refuse(
                "the cheapest acceptance is asked of a study without prices",
                "add a `[cost]` table: currency, units_a_year, channel, bench_minute, rejected_part",
            ));
        }
        if design.study.limits.is_empty() {
            return Err(design.refuse(
                "the cheapest acceptance is asked of a study without limits: no unit passes or fails",
                "add a `[[limit]]`",
            ));
        }
        Ok(Question::Cheapest)
    }
}

impl Settings {
    /// Of a source of a design with one calibration plan, with a given gauge and acceptance. `question` sees the study with that gauge.
    ///
    /// # Errors
    /// When the study cannot have them, or cannot answer the question.
    pub(crate) fn of(
        design: &Design,
        name: &str,
        accept: Option<&Acceptance>,
        gauge_sd: Option<&str>,
        question: impl FnOnce(&Design) -> Checked<Question>,
    ) -> Checked<Settings> {
        let notation = Notation::of(design, &source(design, name)?, accept);
        let own = match gauge_sd {
            Some(sd) => notation.with_gauge_sd(design, sd)?,
            None => design.clone(),
        };
        let question = question(&own)?;
        let mut subjects = settings(own, &notation)?;
        if let Some(accept) = accept {
            let written = accept.written(&notation);
            for of in &mut subjects {
                of.design = notation.with(&of.design, &written)?;
            }
        }
        let settings = Settings { notation, question, subjects };
        let base = settings.base();
        if question == Question::Stated && acceptance(base, name).is_none() {
            return Err(base.refuse(
                format!("`{name}` has no acceptance: nothing is turned away"),
                "give one by --accept, or seek one by --find-limit --yield SHARE or --cheapest",
            ));
        }
        Ok(settings)
    }

    /// The study with its own parts and its own gauge.
    pub(crate) fn base(&self) -> &Design {
        &self.subjects[0].design
    }

    /// The study with the parts of each offer, by its name.
    pub(crate) fn offers(&self) -> impl Iterator<Item = (&str, &Design)> {
        self.subjects.iter().filter_map(|of| Some((of.setting.supplier.as_deref()?, &of.design)))
    }

    /// Answers for each setting, the study's own first; false, and fewer answers, after an interrupt.
    ///
    /// # Errors
    /// As its runs.
    pub(crate) fn answer(
        &self,
        control: Control,
        progress: &mut dyn ProgressSink,
    ) -> Result<(Vec<SettingResult>, bool)> {
        let mut found = Vec::new();
        let mut is_finished = true;
        let notation = &self.notation;
        for subject in &self.subjects {
            let search = match &self.question {
                Question::Stated => Search::Stated,
                Question::Widest(demand) => search::widest(subject, notation, demand, control, progress)?,
                Question::Cheapest => search::cheapest(subject, notation, control, progress)?,
            };
            let (is_whole, is_something) = match &search {
                Search::Stated => (true, true),
                Search::Widest(Widest { found, .. }) => (found.is_finished, !found.probes.is_empty()),
                Search::Cheapest(None) => (false, false),
                Search::Cheapest(Some(cheapest)) => (cheapest.is_finished, true),
            };
            if is_something {
                found.push((subject, search));
            }
            is_finished = is_whole;
            if !is_finished {
                break;
            }
        }
        let (results, all_run) = self.units(found, control, progress)?;
        Ok((results, is_finished && all_run))
    }

    /// Builds the units with the chosen acceptance and without inspection, the same units for all settings.
    fn units(
        &self,
        found: Vec<(&Subject, Search)>,
        control: Control,
        progress: &mut dyn ProgressSink,
    ) -> Result<(Vec<SettingResult>, bool)> {
        let notation = &self.notation;
        let mut models: Vec<Model> = Vec::new();
        let mut results = Vec::new();
        for (subject, search) in found {
            let choice = search.choice();
            let model =
                subject.model(notation, if let Choice::Size(size) = choice { Some(size) } else { None })?;
            let has_limit = matches!(choice, Choice::Stated | Choice::Size(_));
            let parts = if has_limit { subject.parts(notation, &model) } else { None };
            let units = if let Search::Cheapest(Some(cheapest)) = &search { cheapest.units() } else { None };
            let place = models.len();
            if units.is_none() && !model.limits.is_empty() {
                models.push(subject.without(notation));
                models.extend(parts.is_some().then_some(model));
            }
            let cost = subject.design.study.cost.as_ref();
            results.push((
                SettingResult { setting: subject.setting.clone(), search, parts, units },
                place..models.len(),
                cost,
            ));
        }
        if models.is_empty() {
            return Ok((results.into_iter().map(|(result, ..)| result).collect(), true));
        }
        let most: u64 = models.iter().map(|model| model.trials.most()).sum();
        let (mut ran, end) = with_progress(progress, most, |advance| run_all(&models, control, advance))?;
        let mut all_made = true;
        let mut with_units = |(result, places, cost): (SettingResult, Range<usize>, Option<&Cost>)| {
            let mut made = Vec::new();
            for place in places {
                let Some(ran) = ran[place].take() else { continue };
                let of = BuiltUnits::of(&models[place], ran, cost, control)?;
                all_made &= of.is_some();
                made.extend(of);
            }
            let mut made = made.into_iter();
            Ok(match made.next() {
                Some(without) => {
                    SettingResult { units: Some(Units { without, with: made.next() }), ..result }
                }
                None => result,
            })
        };
        let results = results.into_iter().map(&mut with_units).collect::<Result<_>>()?;
        Ok((results, all_made && end != End::Interrupted))
    }
}
