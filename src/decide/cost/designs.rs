//! The designs whose costs are weighed, and how: the study, what each offer makes of it, and one plan at other numbers of averages.

use super::{Costed, Ladder};
use crate::decide::{Compared, Effort, Passes, Stages, compare_yields, mend, stage};
use crate::design::{self, Checked, Design, Refused};
use crate::engine::{Control, End};
use crate::error::Error;
use crate::model::Model;
use crate::study::{Change, Cost, Parameter, Trials};

/// What a study without prices could have.
const EXAMPLE: &str = "add, for example, a table `[cost]` with `currency = \"EUR\"`, `units_a_year = 300`, `channel = 42`, `bench_minute = 2.4`";

/// The study, and what each offer makes of it, built from the same seed in as many units; with the plan
/// that leaves units as they are built, if that is asked for.
///
/// # Errors
/// When they cannot be weighed by what good units cost.
pub fn designs(first: Design, has_as_built: bool) -> Checked<Vec<Design>> {
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

/// Compares the yields of the designs, in a stage of its own; `None` when a stop came before the first unit.
///
/// # Errors
/// As [`compare_yields`].
pub fn compared(
    models: &[Model],
    control: Control,
    stages: &mut dyn Stages,
) -> Result<Option<Compared>, Error> {
    stage(stages, models[0].trials.most(), |tell| {
        compare_yields(models, control, |outcomes| {
            tell(outcomes[0].first_trial + outcomes[0].trials);
            Ok(())
        })
    })
}

/// What each unit takes, `[candidate]`, and what becomes of those that fail, where their design states the parts that are replaced;
/// prices are `[design]`. `None` when a stop came before that was known.
///
/// # Errors
/// As [`mend`].
pub fn mended(
    models: &[Model],
    compared: &Compared,
    costs: &[Cost],
    control: Control,
    stages: &mut dyn Stages,
) -> Result<Option<Vec<Effort>>, Error> {
    stage(stages, compared.trials(), |tell| {
        let mut efforts = Vec::new();
        for (design, (model, cost)) in models.iter().zip(costs).enumerate() {
            let own = (0..compared.candidates.len()).filter(|of| compared.candidates[*of].design == design);
            let own: Vec<usize> = own.collect();
            let passes: Vec<&Passes> = own.iter().map(|of| compared.passes(*of)).collect();
            let rework = cost.rework.as_ref();
            let Some(all) = mend(model, rework, &passes, compared.confidence, control, tell)? else {
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

/// The plan of a candidate at other numbers of averages, on the same units; `None` when a stop came first.
///
/// # Errors
/// As the runs that it takes.
pub fn ladder(
    designs: &[Design],
    models: &[Model],
    costed: &Costed,
    of: usize,
    control: Control,
    stages: &mut dyn Stages,
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
    let Some(compared) = compared(&tried, control, stages)?.filter(|of| of.end != End::Interrupted) else {
        return Ok(None);
    };
    let costs = vec![costed.costs[candidate.design].clone(); tried.len()];
    let Some(efforts) = mended(&tried, &compared, &costs, control, stages)? else { return Ok(None) };
    let own = averages.iter().position(|count| *count == own).unwrap_or(0);
    Ok(Costed::new(compared, costs, efforts).map(|costed| Ladder { averages, own, costed }))
}

/// Why designs without limits have no costs.
pub fn without_limits(design: &Design) -> Refused {
    design.refuse("without limits no unit passes or fails, so no good unit has a cost", "add a `[[limit]]`")
}
