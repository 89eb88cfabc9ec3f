//! Inspections whose gauge says more of itself than of the parts, and samples of lots that are alike.

use crate::chain::Listed;
use crate::inspection::{accepted_moments, conformity, delivered_moments};
use crate::io::Findings;
use crate::io::quantity::format;
use crate::random::{Inspected, Tolerance};
use crate::study::Study;

/// Warns of a gauge that errs by more than the delivered parts spread, with what comes of it.
pub(super) fn inspections(study: &Study, findings: &Findings) {
    for named in study.chain.blocks() {
        for of in named.block.tolerances() {
            let Some(inspected) = &of.tolerance.inspected else { continue };
            let name = format!("{}.{}", named.name, of.key);
            gauge(&name, &of, inspected, findings);
            alike(&name, &of, inspected, findings);
        }
    }
}

/// A sample distinguishes lots; of lots that are alike some are turned away by luck, and the others are no better.
fn alike(name: &str, of: &Listed<Tolerance>, inspected: &Inspected, findings: &Findings) {
    let inspection = &inspected.inspection;
    let differs = inspected.lot.as_ref().is_some_and(|lot| lot.sd() > 0.0);
    if inspection.sampling.is_none() || !inspection.is_in_place() || differs {
        return;
    }
    findings.warning(
        of.tolerance.inspected_at.clone(),
        format!("a sample of each lot of `{name}` changes nothing: its lots are alike"),
        "the parts that are built in are those that are delivered",
        Some("state how lots differ, such as `and = { normal = { sd = ... }, scope = \"lot\" }`; or inspect every part: leave `sample` out".into()),
    );
}

fn gauge(name: &str, of: &Listed<Tolerance>, inspected: &Inspected, findings: &Findings) {
    let gauge = inspected.inspection.gauge;
    let (_, spread) = delivered_moments(inspected);
    let size = |value| format(rounded(value), of.dimension.difference());
    let what = if gauge.sd > spread {
        format!("the gauge's sd of {}", size(gauge.sd))
    } else if gauge.bias.abs() > spread {
        format!("the gauge's bias of {}", size(gauge.bias))
    } else {
        return;
    };
    let consequence = match conformity(inspected, of.slots) {
        None => "a limit would choose parts by luck more than by what they are".to_owned(),
        Some(shares) => {
            let conforming = 1.0 - shares.nonconforming;
            let wrongly = if conforming > 0.0 { shares.producer_risk / conforming } else { 0.0 };
            let (_, after) = accepted_moments(inspected);
            format!(
                "{} of the parts that conform read outside the acceptance, {} of those that read within do not conform; sd {} as delivered, {} as built in",
                percent(wrongly),
                percent(shares.escapes),
                size(spread),
                size(after)
            )
        }
    };
    findings.warning(
        of.tolerance.inspected_at.clone(),
        format!("{what} exceeds the spread of the parts of `{name}`, sd {}", size(spread)),
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
