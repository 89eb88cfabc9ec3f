//! The designs of a cost comparison: the study, the study with each offer, and one plan at other numbers of averages.

use super::{CostResult, Ladder};
use crate::decide::{CompareResult, Effort, Passes, ProgressSink, compare_yields, mend, with_progress};
use crate::design::{self, Checked, Design, StudyError};
use crate::engine::{Control, End};
use crate::error::Error;
use crate::model::Model;
use crate::study::{Change, Cost, Parameter, Trials};

/// An example of prices, for a study that has none.
const EXAMPLE: &str = "add, for example, a table `[cost]` with `currency = \"EUR\"`, `units_a_year = 300`, `channel = 42`, `bench_minute = 2.4`";

/// The study, and the study with each offer, built from the same seed in as many units; `has_as_built` adds the plan without
/// calibration.
///
/// # Errors
/// When the study has no prices or no limits, and when an offer changes what all costs depend on.
pub(crate) fn designs(first: Design, has_as_built: bool) -> Checked<Vec<Design>> {
    let Some(cost) = first.study.cost.clone() else {
        return Err(first.refuse("the study states no prices", EXAMPLE.to_owned()));
    };
    if first.study.limits.is_empty() {
        return Err(without_limits(&first));
    }
    let mut designs = vec![first.clone()];
    for offer in &first.study.offers {
        let mut design = first.offered(offer)?;
        design.keep_confidence(first.study.confidence);
        let other = design.study.cost.as_ref();
        let is_alike =
            |other: &Cost| (&other.currency, other.units_a_year) == (&cost.currency, cost.units_a_year);
        if !other.is_some_and(is_alike) || design.study.limits.is_empty() {
            return Err(first.refuse(
                format!("offer `{}` changes what costs are weighed by", offer.name),
                "an offer leaves `currency`, `units_a_year` and the limits as they are",
            ));
        }
        designs.push(design);
    }
    if has_as_built {
        designs.iter_mut().for_each(Design::add_as_built);
    }
    Ok(designs)
}

/// Compares the yields of the designs; `None` when an interrupt came before the first unit.
///
/// # Errors
/// As [`compare_yields`].
pub(crate) fn compared(
    models: &[Model],
    control: Control,
    progress: &mut dyn ProgressSink,
) -> Result<Option<CompareResult>, Error> {
    with_progress(progress, models[0].trials.most(), |advance| {
        compare_yields(models, control, |outcomes| {
            advance(outcomes[0].first_trial + outcomes[0].trials);
            Ok(())
        })
    })
}

/// Effort for each unit, `[candidate]`, with the rework of units that fail, where their design states which parts are replaced. Prices
/// are `[design]`. `None` when an interrupt came first.
///
/// # Errors
/// As [`mend`].
pub(crate) fn mended(
    models: &[Model],
    compared: &CompareResult,
    costs: &[Cost],
    control: Control,
    progress: &mut dyn ProgressSink,
) -> Result<Option<Vec<Effort>>, Error> {
    with_progress(progress, compared.trials(), |advance| {
        let mut efforts = Vec::new();
        for (design, (model, cost)) in models.iter().zip(costs).enumerate() {
            let own = (0..compared.candidates.len()).filter(|of| compared.candidates[*of].design == design);
            let own: Vec<usize> = own.collect();
            let passes: Vec<&Passes> = own.iter().map(|of| compared.passes(*of)).collect();
            let rework = cost.rework.as_ref();
            let Some(all) = mend(model, rework, &passes, compared.confidence, control, advance)? else {
                return Ok(None);
            };
            efforts.extend(own.into_iter().zip(all).map(|(of, mended)| Effort {
                mended,
                ..Effort::of(model, compared.candidates[of].calibration, compared.summary(of))
            }));
        }
        Ok(Some(efforts))
    })
}

/// The plan of a candidate at other numbers of averages, on the same units; `None` when an interrupt came first.
///
/// # Errors
/// As its runs.
pub(crate) fn ladder(
    designs: &[Design],
    models: &[Model],
    costed: &CostResult,
    of: usize,
    control: Control,
    progress: &mut dyn ProgressSink,
) -> design::Result<Option<Ladder>> {
    if costed.compared.end == End::Interrupted {
        return Ok(None);
    }
    let candidate = costed.compared.candidates[of];
    let (design, model) = (&designs[candidate.design], &models[candidate.design]);
    let calibration = &model.calibrations[candidate.calibration];
    let own = model.receiver_for(calibration).averages;
    let averages = Ladder::averages(own);
    let parameter = Parameter::of(&["calibration", &calibration.name, "averages"]);
    let mut tried = Vec::new();
    for count in &averages {
        let change = Change { parameter: parameter.clone(), value: count.to_string() };
        let mut design = design.with(&[change])?;
        design.keep_calibration(Some(&calibration.name))?;
        design.keep_trials(Trials::Fixed(costed.compared.trials()));
        tried.push(design.model());
    }
    let Some(compared) = compared(&tried, control, progress)?.filter(|of| of.end != End::Interrupted) else {
        return Ok(None);
    };
    let costs = vec![costed.costs[candidate.design].clone(); tried.len()];
    let Some(efforts) = mended(&tried, &compared, &costs, control, progress)? else { return Ok(None) };
    let own = averages.iter().position(|count| *count == own).unwrap_or(0);
    Ok(CostResult::new(compared, costs, efforts).map(|costed| Ladder { averages, own, costed }))
}

/// The refusal of a design without limits.
pub(crate) fn without_limits(design: &Design) -> StudyError {
    design.refuse("without limits no unit passes or fails, so no good unit has a cost", "add a `[[limit]]`")
}
