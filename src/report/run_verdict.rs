//! What a run comes to, in sentences.

use crate::engine::{CalibrationSummary, LimitSummary};
use crate::report::Run;
use crate::report::number::{confidence, counted, percent, share};
use crate::report::words::{miss, plain};
use crate::stats::Estimate;

/// The answer and what it rests on. Plans of one run are set beside each other here, not told apart: that takes their paired verdicts, which
/// `compare` has.
pub(super) fn verdict(run: &Run) -> String {
    let units = counted(run.summary.trials, "unit");
    let head = format!(
        "Verdict on {units} of seed {}, intervals at {} confidence:",
        run.plan.seed,
        confidence(run.plan.confidence)
    );
    let mut rated: Vec<(&CalibrationSummary, &Estimate)> =
        run.summary.calibrations.iter().filter_map(|of| Some((of, of.yield_.as_ref()?))).collect();
    // Of equals the one with less bench time, then the first.
    rated.sort_by(|a, b| {
        let seconds = a.0.bench_seconds.mean.total_cmp(&b.0.bench_seconds.mean);
        b.1.value.total_cmp(&a.1.value).then(seconds)
    });
    let mut said = vec![head];
    match rated.as_slice() {
        [] => {
            said.push("without limits there is no yield; the tables tell how the figures spread.".to_owned())
        }
        [(best, of), others @ ..] => {
            said.push(format!(
                "after \"{}\", {} of the units meet every limit.",
                plain(&best.name),
                told(of)
            ));
            said.extend(others.first().map(|(next, share)| beside(run, of, next, share)));
            said.extend(first_missed(run, best));
        }
    }
    said.push("Predicted from the study's tolerances, not measured.".to_owned());
    said.join(" ")
}

/// "91.8 % (91.3 to 92.2 %)"
fn told(of: &Estimate) -> String {
    let (value, interval) = percent(of);
    format!("{value} ({interval})")
}

/// What stands next to the best.
fn beside(run: &Run, best: &Estimate, next: &CalibrationSummary, share: &Estimate) -> String {
    let plans = run.summary.calibrations.len();
    let name = plain(&next.name);
    let highest =
        if plans > 2 { format!("That is the highest yield of {plans} plans; ") } else { String::new() };
    let text = format!("{highest}after \"{name}\" it is {}", told(share));
    let text = if highest.is_empty() { text.replacen('a', "A", 1) } else { text };
    if share.high >= best.low {
        format!(
            "{text}, which these two intervals do not tell from it; beamyield compare weighs them on the same units."
        )
    } else {
        format!("{text}.")
    }
}

/// What most units of a plan miss first.
fn first_missed(run: &Run, of: &CalibrationSummary) -> Option<String> {
    let first: &LimitSummary =
        of.limits.iter().rev().filter(|of| of.first_missed > 0).max_by_key(|of| of.first_missed)?;
    Some(format!(
        "After \"{}\" the limit that units miss first most often is {}, by {} of all.",
        plain(&of.name),
        miss(run.plan, &first.limit),
        share(first.first_missed, run.summary.trials)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;

    #[test]
    fn the_best_plan_is_told_with_its_interval_and_what_it_still_misses() {
        let plan = sample::plan();
        let mut summary = sample::summary(&plan);
        // clopper_pearson(900, 1000, 0.95) is 0.879712 to 0.917895 (stats::binomial); 0.025^(1/1000) = 0.99632.
        let said = verdict(&sample::run(&plan, &summary));
        assert_eq!(
            said,
            "Verdict on 1000 units of seed 7, intervals at 95 % confidence: after \"+fit\", at least 99.6 % (99.6 to 100.0 %) of the units meet \
             every limit. After \"none\" it is 90.0 % (87.9 to 91.8 %). Predicted from the study's tolerances, not measured."
        );
        summary.calibrations.swap_remove(1);
        let alone = verdict(&sample::run(&plan, &summary));
        assert!(
            alone.contains(
                "miss first most often is peak side lobe above -11 dB at beam ahead, 10 GHz, by 7 % of all."
            ),
            "{alone}"
        );
        summary.calibrations.push(summary.calibrations[0].clone());
        let alike = verdict(&sample::run(&plan, &summary));
        assert!(alike.contains("do not tell from it; beamyield compare weighs them"), "{alike}");
        summary.calibrations.iter_mut().for_each(|of| of.yield_ = None);
        assert!(verdict(&sample::run(&plan, &summary)).contains("without limits there is no yield"));
    }
}
