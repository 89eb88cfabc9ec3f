//! The question of a search: which values it varies, in which range, and which yield they must meet.

use super::available::{available, between, halved};
use super::probing::find_limit_of;
use super::{Demand, LimitResult, Refusal, SearchVariable, Spacing, Span, fewest_units, significant};
use crate::decide::ProgressSink;
use crate::design::{self, Checked, Design, StudyError};
use crate::engine::Control;
use crate::io::Amount;
use crate::study::Parameter;

/// Ratio of a default range's ends to the study's value.
const AROUND: f64 = 32.0;

/// How far a default range of whole numbers extends above the study's.
const MORE: f64 = 6.0;

/// A range of values in one unit.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Range {
    /// The smaller end.
    pub from: Amount,
    /// The larger end.
    pub to: Amount,
}

/// A parameter to search, and its range.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Find {
    /// The parameter.
    pub parameter: Parameter,
    /// Its range; around the study's value by default.
    pub range: Option<Range>,
}

/// What a search varies, its range, and its value in the study.
#[derive(Clone, Debug)]
pub(crate) struct Question {
    /// What the search varies.
    pub variable: SearchVariable,
    /// Its range.
    pub span: Span,
    /// Its value in the study.
    pub own: Option<f64>,
    /// Ends of the range that the study cannot have.
    pub refused: Vec<Refusal>,
}

impl Question {
    /// A search for one value in its range, or for several by one factor, as far as the study can have them.
    ///
    /// # Errors
    /// When the study has no such values, or none to begin with.
    pub(crate) fn of(design: &Design, find: &[Find], factor: Option<&Range>) -> design::Result<Question> {
        let wide = match find {
            [one] if factor.is_none() => Question::one(design, one)?,
            _ => Question::scaled(design, find, factor)?,
        };
        let Question { variable, span, own, .. } = wide;
        let (span, refused) = available(&span, own, &mut |value| {
            Ok(design.with_if_sound(&variable.changes(value))?.map(drop))
        })?;
        Ok(Question { variable, span, own, refused })
    }

    /// Seeks the loosest value at which a demand is met.
    ///
    /// # Errors
    /// As its runs.
    pub(crate) fn answer(
        &self,
        design: &Design,
        demand: &Demand,
        control: Control,
        progress: &mut dyn ProgressSink,
    ) -> design::Result<LimitResult> {
        let range = (self.span, self.refused.clone());
        let mut design = design.clone();
        design.build_all();
        find_limit_of(demand, range, self.own, control, progress, &mut |value| {
            Ok(design.with_if_sound(&self.variable.changes(value))?.map(|at| at.model()))
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

    /// One or several parameters, by a factor.
    fn scaled(design: &Design, find: &[Find], factor: Option<&Range>) -> Checked<Question> {
        let mut all: Vec<(_, Amount)> = Vec::new();
        for Find { parameter, range } in find {
            if range.is_some() {
                return Err(design.refuse(
                    format!("`{parameter}` has a range, but a scaled parameter takes the factor's"),
                    "leave the range out, and give `--factor FROM..TO` if need be",
                ));
            }
            if all.iter().any(|(other, _)| other == parameter) {
                return Err(design.refuse(format!("`{parameter}` appears twice"), "name each parameter once"));
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
            if is_whole(design, &SearchVariable::Value(parameter.clone(), own.clone()), &own) {
                return Err(design.refuse(
                    format!("`{parameter}` is a whole number, which no factor scales"),
                    "vary it alone",
                ));
            }
            all.push((parameter.clone(), own));
        }
        let variable = SearchVariable::Factor(all);
        let span = match factor {
            Some(range) => Span::of_quantities(range.from.number, range.to.number),
            None => Span::of_quantities(
                accepted(design, &variable, 1.0, 1.0 / AROUND, between),
                accepted(design, &variable, 1.0, AROUND, between),
            ),
        };
        Ok(Question { variable, span, own: Some(1.0), refused: Vec::new() })
    }
}

impl Demand {
    /// A yield demanded of a study; the confidence is the study's by default.
    ///
    /// # Errors
    /// Without limits, and where its units cannot show such a yield.
    pub(crate) fn of(design: &Design, share: f64, confidence: Option<f64>) -> Checked<Demand> {
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

/// One parameter in a given range.
fn in_range(design: &Design, parameter: Parameter, range: &Range, own: Option<Amount>) -> Question {
    let (from, to) = (range.from.number, range.to.number);
    let variable = SearchVariable::Value(parameter, range.from.clone());
    let is_whole = range.from.is_count() && range.to.is_count() && is_whole(design, &variable, &range.from);
    let span =
        if is_whole { Span { from, to, spacing: Spacing::Whole } } else { Span::of_quantities(from, to) };
    let own = own.filter(|own| own.unit == range.from.unit).map(|own| own.number);
    Question { variable, span, own, refused: Vec::new() }
}

/// One parameter around its value in the study.
fn around(design: &Design, parameter: Parameter, own: Amount) -> Question {
    let variable = SearchVariable::Value(parameter, own.clone());
    let number = own.number;
    let span = if is_whole(design, &variable, &own) {
        let middle = |inside: f64, outside: f64| (0.5 * (inside + outside)).round_ties_even();
        let from = accepted(design, &variable, number, 1.0, middle);
        Span { from, to: accepted(design, &variable, number, number + MORE, middle), spacing: Spacing::Whole }
    } else {
        let [from, to] = [significant(number / AROUND), significant(AROUND * number)];
        Span::of_quantities(
            accepted(design, &variable, number, from, between),
            accepted(design, &variable, number, to, between),
        )
    };
    Question { variable, span, own: Some(number), refused: Vec::new() }
}

/// Whether the parameter takes only whole numbers: the reader rejects a half as a slip.
fn is_whole(design: &Design, variable: &SearchVariable, own: &Amount) -> bool {
    own.is_count() && design.with_if_sound(&variable.changes(own.number + 0.5)).is_err()
}

/// The value closest to `end` that the study can have, by bisection; it has `own`.
fn accepted(
    design: &Design,
    variable: &SearchVariable,
    own: f64,
    end: f64,
    middle: fn(f64, f64) -> f64,
) -> f64 {
    let takes = |value: f64| design.with(&variable.changes(value)).is_ok();
    if takes(end) {
        return end;
    }
    halved::<StudyError>(own, end, middle, |value| Ok(takes(value))).unwrap_or(own)
}
