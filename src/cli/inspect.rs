//! `beamyield inspect`: what an incoming inspection does to parts and units, and which limit it should have.

mod search;
mod subject;

use crate::cli::asked::{Asked, share, shell_word};
use crate::cli::outputs::Reports;
use crate::cli::vary::ends;
use crate::cli::work::{Work, nothing_yet, partial};
use crate::decide::inspect::{Choice, Made, Search, Told, Units};
use crate::decide::{Demand, Stages, run_all, stage};
use crate::design::{Checked, Design};
use crate::engine::{Control, End};
use crate::error::{Error, Result};
use crate::io::Amount;
use crate::plan::Plan;
use crate::report::page::inspect_page;
use crate::report::{
    InspectRun, Question, cautions, inspect_brief, inspect_json, inspect_text, write_inspect_csv,
};
use crate::study::Cost;
use clap::Args;
use std::ops::Range;
use std::path::PathBuf;
use subject::{Accept, Subject, Way, acceptance, settings, source};

/// Weigh an incoming inspection: parts turned away, risks, yield, cost
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct InspectOf {
    #[command(flatten)]
    asked: Asked,
    /// The value whose parts are inspected, such as jumper.length
    #[arg(long, value_name = "NAME")]
    source: String,
    /// Accept what reads within this, such as '0.4 mm' or '-0.1..0.5 mm'
    #[arg(long, value_name = "AMOUNT", value_parser = accept, allow_hyphen_values = true)]
    #[arg(conflicts_with_all = ["find_limit", "cheapest"])]
    accept: Option<Accept>,
    /// Gauge with this standard deviation, whatever the study says
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    gauge_sd: Option<String>,
    /// Find the widest acceptance that still meets --yield
    #[arg(long, requires = "share", conflicts_with = "cheapest")]
    find_limit: bool,
    /// The share of units that has to pass
    #[arg(long = "yield", id = "share", value_name = "SHARE", value_parser = share)]
    share: Option<f64>,
    /// Find the acceptance of the least cost per good unit
    #[arg(long)]
    cheapest: bool,
    /// Write the limits tried to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write a one-page summary to this .txt or .json file; - as with --csv
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

const NOTES: &str = "\
An inspection is stated in a tolerance of the study,
  length = { nominal = \"85 mm\", normal = { sd = \"0.25 mm\" },
             inspection = { accept = \"0.4 mm\", gauge = { sd = \"0.04 mm\" } } }
--accept and --gauge-sd try another. Each [[offer]] of the study is set beside
it, and gauges that are exact and twice as bad. Costs need a [cost] table. The
exit code is 1 when no limit is shown to meet the yield.";

impl InspectOf {
    pub fn run(&self) -> Result<()> {
        let control = self.asked.control()?;
        let mut opened = self.asked.open()?;
        opened.keep_one_calibration("an inspection's yield")?;
        let (way, own) = self.own(&opened)?;
        let question = self.question(&own)?;
        let subjects = settings(own.clone(), &way)?;
        let subjects = self.accepting(subjects, &way)?;
        let base = &subjects[0].opened;
        if question == Question::Stated && acceptance(base, &way.source).is_none() {
            return Err(base
                .refuse(
                    format!("`{}` has no acceptance: nothing is turned away", way.source),
                    "give one by --accept, or seek one by --find-limit --yield SHARE or --cheapest",
                )
                .into());
        }
        let plan = base.plan();
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let mut work = Work::open(&self.asked, &wanted, Reports::SummariesToo, [base])?;
        let warnings = base.warnings(&plan);
        let of_offers = cautions_of_offers(&plan, &subjects);
        work.begin(warnings.len());
        let (told, is_finished) = self.tell(&subjects, &way, &question, control, &mut work.progress)?;
        if told.is_empty() {
            return Err(nothing_yet("anything was known"));
        }
        let run = InspectRun {
            plan: &plan,
            source: &way.source,
            dimension: way.dimension,
            form: way.form,
            unit: &way.unit.unit,
            one: way.one,
            question,
            told: &told,
            cost: base.study.cost.as_ref(),
            seconds: work.seconds(),
            is_partial: !is_finished,
            warnings: &warnings,
            of_offers: &of_offers,
            again: &self.again(),
        };
        work.finish(
            end(&run),
            |csv| write_inspect_csv(&run, csv),
            || inspect_json(&run),
            |report, origin| report.write(&plan, || inspect_brief(&run), || inspect_page(&run, origin)),
            || inspect_text(&run),
        )
    }

    /// The study with the gauge that is asked for, and how its acceptance is written.
    fn own(&self, opened: &Design) -> Checked<(Way, Design)> {
        let way = Way::of(opened, &source(opened, &self.source)?, self.accept.as_ref())?;
        let own = match &self.gauge_sd {
            Some(sd) => way.with_gauge_sd(opened, sd)?,
            None => opened.clone(),
        };
        Ok((way, own))
    }

    /// What is asked, which the study must be able to answer.
    fn question(&self, own: &Design) -> Checked<Question> {
        if self.share.is_some() && !self.find_limit {
            return Err(own.refuse(
                "a yield is asked for, but no limit is sought for it".to_owned(),
                "add --find-limit, or leave --yield out".to_owned(),
            ));
        }
        match self.share {
            Some(share) if self.find_limit => Ok(Question::Widest(Demand::of(own, share, None)?)),
            _ if !self.cheapest => Ok(Question::Stated),
            _ if own.study.cost.is_none() => Err(own.refuse(
                "the cheapest acceptance is asked of a study without prices".to_owned(),
                "add a `[cost]` table: currency, units_a_year, channel, bench_minute, rejected_part"
                    .to_owned(),
            )),
            _ if own.study.limits.is_empty() => Err(own.refuse(
                "the cheapest acceptance is asked of a study without limits: no unit passes or fails"
                    .to_owned(),
                "add a `[[limit]]`".to_owned(),
            )),
            _ => Ok(Question::Cheapest),
        }
    }

    /// The settings with the acceptance that is asked for.
    fn accepting(&self, subjects: Vec<Subject>, way: &Way) -> Checked<Vec<Subject>> {
        let Some(accept) = &self.accept else { return Ok(subjects) };
        let written = accept.written(way);
        let with = |of: Subject| Ok(Subject { opened: way.with(&of.opened, &written)?, ..of });
        subjects.into_iter().map(with).collect()
    }

    /// Answers for each setting, the study's own first, as far as there is time; false when it was stopped.
    fn tell(
        &self,
        subjects: &[Subject],
        way: &Way,
        question: &Question,
        control: Control,
        stages: &mut dyn Stages,
    ) -> Result<(Vec<Told>, bool)> {
        let mut found = Vec::new();
        let mut is_finished = true;
        for subject in subjects {
            let search = match question {
                Question::Stated => Search::Stated,
                Question::Widest(demand) => search::widest(subject, way, demand, control, stages)?,
                Question::Cheapest => search::cheapest(subject, way, control, stages)?,
            };
            is_finished = match &search {
                Search::Stated => true,
                Search::Widest(widest) => widest.found.is_finished,
                Search::Cheapest(cheapest) => cheapest.as_ref().is_some_and(|of| of.is_finished),
            };
            let is_something = match &search {
                Search::Widest(widest) => !widest.found.probes.is_empty(),
                Search::Cheapest(cheapest) => cheapest.is_some(),
                Search::Stated => true,
            };
            if is_something {
                found.push((subject, search));
            }
            if !is_finished {
                break;
            }
        }
        let (told, all_run) = self.units(found, way, control, stages)?;
        Ok((told, is_finished && all_run))
    }

    /// Builds the units with what was found and without, all on the same ones.
    fn units(
        &self,
        found: Vec<(&Subject, Search)>,
        way: &Way,
        control: Control,
        stages: &mut dyn Stages,
    ) -> Result<(Vec<Told>, bool)> {
        let mut plans: Vec<Plan> = Vec::new();
        let mut told = Vec::new();
        for (subject, search) in found {
            let choice = search.choice();
            let plan = subject.plan(way, if let Choice::Size(size) = choice { Some(size) } else { None })?;
            let is_told = matches!(choice, Choice::Stated | Choice::Size(_));
            let parts = if is_told { subject.parts(way, &plan) } else { None };
            let units = if let Search::Cheapest(Some(cheapest)) = &search { cheapest.units() } else { None };
            let place = plans.len();
            if units.is_none() && !plan.limits.is_empty() {
                plans.push(subject.without(way));
                plans.extend(parts.is_some().then_some(plan));
            }
            let cost = subject.opened.study.cost.as_ref();
            told.push((
                Told { setting: subject.setting.clone(), search, parts, units },
                place..plans.len(),
                cost,
            ));
        }
        if plans.is_empty() {
            return Ok((told.into_iter().map(|(told, ..)| told).collect(), true));
        }
        let most: u64 = plans.iter().map(|plan| plan.trials.most()).sum();
        let (mut ran, end) = stage(stages, most, |tell| run_all(&plans, control, tell))?;
        let mut all_made = true;
        let mut with_units = |(told, places, cost): (Told, Range<usize>, Option<&Cost>)| {
            let mut made = Vec::new();
            for place in places {
                let Some(ran) = ran[place].take() else { continue };
                let of = Made::of(&plans[place], ran, cost, control)?;
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

    /// The command that gives the answer again.
    fn again(&self) -> String {
        let mut then = format!("--source {}", shell_word(&self.source));
        if let Some(accept) = &self.accept {
            then.push_str(&format!(" --accept {}", shell_word(&accept.to_string())));
        }
        if let Some(sd) = &self.gauge_sd {
            then.push_str(&format!(" --gauge-sd {}", shell_word(sd)));
        }
        if let Some(share) = self.share {
            then.push_str(&format!(" --find-limit --yield {share}"));
        }
        if self.cheapest {
            then.push_str(" --cheapest");
        }
        format!("beamyield inspect {}", self.asked.again_with(&then))
    }
}

/// What offers differ by from the study beside their hardware.
fn cautions_of_offers(plan: &Plan, subjects: &[Subject]) -> Vec<String> {
    let offers = subjects.iter().filter_map(|of| Some((of.setting.supplier.as_deref()?, of.opened.plan())));
    offers.flat_map(|(name, offered)| cautions(("the study", plan), (name, &offered))).collect()
}

/// The exit that an answer has.
fn end(run: &InspectRun) -> Result<()> {
    if run.is_partial {
        return Err(partial("before all was known"));
    }
    if let (Question::Widest(demand), Choice::Nothing) = (&run.question, run.told[0].search.choice()) {
        return Err(Error::LimitMissed(format!(
            "no acceptance is shown to meet the yield of {} required",
            demand.share
        )));
    }
    Ok(())
}

/// Reads "0.4 mm" or "-0.1..0.5 mm".
fn accept(text: &str) -> std::result::Result<Accept, String> {
    if let Some((from, to)) = text.split_once("..") {
        let (from, to) = ends(from, to)?;
        return Ok(Accept::Between(from, to));
    }
    Amount::parse(text).map(Accept::Size).ok_or_else(|| {
        format!("`{text}` is no acceptance: a size is due, such as '0.4 mm', or a range, '-0.1..0.5 mm'")
    })
}
