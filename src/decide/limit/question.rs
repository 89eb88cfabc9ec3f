//! What a search is asked: which values it varies, where, and what is demanded.

use super::available::{available, between, halved};
use super::probing::find_limit_of;
use super::{Demand, Found, Refusal, Sought, Spacing, Span, fewest_units, significant};
use crate::decide::Stages;
use crate::design::{self, Checked, Design, Refused};
use crate::engine::Control;
use crate::io::Amount;
use crate::study::Parameter;

/// How far around the study's value a range goes that is not given.
const AROUND: f64 = 32.0;

/// How far above the study's whole number a range goes that is not given.
const MORE: f64 = 6.0;

/// A range of values in one unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Range {
    /// The smaller end.
    pub from: Amount,
    /// The larger end.
    pub to: Amount,
}

/// A parameter that is sought, and where.
#[derive(Clone, Debug, PartialEq)]
pub struct Find {
    /// The parameter.
    pub parameter: Parameter,
    /// Where; around the study's value where nothing is given.
    pub range: Option<Range>,
}

/// What is varied, where, and what it is in the study.
#[derive(Clone, Debug)]
pub struct Question {
    /// What is varied.
    pub sought: Sought,
    /// Where.
    pub span: Span,
    /// What it is in the study.
    pub own: Option<f64>,
    /// Ends of the range that the study cannot have.
    pub refused: Vec<Refusal>,
}

impl Question {
    /// Looks for one value in its range, or for several by one factor, as far as the study can have them.
    ///
    /// # Errors
    /// When the study has no such values, or nothing to begin from.
    pub fn of(design: &Design, find: &[Find], factor: Option<&Range>) -> design::Result<Question> {
        let wide = match find {
            [one] if factor.is_none() => Question::one(design, one)?,
            _ => Question::scaled(design, find, factor)?,
        };
        let Question { sought, span, own, .. } = wide;
        let (span, refused) =
            available(&span, own, &mut |value| Ok(design.with_if_sound(&sought.changes(value))?.map(drop)))?;
        Ok(Question { sought, span, own, refused })
    }

    /// Seeks the loosest value at which a demand is met.
    ///
    /// # Errors
    /// As the runs that it takes.
    pub fn answer(
        &self,
        design: &Design,
        demand: &Demand,
        control: Control,
        stages: &mut dyn Stages,
    ) -> design::Result<Found> {
        let range = (self.span, self.refused.clone());
        let mut design = design.clone();
        design.build_all();
        find_limit_of(demand, range, self.own, control, stages, &mut |value| {
            Ok(design.with_if_sound(&self.sought.changes(value))?.map(|at| at.model()))
        })
    }

    fn one(design: &Design, Find { parameter, range }: &Find) -> Checked<Question> {
        let own = parameter.value(&design.source).map_err(|lost| design.refuse(lost.message, lost.help))?;
        let own = own.as_deref().and_then(Amount::parse);
        match (range, own) {
            (Some(range), own) => Ok(in_range(design, parameter.clone(), range, own)),
            (None, Some(own)) if own.number > 0.0 => Ok(around(design, parameter.clone(), own)),
            _ => Err(design.refuse(
                format!("`{parameter}` has no value above 0 in the study to begin from"),
                format!("give a range: --find '{parameter}=FROM..TO'"),
            )),
        }
    }

    /// Several parameters, or one, by a factor.
    fn scaled(design: &Design, find: &[Find], factor: Option<&Range>) -> Checked<Question> {
        let mut all: Vec<(_, Amount)> = Vec::new();
        for Find { parameter, range } in find {
            if range.is_some() {
                return Err(design.refuse(
                    format!("`{parameter}` has a range, but what is scaled by a factor takes the factor's"),
                    "leave the range out, and give `--factor FROM..TO` if need be",
                ));
            }
            if all.iter().any(|(other, _)| other == parameter) {
                return Err(
                    design.refuse(format!("`{parameter}` is asked for twice"), "name each parameter once")
                );
            }
            let own =
                parameter.value(&design.source).map_err(|lost| design.refuse(lost.message, lost.help))?;
            let own =
                own.as_deref().and_then(Amount::parse).filter(|own| own.number != 0.0).ok_or_else(|| {
                    design.refuse(
                        format!("`{parameter}` has no value in the study that a factor could scale"),
                        format!("give it one that is not 0, such as --set '{parameter}=...'"),
                    )
                })?;
            if is_whole(design, &Sought::Value(parameter.clone(), own.clone()), &own) {
                return Err(design.refuse(
                    format!("`{parameter}` is a whole number, which no factor scales"),
                    "look for it alone",
                ));
            }
            all.push((parameter.clone(), own));
        }
        let sought = Sought::Factor(all);
        let span = match factor {
            Some(range) => Span::of_quantities(range.from.number, range.to.number),
            None => Span::of_quantities(
                taken(design, &sought, 1.0, 1.0 / AROUND, between),
                taken(design, &sought, 1.0, AROUND, between),
            ),
        };
        Ok(Question { sought, span, own: Some(1.0), refused: Vec::new() })
    }
}

impl Demand {
    /// A yield that is demanded of a study; the confidence is the study's unless it is given.
    ///
    /// # Errors
    /// Without limits, and where its units cannot show such a yield.
    pub fn of(design: &Design, share: f64, confidence: Option<f64>) -> Checked<Demand> {
        if design.study.limits.is_empty() {
            return Err(design.refuse("a yield is demanded of a study without limits", "add a `[[limit]]`"));
        }
        let confidence = confidence.unwrap_or(design.study.confidence);
        let demand = Demand { share, confidence, units: design.study.trials.most() };
        let fewest = fewest_units(&demand);
        if demand.units < fewest {
            let message = format!(
                "{} units a value cannot show a yield of {share} with {confidence} confidence, whatever passes",
                demand.units
            );
            return Err(design.refuse(message, format!("build {fewest} or more: --trials {fewest}")));
        }
        Ok(demand)
    }
}

/// One parameter in the range that is given.
fn in_range(design: &Design, parameter: Parameter, range: &Range, own: Option<Amount>) -> Question {
    let (from, to) = (range.from.number, range.to.number);
    let sought = Sought::Value(parameter, range.from.clone());
    let is_whole = range.from.is_count() && range.to.is_count() && is_whole(design, &sought, &range.from);
    let span =
        if is_whole { Span { from, to, spacing: Spacing::Whole } } else { Span::of_quantities(from, to) };
    let own = own.filter(|own| own.unit == range.from.unit).map(|own| own.number);
    Question { sought, span, own, refused: Vec::new() }
}

/// One parameter around its value in the study.
fn around(design: &Design, parameter: Parameter, own: Amount) -> Question {
    let sought = Sought::Value(parameter, own.clone());
    let number = own.number;
    let span = if is_whole(design, &sought, &own) {
        let middle = |inside: f64, outside: f64| (0.5 * (inside + outside)).round_ties_even();
        let from = taken(design, &sought, number, 1.0, middle);
        Span { from, to: taken(design, &sought, number, number + MORE, middle), spacing: Spacing::Whole }
    } else {
        let [from, to] = [significant(number / AROUND), significant(AROUND * number)];
        Span::of_quantities(
            taken(design, &sought, number, from, between),
            taken(design, &sought, number, to, between),
        )
    };
    Question { sought, span, own: Some(number), refused: Vec::new() }
}

/// Whether only whole numbers can stand there: a half one is written wrongly.
fn is_whole(design: &Design, sought: &Sought, own: &Amount) -> bool {
    own.is_count() && design.with_if_sound(&sought.changes(own.number + 0.5)).is_err()
}

/// The value farthest toward `end` that the study takes, as far as halving tells; it takes `own`.
fn taken(design: &Design, sought: &Sought, own: f64, end: f64, middle: fn(f64, f64) -> f64) -> f64 {
    let takes = |value: f64| design.with(&sought.changes(value)).is_ok();
    if takes(end) {
        return end;
    }
    halved::<Refused>(own, end, middle, |value| Ok(takes(value))).unwrap_or(own)
}
