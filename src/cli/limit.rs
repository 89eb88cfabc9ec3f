//! `beamyield limit`: the loosest value that still meets a yield.

use crate::cli::asked::{Asked, share};
use crate::cli::available::{available, between, halved};
use crate::cli::outputs::Reports;
use crate::cli::range::{Find, Range, factor, find};
use crate::cli::work::{Work, nothing_yet, partial};
use crate::decide::{
    Demand, Found, Sought, Spacing, Span, fewest_units, find_limit, significant, stage, try_on_units,
};
use crate::design::{Checked, Design, Refused};
use crate::error::{Error, Result};
use crate::io::Amount;
use crate::report::page::limit_page;
use crate::report::{LimitRun, limit_json, limit_text, write_limit_csv};
use clap::Args;
use std::path::PathBuf;

/// Find the loosest value of a study that still meets a yield
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct LimitOf {
    #[command(flatten)]
    asked: Asked,
    /// Vary this value, such as shifter.bits=3..9; several go by one factor
    #[arg(long, value_name = "KEY[=FROM..TO]", value_parser = find, required = true)]
    find: Vec<Find>,
    /// The share of units that has to pass
    #[arg(long = "yield", value_name = "SHARE", value_parser = share)]
    share: f64,
    /// Confidence of the limit's interval, instead of the study's
    #[arg(long, value_name = "SHARE", value_parser = confidence)]
    confidence: Option<f64>,
    /// Range of the factor by which the study's values are scaled
    #[arg(long, value_name = "FROM..TO", value_parser = factor)]
    factor: Option<Range>,
    /// Write the values tried to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write a page with charts to this .html file; - is standard output
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

const NOTES: &str = "\
A range is written as on a drawing, \"jumper.length.half_width=0.05 mm..1 mm\".
Without one, quantities are sought from 1/32 to 32 times the study's value,
whole numbers from 1 to the study's and 6 more, as far as the study takes them.
A value that the study cannot have is shown and counts for nothing.
--trials is the most units that one value is tried on. The exit code is 1 when
no value is shown to meet the yield.";

/// How far around the study's value a range goes that is not given.
const AROUND: f64 = 32.0;

/// How far above the study's whole number a range goes that is not given.
const MORE: f64 = 6.0;

/// What is varied, where, and what it is in the study.
struct Question {
    sought: Sought,
    span: Span,
    own: Option<f64>,
}

impl LimitOf {
    pub fn run(&self) -> Result<()> {
        let control = self.asked.control()?;
        let mut opened = self.asked.open()?;
        opened.keep_one_calibration("a limit")?;
        let demand = demand(&opened, self.share, self.confidence)?;
        let Question { sought, span, own } = self.question(&opened)?;
        let (span, refused) =
            available(&span, own, &mut |value| Ok(opened.with_if_sound(&sought.changes(value))?.map(drop)))?;
        let plan = opened.plan();
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let mut work = Work::open(&self.asked, &wanted, Reports::Pages, [&opened])?;
        work.begin(opened.warnings(&plan).len());
        let mut found = find_limit(&demand, &span, own, &mut |value, units| {
            let plan = match opened.with_if_sound(&sought.changes(value))? {
                Ok(at) => at.plan(),
                Err(refused) => {
                    units.refuse(refused.reason());
                    return Ok(());
                }
            };
            stage(&mut work.progress, demand.units, |tell| try_on_units(plan, control, units, tell))
        })?;
        found.refused.splice(..0, refused);
        if found.probes.is_empty() {
            return Err(nothing_yet("the first value was tried"));
        }
        let (seconds, warnings) = (work.seconds(), work.warnings);
        let run = LimitRun { plan: &plan, sought: &sought, own, found: &found, seconds, warnings };
        work.finish(
            self.end(&found),
            |csv| write_limit_csv(&run, csv),
            || limit_json(&run),
            |report, origin| report.write_page(|| limit_page(&run, origin)),
            || limit_text(&run),
        )
    }

    /// The exit that an answer has.
    fn end(&self, found: &Found) -> Result<()> {
        if !found.is_finished {
            return Err(partial(&format!("after {} values", found.probes.len())));
        }
        if !found.meets_somewhere() {
            return Err(Error::LimitMissed(format!(
                "no value is shown to meet the yield of {} required",
                self.share
            )));
        }
        Ok(())
    }

    fn question(&self, opened: &Design) -> Checked<Question> {
        match self.find.as_slice() {
            [Find { parameter, range }] if self.factor.is_none() => {
                let own =
                    parameter.value(&opened.source).map_err(|lost| opened.refuse(lost.message, lost.help))?;
                let own = own.as_deref().and_then(Amount::parse);
                match (range, own) {
                    (Some(range), own) => Ok(in_range(opened, parameter.clone(), range, own)),
                    (None, Some(own)) if own.number > 0.0 => Ok(around(opened, parameter.clone(), own)),
                    _ => Err(opened.refuse(
                        format!("`{parameter}` has no value above 0 in the study to begin from"),
                        format!("give a range: --find '{parameter}=FROM..TO'"),
                    )),
                }
            }
            _ => self.scaled(opened),
        }
    }

    /// Several parameters, or one, by a factor.
    fn scaled(&self, opened: &Design) -> Checked<Question> {
        let mut all: Vec<(_, Amount)> = Vec::new();
        for Find { parameter, range } in &self.find {
            if range.is_some() {
                return Err(opened.refuse(
                    format!("`{parameter}` has a range, but what is scaled by a factor takes the factor's"),
                    "leave the range out, and give `--factor FROM..TO` if need be".to_owned(),
                ));
            }
            if all.iter().any(|(other, _)| other == parameter) {
                return Err(opened.refuse(
                    format!("`{parameter}` is asked for twice"),
                    "name each parameter once".to_owned(),
                ));
            }
            let own =
                parameter.value(&opened.source).map_err(|lost| opened.refuse(lost.message, lost.help))?;
            let own =
                own.as_deref().and_then(Amount::parse).filter(|own| own.number != 0.0).ok_or_else(|| {
                    opened.refuse(
                        format!("`{parameter}` has no value in the study that a factor could scale"),
                        format!("give it one that is not 0, such as --set '{parameter}=...'"),
                    )
                })?;
            if is_whole(opened, &Sought::Value(parameter.clone(), own.clone()), &own) {
                return Err(opened.refuse(
                    format!("`{parameter}` is a whole number, which no factor scales"),
                    "look for it alone".to_owned(),
                ));
            }
            all.push((parameter.clone(), own));
        }
        let sought = Sought::Factor(all);
        let span = match &self.factor {
            Some(range) => Span::of_quantities(range.from.number, range.to.number),
            None => Span::of_quantities(
                taken(opened, &sought, 1.0, 1.0 / AROUND, between),
                taken(opened, &sought, 1.0, AROUND, between),
            ),
        };
        Ok(Question { sought, span, own: Some(1.0) })
    }
}

/// A yield that is demanded of a study, whose units have to be able to show it; the confidence is the study's unless it is given.
pub(super) fn demand(opened: &Design, share: f64, confidence: Option<f64>) -> Checked<Demand> {
    if opened.study.limits.is_empty() {
        return Err(opened.refuse(
            "a yield is demanded of a study without limits".to_owned(),
            "add a `[[limit]]`".to_owned(),
        ));
    }
    let confidence = confidence.unwrap_or(opened.study.confidence);
    let demand = Demand { share, confidence, units: opened.study.trials.most() };
    let fewest = fewest_units(&demand);
    if demand.units < fewest {
        let message = format!(
            "{} units a value cannot show a yield of {share} with {confidence} confidence, whatever passes",
            demand.units
        );
        return Err(opened.refuse(message, format!("build {fewest} or more: --trials {fewest}")));
    }
    Ok(demand)
}

/// One parameter in the range that is given.
fn in_range(
    opened: &Design,
    parameter: crate::study::Parameter,
    range: &Range,
    own: Option<Amount>,
) -> Question {
    let (from, to) = (range.from.number, range.to.number);
    let sought = Sought::Value(parameter, range.from.clone());
    let is_whole = range.from.is_count() && range.to.is_count() && is_whole(opened, &sought, &range.from);
    let span =
        if is_whole { Span { from, to, spacing: Spacing::Whole } } else { Span::of_quantities(from, to) };
    let own = own.filter(|own| own.unit == range.from.unit).map(|own| own.number);
    Question { sought, span, own }
}

/// One parameter around its value in the study.
fn around(opened: &Design, parameter: crate::study::Parameter, own: Amount) -> Question {
    let sought = Sought::Value(parameter, own.clone());
    let number = own.number;
    let span = if is_whole(opened, &sought, &own) {
        let middle = |inside: f64, outside: f64| (0.5 * (inside + outside)).round_ties_even();
        let from = taken(opened, &sought, number, 1.0, middle);
        Span { from, to: taken(opened, &sought, number, number + MORE, middle), spacing: Spacing::Whole }
    } else {
        let [from, to] = [significant(number / AROUND), significant(AROUND * number)];
        Span::of_quantities(
            taken(opened, &sought, number, from, between),
            taken(opened, &sought, number, to, between),
        )
    };
    Question { sought, span, own: Some(number) }
}

/// Whether only whole numbers can stand there: a half one is written wrongly.
fn is_whole(opened: &Design, sought: &Sought, own: &Amount) -> bool {
    own.is_count() && opened.with_if_sound(&sought.changes(own.number + 0.5)).is_err()
}

/// The value farthest toward `end` that the study takes, as far as halving tells; it takes `own`.
fn taken(opened: &Design, sought: &Sought, own: f64, end: f64, middle: fn(f64, f64) -> f64) -> f64 {
    let takes = |value: f64| opened.with(&sought.changes(value)).is_ok();
    if takes(end) {
        return end;
    }
    halved::<Refused>(own, end, middle, |value| Ok(takes(value))).unwrap_or(own)
}

/// A confidence that a study could hold as well.
fn confidence(text: &str) -> std::result::Result<f64, String> {
    match share(text) {
        Ok(confidence) if (0.5..=0.9999).contains(&confidence) => Ok(confidence),
        _ => Err("a share between 0.5 and 0.9999 is due, such as 0.95 or \"95 %\"".to_owned()),
    }
}
