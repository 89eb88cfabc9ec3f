//! The settings that are asked about, and what is told of each.

use super::subject::{Accept, Subject, Way, acceptance, settings, source};
use super::{Choice, Made, Question, Search, Told, Units, Widest, search};
use crate::decide::{Demand, Stages, run_all, stage};
use crate::design::{Checked, Design, Result};
use crate::engine::{Control, End};
use crate::model::Model;
use crate::study::Cost;
use std::ops::Range;

/// All settings, the study's own parts by its own gauge first, and what is asked of each.
pub struct Settings {
    /// How an acceptance is written.
    pub way: Way,
    /// What is asked.
    pub question: Question,
    subjects: Vec<Subject>,
}

impl Question {
    /// Which is the widest acceptance that meets a yield.
    ///
    /// # Errors
    /// As [`Demand::of`].
    pub fn widest(design: &Design, share: f64) -> Checked<Question> {
        Ok(Question::Widest(Demand::of(design, share, None)?))
    }

    /// Which acceptance costs least.
    ///
    /// # Errors
    /// Without prices, and without limits.
    pub fn cheapest(design: &Design) -> Checked<Question> {
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
    /// Of a source of a design with one calibration plan, with the gauge and the acceptance that are asked for. The question is put to the
    /// study with that gauge.
    ///
    /// # Errors
    /// When the study cannot have them, or answer the question.
    pub fn of(
        design: &Design,
        name: &str,
        accept: Option<&Accept>,
        gauge_sd: Option<&str>,
        question: impl FnOnce(&Design) -> Checked<Question>,
    ) -> Checked<Settings> {
        let way = Way::of(design, &source(design, name)?, accept);
        let own = match gauge_sd {
            Some(sd) => way.with_gauge_sd(design, sd)?,
            None => design.clone(),
        };
        let question = question(&own)?;
        let mut subjects = settings(own, &way)?;
        if let Some(accept) = accept {
            let written = accept.written(&way);
            for of in &mut subjects {
                of.design = way.with(&of.design, &written)?;
            }
        }
        let settings = Settings { way, question, subjects };
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
    pub fn base(&self) -> &Design {
        &self.subjects[0].design
    }

    /// The study with the parts of each offer, by its name.
    pub fn offers(&self) -> impl Iterator<Item = (&str, &Design)> {
        self.subjects.iter().filter_map(|of| Some((of.setting.supplier.as_deref()?, &of.design)))
    }

    /// Answers for each setting, the study's own first, as far as there is time; false when it was stopped.
    ///
    /// # Errors
    /// As the runs that it takes.
    pub fn tell(&self, control: Control, stages: &mut dyn Stages) -> Result<(Vec<Told>, bool)> {
        let mut found = Vec::new();
        let mut is_finished = true;
        let way = &self.way;
        for subject in &self.subjects {
            let search = match &self.question {
                Question::Stated => Search::Stated,
                Question::Widest(demand) => search::widest(subject, way, demand, control, stages)?,
                Question::Cheapest => search::cheapest(subject, way, control, stages)?,
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
        let (told, all_run) = self.units(found, control, stages)?;
        Ok((told, is_finished && all_run))
    }

    /// Builds the units with what was found and without, all on the same ones.
    fn units(
        &self,
        found: Vec<(&Subject, Search)>,
        control: Control,
        stages: &mut dyn Stages,
    ) -> Result<(Vec<Told>, bool)> {
        let way = &self.way;
        let mut models: Vec<Model> = Vec::new();
        let mut told = Vec::new();
        for (subject, search) in found {
            let choice = search.choice();
            let model =
                subject.model(way, if let Choice::Size(size) = choice { Some(size) } else { None })?;
            let is_told = matches!(choice, Choice::Stated | Choice::Size(_));
            let parts = if is_told { subject.parts(way, &model) } else { None };
            let units = if let Search::Cheapest(Some(cheapest)) = &search { cheapest.units() } else { None };
            let place = models.len();
            if units.is_none() && !model.limits.is_empty() {
                models.push(subject.without(way));
                models.extend(parts.is_some().then_some(model));
            }
            let cost = subject.design.study.cost.as_ref();
            told.push((
                Told { setting: subject.setting.clone(), search, parts, units },
                place..models.len(),
                cost,
            ));
        }
        if models.is_empty() {
            return Ok((told.into_iter().map(|(told, ..)| told).collect(), true));
        }
        let most: u64 = models.iter().map(|model| model.trials.most()).sum();
        let (mut ran, end) = stage(stages, most, |tell| run_all(&models, control, tell))?;
        let mut all_made = true;
        let mut with_units = |(told, places, cost): (Told, Range<usize>, Option<&Cost>)| {
            let mut made = Vec::new();
            for place in places {
                let Some(ran) = ran[place].take() else { continue };
                let of = Made::of(&models[place], ran, cost, control)?;
                all_made &= of.is_some();
                made.extend(of);
            }
            let mut made = made.into_iter();
            Ok(match made.next() {
                Some(without) => Told { units: Some(Units { without, with: made.next() }), ..told },
                None => told,
            })
        };
        let told = told.into_iter().map(&mut with_units).collect::<Result<_>>()?;
        Ok((told, all_made && end != End::Interrupted))
    }
}
