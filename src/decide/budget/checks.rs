//! Checks that a study allows a budget, and its causes.

use super::{FEWEST_LOTS, fewest_units, has_lots};
use crate::design::{Checked, Design};
use crate::figure::Figure;
use crate::model::Model;
use crate::model::vary::{Cause, Wish, causes, join};

/// Refuses a budget of too few units, or without variance to apportion.
///
/// # Errors
/// The reason of the refusal.
pub(crate) fn refuse_unfit(design: &Design, model: &Model, figure: Option<Figure>) -> Checked<()> {
    let (units, fewest) = (model.trials.most(), fewest_units(model));
    if units < fewest {
        let lots = format!(", {FEWEST_LOTS} lots, as units of a lot share a draw");
        let lots = if has_lots(model) { &*lots } else { "" };
        return Err(design.refuse(
            format!("{units} units are too few for an error budget: it needs at least {fewest}{lots}"),
            format!("--trials {fewest}, or more: 20000 give shares to a few percent"),
        ));
    }
    if let Some(figure) = figure
        && !model.columns.iter().any(|column| column.figure == figure)
    {
        return Err(design.refuse(
            format!("`{}` exists at no beam of the study", figure.name()),
            "add to a beam what it needs, such as `null_at`, or ask for another figure",
        ));
    }
    if model.columns.is_empty() {
        return Err(design.refuse(
            "the study has neither figures nor limits, so there is nothing to budget",
            "ask for a figure: --figure array_gain_loss",
        ));
    }
    Ok(())
}

/// The causes of a model, grouped as requested.
///
/// # Errors
/// When a group cannot be made, and when nothing varies.
pub(crate) fn causes_of(design: &Design, model: &Model, wishes: &[Wish]) -> Checked<Vec<Cause>> {
    let joined = join(causes(model), wishes);
    let causes = joined.map_err(|unmatched| design.refuse(unmatched.message, unmatched.help))?;
    if !causes.iter().any(Cause::is_drawn) {
        return Err(design.refuse(
            "nothing in the study varies, so there is nothing to budget",
            "give a tolerance a distribution, such as `length = { nominal = \"60 mm\", normal = { sd = \"0.1 mm\" } }`",
        ));
    }
    Ok(causes)
}
