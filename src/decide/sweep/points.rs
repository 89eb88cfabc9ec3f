//! The designs of a sweep: the study at every point, each read and checked before the first is run.

use super::{Axis, Sweep};
use crate::decide::{DesignRun, ProgressSink, run_all, with_progress};
use crate::design::{self, Design, DesignError, NoSoundValue};
use crate::engine::{Control, End};
use crate::error::Result;
use crate::io::Amount;
use crate::model::Model;
use crate::study::{Change, Parameter};
use std::collections::BTreeMap;

/// Most points of a sweep.
const MOST_POINTS: usize = 10_000;

/// A parameter and its values, as on a drawing, in order.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Vary {
    /// The parameter.
    pub parameter: Parameter,
    /// Its values.
    pub values: Vec<String>,
}

/// The study at the points of a sweep.
#[derive(Clone, Debug)]
pub(crate) struct Points {
    /// The models of the points that it can have, in order.
    pub models: Vec<Model>,
    axes: Vec<Axis>,
    /// Why it cannot have the others, by their numbers.
    refused: BTreeMap<usize, String>,
}

impl Points {
    /// All points of one or two parameters; points that the study cannot have are left out.
    ///
    /// # Errors
    /// When a value is written wrongly, and when the study can have none of the points.
    pub(crate) fn of(design: &Design, vary: &[Vary]) -> design::Result<Points> {
        let refuse = |message: &str, help: &str| Err(design.refuse(message, help).into());
        if let [first, second] = vary
            && first.parameter == second.parameter
        {
            return refuse("both `--vary` name the same parameter", "one `--vary` with all of its values");
        }
        if vary.len() > 2 {
            return refuse(
                "a sweep has one or two parameters",
                "two `--vary` at most; `--set` changes further ones",
            );
        }
        let count: usize = vary.iter().map(|of| of.values.len()).product();
        if count > MOST_POINTS {
            return refuse(&format!("the sweep has {count} points"), &format!("at most {MOST_POINTS}"));
        }
        let inner = vary.get(1).map_or(1, |of| of.values.len());
        let (mut models, mut refused, mut all_refused) =
            (Vec::new(), BTreeMap::new(), NoSoundValue::default());
        for point in 0..count {
            let value = |(number, of): (usize, &Vary)| {
                let place = if number + 1 == vary.len() { point % of.values.len() } else { point / inner };
                Change { parameter: of.parameter.clone(), value: of.values[place].clone() }
            };
            let changes: Vec<Change> = vary.iter().enumerate().map(value).collect();
            match design.with_if_sound(&changes)? {
                Ok(at) if at.study.calibrations.len() != design.study.calibrations.len() => {
                    let help = "compare such studies by `beamyield compare`";
                    return Err(at
                        .refuse("the number of calibration plans changes along the sweep", help)
                        .into());
                }
                Ok(at) => models.push(at.model()),
                Err(why) => {
                    refused.insert(point, why.reason());
                    all_refused.push(why);
                }
            }
        }
        if models.is_empty() {
            return Err(DesignError::NoSoundValue(all_refused));
        }
        let axis = |of: &Vary| Axis { name: of.parameter.to_string(), values: of.values.clone() };
        Ok(Points { models, axes: vary.iter().map(axis).collect(), refused })
    }

    /// Runs all points on the same units; `None` when an interrupt came before the first unit.
    ///
    /// # Errors
    /// As [`run_all`].
    pub(crate) fn run(&self, control: Control, progress: &mut dyn ProgressSink) -> Result<Option<Sweep>> {
        let most = self.models[0].trials.most().saturating_mul(self.models.len() as u64);
        let (ran, end) = with_progress(progress, most, |advance| run_all(&self.models, control, advance))?;
        Ok(self.results(ran, end))
    }

    /// The sweep of what its points ran to, `[model]`; `None` where none has a unit.
    pub(crate) fn results(&self, ran: Vec<Option<DesignRun>>, end: End) -> Option<Sweep> {
        if ran.iter().all(Option::is_none) {
            return None;
        }
        let mut ran = ran.into_iter();
        let all = 0..self.models.len() + self.refused.len();
        let points =
            all.map(|point| if self.refused.contains_key(&point) { None } else { ran.next().flatten() });
        Some(Sweep {
            axes: self.axes.clone(),
            points: points.collect(),
            refused: self.refused.clone(),
            end,
            confidence: self.models[0].confidence,
        })
    }
}

/// `count` values in even steps, rounded for a drawing. `last`, if given, is met exactly.
pub(crate) fn in_steps(from: &Amount, step: f64, count: usize, last: Option<f64>) -> Vec<String> {
    let value = |number: usize| match (from.number + number as f64 * step, last) {
        (_, Some(last)) if number + 1 == count => last,
        (value, Some(_)) if number > 0 => on_drawing(value, step),
        (value, _) => value,
    };
    (0..count).map(|number| from.with(value(number)).to_string()).collect()
}

/// A value rounded for a drawing: to a thousandth of the step, at least.
fn on_drawing(value: f64, step: f64) -> f64 {
    let text = format!("{step:e}");
    let power = text.split_once('e').and_then(|(_, power)| power.parse().ok());
    let power: i32 = power.unwrap_or(0);
    let rounded = |one: f64| (value / one).round() * one;
    match 3 - power {
        decimals if decimals > 0 => format!("{value:.*}", decimals as usize).parse().unwrap_or(value),
        decimals => rounded((0..-decimals).fold(1.0, |one, _| 10.0 * one)),
    }
}
