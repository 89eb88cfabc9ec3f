//! Inspections whose gauge says more of itself than of the parts, and samples of lots that are alike.

use crate::inspection::{accepted_moments, conformity, delivered_moments};
use crate::io::Findings;
use crate::io::quantity::format;
use crate::plan::Plan;
use crate::random::Source;

/// Warns of a gauge that errs by more than the delivered parts spread, with what comes of it.
pub(super) fn inspections(plan: &Plan, findings: &Findings) {
    for source in plan.sources.list() {
        gauge(source, findings);
        alike(source, findings);
    }
}

/// A sample tells lots apart; of lots that are alike some are turned away by luck, and the others are no better.
fn alike(source: &Source, findings: &Findings) {
    let Some(inspected) = &source.inspected else { return };
    let inspection = &inspected.inspection;
    let differs = inspected.lot.as_ref().is_some_and(|lot| lot.sd() > 0.0);
    if inspection.sampling.is_none() || !inspection.is_in_place() || differs {
        return;
    }
    findings.warning(
        inspection.span.clone(),
        format!("a sample of each lot of `{}` changes nothing: its lots are alike", source.name),
        "the parts that are built in are those that are delivered",
        Some("state how lots differ, such as `and = { normal = { sd = ... }, scope = \"lot\" }`; or inspect every part: leave `sample` out".into()),
    );
}

fn gauge(source: &Source, findings: &Findings) {
    let Some(inspected) = &source.inspected else { return };
    let gauge = inspected.inspection.gauge;
    let (_, spread) = delivered_moments(inspected);
    let size = |value| format(rounded(value), source.dimension.difference());
    let what = if gauge.sd > spread {
        format!("the gauge's sd of {}", size(gauge.sd))
    } else if gauge.bias.abs() > spread {
        format!("the gauge's bias of {}", size(gauge.bias))
    } else {
        return;
    };
    let consequence = match conformity(inspected, source.slots) {
        None => "a limit would choose parts by chance more than by what they are".to_owned(),
        Some(of) => {
            let conforming = 1.0 - of.nonconforming;
            let wrongly = if conforming > 0.0 { of.producer_risk / conforming } else { 0.0 };
            let (_, after) = accepted_moments(inspected);
            format!(
                "{} of the parts that conform read outside the acceptance, {} of those that read within do not conform; sd {} as delivered, {} as built in",
                percent(wrongly),
                percent(of.escapes),
                size(spread),
                size(after)
            )
        }
    };
    findings.warning(
        inspected.inspection.span.clone(),
        format!("{what} exceeds the spread of the parts of `{}`, sd {}", source.name, size(spread)),
        consequence,
        Some("a better gauge, or the mean of several readings; or leave the inspection out".into()),
    );
}

/// Three significant digits.
fn rounded(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

fn percent(share: f64) -> String {
    format!("{} %", rounded(100.0 * share))
}
