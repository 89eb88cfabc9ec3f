//! The verdict on a run, in sentences.

use crate::engine::{CalibrationSummary, Summary};
use crate::report::number::{confidence, counted, with_interval};
use crate::report::words::{plain, quoted};
use crate::report::{Run, misses};
use crate::stats::Estimate;

/// The answer and its basis. Plans of one run are listed here, but their differences are not tested: that takes their paired verdicts,
/// which `compare` has.
pub(super) fn verdict(run: &Run) -> String {
    let units = counted(run.summary.trials, "unit");
    let head = format!(
        "Verdict on {units} of seed {}, intervals at {} confidence:",
        run.model.seed,
        confidence(run.model.confidence)
    );
    let rated: Vec<(&CalibrationSummary, &Estimate)> =
        best_first(run.summary).filter_map(|(_, of)| Some((of, of.yield_.as_ref()?))).collect();
    let mut said = vec![head];
    match rated.as_slice() {
        [] => {
            said.push("without limits there is no yield; the tables show how the figures spread.".to_owned())
        }
        [(best, of), others @ ..] => {
            said.push(format!(
                "after \"{}\", {} of the units meet every limit.",
                plain(&best.name),
                with_interval(of)
            ));
            let is_highest = others.iter().all(|(_, share)| share.high < of.low);
            said.extend(others.first().map(|(next, share)| beside(run, of, next, share, is_highest)));
            said.extend(most_missed(run, best));
        }
    }
    said.push("Predicted from the study's tolerances, not measured.".to_owned());
    said.join(" ")
}

/// The plans and their numbers by falling yield; of equals the one with less bench time first, then the first of the study.
pub(super) fn best_first(summary: &Summary) -> impl Iterator<Item = (usize, &CalibrationSummary)> {
    let share = |of: &CalibrationSummary| of.yield_.as_ref().map_or(0.0, |of| of.value);
    let mut plans: Vec<(usize, &CalibrationSummary)> = summary.calibrations.iter().enumerate().collect();
    plans.sort_by(|(_, a), (_, b)| {
        let seconds = a.bench_seconds.mean.total_cmp(&b.bench_seconds.mean);
        share(b).total_cmp(&share(a)).then(seconds)
    });
    plans.into_iter()
}

/// The number of the plan that a page shows in detail: the best, or the last where there are no limits.
pub(crate) fn shown_plan(summary: &Summary) -> usize {
    let last = summary.calibrations.len().saturating_sub(1);
    best_first(summary).find(|(_, of)| of.yield_.is_some()).map_or(last, |(number, _)| number)
}

/// The second best beside the best, which is shown to be the highest or only found to be, by the intervals of all.
fn beside(
    run: &Run,
    best: &Estimate,
    next: &CalibrationSummary,
    share: &Estimate,
    is_highest: bool,
) -> String {
    let plans = run.summary.calibrations.len();
    let name = plain(&next.name);
    let found = if is_highest { "" } else { " found" };
    let highest = if plans > 2 {
        format!("That is the highest yield{found} of {plans} plans; ")
    } else {
        String::new()
    };
    let text = format!("{highest}after \"{name}\" it is {}", with_interval(share));
    let text = if highest.is_empty() { text.replacen('a', "A", 1) } else { text };
    if share.high >= best.low {
        format!(
            "{text}. These two intervals cannot tell the two apart; beamyield compare weighs them on the same units."
        )
    } else {
        format!("{text}.")
    }
}

/// The limit at a beam that is missed most often after a plan.
fn most_missed(run: &Run, of: &CalibrationSummary) -> Option<String> {
    let most = of.families.first()?;
    let missed = misses::missed(run.model, of, most);
    Some(format!(
        "After {} the limit missed most often is {missed}: {}.",
        quoted(&of.name),
        misses::shares(most)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;

    #[test]
    fn the_best_plan_has_its_interval_and_its_remaining_misses() {
        let model = sample::model();
        let mut summary = sample::summary(&model);
        // clopper_pearson(900, 1000, 0.95) is 0.879712 to 0.917895 (stats::binomial); 0.025^(1/1000) = 0.99632.
        let said = verdict(&sample::run(&model, &summary));
        assert_eq!(
            said,
            "Verdict on 1000 units of seed 7, intervals at 95 % confidence: after \"+fit\", at least 99.6 % (99.6 to 100.0 %) of the \
             units meet every limit. After \"none\" it is 90.0 % (87.9 to 91.8 %). Predicted from the study's tolerances, not measured."
        );
        summary.calibrations.swap_remove(1);
        let alone = verdict(&sample::run(&model, &summary));
        assert!(
            alone.contains(
                "the limit missed most often is peak side lobe above -11 dB at beam ahead, 10 GHz: 7.0 % (5.4 to 8.8 %) of units miss it, \
                 4.0 % miss nothing else."
            ),
            "{alone}"
        );
        summary.calibrations.push(summary.calibrations[0].clone());
        let alike = verdict(&sample::run(&model, &summary));
        assert!(alike.contains("cannot tell the two apart; beamyield compare weighs them"), "{alike}");
        // Of equals the one with less bench time is shown.
        assert_eq!(shown_plan(&summary), 0);
        (summary.calibrations[0].bench_seconds.mean, summary.calibrations[1].bench_seconds.mean) = (2.0, 1.0);
        assert_eq!(shown_plan(&summary), 1);
        summary.calibrations[0].bench_seconds.mean = 0.0;
        summary.calibrations.iter_mut().for_each(|of| of.yield_ = None);
        assert_eq!(shown_plan(&summary), 1);
        assert!(verdict(&sample::run(&model, &summary)).contains("without limits there is no yield"));
    }
}
