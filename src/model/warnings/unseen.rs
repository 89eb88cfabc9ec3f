//! Parts that no cable reaches, and that a bench without a reference plane sees all the same.

use crate::chain::Named;
use crate::io::{Findings, Span};
use crate::model::Model;
use crate::random::Tolerance;
use crate::study::Study;

/// Warns where the study states no reference plane, a plan reads through cables, and parts behind the last block that is stepped vary:
/// the bench then sees to the end of the channel, and calibrates them out.
pub(super) fn unseen(study: &Study, model: &Model, findings: &Findings) {
    let reads = model.calibrations.iter().any(|of| !of.is_none() && !of.is_over_the_air());
    if study.written.reference_plane || !reads {
        return;
    }
    let chain = &study.chain;
    let last = chain.attenuator_place().map_or(chain.shifter_place(), |at| at.max(chain.shifter_place()));
    let varies = |(named, _): &(&Named<Tolerance>, &Span)| {
        named.block.tolerances().iter().any(|of| of.tolerance.sd() > 0.0)
    };
    let mut behind = chain.blocks().iter().zip(&study.written.blocks).skip(last + 1).filter(varies);
    let Some((first, span)) = behind.next() else { return };
    let others = behind.count();
    let what = match others {
        0 => format!("`{}`", first.name),
        1 => format!("`{}` and 1 block behind it", first.name),
        _ => format!("`{}` and {others} blocks behind it", first.name),
    };
    let (before, end) = (&chain.blocks()[last].name, &chain.blocks()[chain.blocks().len() - 1].name);
    findings.warning(
        span.clone(),
        format!("the bench sees {what}, as no reference plane is stated: what varies there is calibrated out"),
        "behind all that is stepped",
        Some(format!(
            "if its cable is connected in front of it, `reference_plane = {{ after = \"{before}\" }}` in [bench]; if it sees the whole channel, say so: `{{ after = \"{end}\" }}`"
        )),
    );
}
