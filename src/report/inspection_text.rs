//! An incoming inspection in a sentence.

use crate::inspection::{conformity, lots};
use crate::io::Dimension;
use crate::random::Inspected;
use crate::report::number::significant;
use crate::report::words::{quantity, window};

/// "every part is gauged, sd 0.04 mm; taken when it reads within +/-0.4 mm, 30 s a part; turns 11.4 % of parts away, and of those taken
/// 0.43 % do not conform (within +/-0.5 mm)": of parts with so many values each.
pub(super) fn inspection(of: &Inspected, values: usize, dimension: Dimension) -> String {
    let inspection = &of.inspection;
    let size = |value| quantity(value, dimension);
    let percent = |share: f64| format!("{} %", significant(100.0 * share, 3));
    let gauge = match (inspection.gauge.sd, inspection.gauge.bias) {
        (0.0, 0.0) => "without error".to_owned(),
        (sd, 0.0) => format!("sd {}", size(sd)),
        (sd, bias) => format!("sd {}, bias {}", size(sd), size(bias)),
    };
    let gauged = match inspection.sampling {
        None => "every part is gauged".to_owned(),
        Some(sampling) => format!("{} of each lot of {} are gauged", sampling.parts, sampling.lot),
    };
    let mut text = format!("inspection: {gauged}, {gauge}");
    if inspection.seconds > 0.0 {
        text.push_str(&format!(", {} a part", quantity(inspection.seconds, Dimension::Time)));
    }
    let (Some(accept), Some(conforming)) = (inspection.accept, inspection.tolerance) else {
        return text + "; no acceptance is set, so nothing is turned away";
    };
    let taken = window(accept, dimension);
    match lots(of, values) {
        None => {
            text.push_str(&format!("; taken when it reads {taken}"));
            if let Some(of) = conformity(of, values) {
                let (rejected, escapes) = (percent(of.rejected), percent(of.escapes));
                text.push_str(&format!(
                    "; turns {rejected} of parts away, and of those taken {escapes} do not conform"
                ));
            }
        }
        Some(lots) => {
            let allowed = inspection.sampling.map_or(0, |sampling| sampling.allowed);
            let fails = match allowed {
                0 => "none reads".to_owned(),
                1 => "no more than 1 reads".to_owned(),
                many => format!("no more than {many} read"),
            };
            let (rejected, escapes) = (percent(1.0 - lots.taken), percent(lots.escapes));
            text.push_str(&format!(
                "; a lot is taken when {fails} anywhere but {taken}; turns {rejected} of lots away, and of the parts of those \
                 taken {escapes} do not conform"
            ));
        }
    }
    text + &format!(" (conforming: {})", window(conforming, dimension))
}
