//! A run in words and tables that can be read out in a meeting: the yield first, then the failures, then the spreads.

use crate::engine::{CalibrationSummary, Failure};
use crate::report::grid::{Grid, Paper, numbers, paragraph, words};
use crate::report::number::{ABSENT, confidence, counted, duration, passed, percent, share, with_interval};
use crate::report::words::{plain, quoted};
use crate::report::{Ending, Run, lots_text, margins, misses, spreads_text, strip_plot_text};

/// Most limits at a beam that are named for one plan.
const MOST_LIMITS: usize = 3;

/// Most beams, frequencies and temperatures, of each, whose yields are shown.
const MOST_PLACES: usize = 4;

/// A run for people, at most as wide as the paper.
pub(crate) fn run_text(run: &Run, paper: Paper) -> String {
    let parts = [
        head(run),
        yields(run, paper),
        lots_text::lots(run, paper),
        bench_times(run, paper),
        failures(run),
        places(run, paper),
        spreads_text::spreads(run, paper),
        strip_plot_text::charts(run, paper),
        margins::notes(run).iter().map(|note| paragraph(note, 0, 2)).collect(),
        closing(run),
    ];
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("\n")
}

fn head(run: &Run) -> String {
    let trials = run.summary.trials;
    let mut text = String::new();
    match run.ending {
        Ending::Stopped { planned } => {
            let partial =
                format!("PARTIAL: stopped after {trials} of {planned} units, so every interval is wider.");
            text.push_str(&paragraph(&partial, 0, 0));
        }
        Ending::TooWide => {
            let wide = format!(
                "All {trials} units allowed are built; the yield interval is wider than the study asks for."
            );
            text.push_str(&paragraph(&wide, 0, 0));
        }
        Ending::AsAsked => {}
    }
    text.push_str(&paragraph(&plain(&run.model.title), 0, 0));
    let built = format!(
        "{} built from seed {} in {}, each calibrated by {}.",
        counted(trials, "unit"),
        run.model.seed,
        duration(run.seconds),
        counted(run.summary.calibrations.len() as u64, "plan")
    );
    text + &paragraph(&built, 0, 0) + &lots_text::note(run.model, trials)
}

fn yields(run: &Run, paper: Paper) -> String {
    let plans = &run.summary.calibrations;
    let takes_time = plans.iter().any(|plan| plan.bench_seconds.mean > 0.0);
    if plans.iter().all(|plan| plan.yield_.is_none()) {
        return paragraph("Yield: none, as the study has no limits.", 0, 0);
    }
    let confidence = confidence(run.model.confidence);
    let heading = "Yield: the share of units that meet every limit\n\n";
    let mut header = vec![
        words("plan"),
        numbers("yield"),
        numbers(format!("{confidence} interval")),
        numbers("units that pass"),
    ];
    if takes_time {
        header.push(numbers("bench time"));
    }
    let mut grid = Grid::new(&header).on(paper);
    for plan in plans {
        let Some(of) = &plan.yield_ else { continue };
        let (value, interval) = percent(of);
        let mut row = vec![plan.name.clone(), value, interval, passed(of).to_string()];
        if takes_time {
            row.push(bench_time(plan));
        }
        grid.row(row);
    }
    format!("{heading}{}", grid.text())
}

/// The parts of the bench time, where it is stated.
fn bench_times(run: &Run, paper: Paper) -> String {
    let takes_time = |plan: &&CalibrationSummary| plan.bench_seconds.mean > 0.0;
    let timed: Vec<&CalibrationSummary> = run.summary.calibrations.iter().filter(takes_time).collect();
    if timed.is_empty() {
        return String::new();
    }
    let mut header = vec![words("plan")];
    header.extend(["set-up", "moving cables", "setting", "reading"].map(numbers));
    let mut grid = Grid::new(&header).on(paper);
    for plan in timed {
        let parts = plan.split_seconds.iter().map(|seconds| match seconds.mean {
            0.0 => ABSENT.to_owned(),
            mean => duration(mean),
        });
        grid.row(std::iter::once(plan.name.clone()).chain(parts));
    }
    format!("Where the bench time of a unit goes\n\n{}", grid.text())
}

fn bench_time(plan: &CalibrationSummary) -> String {
    if plan.bench_seconds.mean > 0.0 { duration(plan.bench_seconds.mean) } else { ABSENT.to_owned() }
}

fn failures(run: &Run) -> String {
    let trials = run.summary.trials;
    let mut text = String::new();
    for plan in &run.summary.calibrations {
        let failing = trials - plan.yield_.as_ref().map_or(trials, passed);
        if failing == 0 {
            continue;
        }
        text.push('\n');
        text.push_str(&paragraph(
            &format!(
                "{}: {} {}",
                plan.name,
                counted(failing, "unit"),
                if failing == 1 { "fails" } else { "fail" }
            ),
            2,
            2,
        ));
        text.push_str(&ranked(run, plan));
        for (failure, count) in Failure::ALL.iter().zip(plan.failed).filter(|(_, count)| *count > 0) {
            let line = format!(
                "{} of units fail whatever their figures are: {}",
                share(count, trials),
                failure.reason()
            );
            text.push_str(&paragraph(&line, 4, 6));
        }
    }
    let is_alike =
        |plan: &CalibrationSummary| plan.misses.iter().take(MOST_LIMITS).any(|of| of.limits.len() > 1);
    let alike = match run.summary.calibrations.iter().any(is_alike) {
        true => "; alike: missed by the very same units",
        false => "",
    };
    if text.is_empty() { text } else { format!("What fails, by how many units miss a limit{alike}\n{text}") }
}

/// The limits of a plan at each beam by how many units miss them.
fn ranked(run: &Run, plan: &CalibrationSummary) -> String {
    let mut text = String::new();
    for of in plan.families.iter().take(MOST_LIMITS) {
        let line = format!("{}: {}", misses::missed(run.model, plan, of), misses::shares(of));
        text.push_str(&paragraph(&line, 4, 6));
    }
    let rest = plan.families.iter().skip(MOST_LIMITS);
    if let Some(most) = rest.clone().next() {
        let count = counted(rest.count() as u64, "other");
        let line = format!("{count}: {} of units miss the worst of them", with_interval(&most.missed));
        text.push_str(&paragraph(&line, 4, 6));
    }
    text
}

/// Of the plans with a failing unit, the best: its remaining misses matter most.
fn failing<'a>(run: &Run<'a>) -> Option<&'a CalibrationSummary> {
    let share = |plan: &CalibrationSummary| plan.yield_.as_ref().map_or(0.0, |of| of.value);
    let fails = |plan: &&CalibrationSummary| plan.yield_.as_ref().is_some_and(|of| passed(of) < of.count);
    run.summary.calibrations.iter().filter(fails).max_by(|a, b| share(a).total_cmp(&share(b)))
}

/// Where that plan fails.
fn places(run: &Run, paper: Paper) -> String {
    let found = failing(run).and_then(|of| Some((of, misses::places(run.model, of, MOST_PLACES)?)));
    let Some((of, places)) = found else { return String::new() };
    let mut grid = Grid::new(&places.header).on(paper);
    places.rows.into_iter().for_each(|row| grid.row(row));
    let heading = format!("Yield at each place alone, after {}", quoted(&of.name));
    let note = places.note.map_or(String::new(), |note: String| format!("\n{}", paragraph(&note, 2, 2)));
    format!("{}\n{}{note}", paragraph(&heading, 0, 0), grid.text())
}

fn closing(run: &Run) -> String {
    let said = "These numbers are predicted from the study's tolerances; nothing here was measured.";
    let mut text = paragraph(said, 0, 0);
    // Of the plans with a failing unit, the best: its remaining misses matter most.
    let plans = run.summary.calibrations.iter().zip(run.failing_unit);
    let failing = plans.filter_map(|(plan, command)| Some((plan, command.as_ref()?)));
    let share = |plan: &CalibrationSummary| plan.yield_.as_ref().map_or(0.0, |of| of.value);
    if let Some((plan, command)) = failing.max_by(|a, b| share(a.0).total_cmp(&share(b.0))) {
        let first = format!("The first unit that fails after \"{}\", reading by reading:", plan.name);
        text.push_str(&paragraph(&first, 0, 0));
        text.push_str(&format!("  {command}\n"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;

    #[test]
    fn the_yield_comes_first_and_plans_are_side_by_side() {
        let model = sample::model();
        let summary = sample::summary(&model);
        let text = run_text(&sample::run(&model, &summary), Paper::FILE);
        // 0.025^(1/1000) = 0.99632; clopper_pearson(900, 1000, 0.95) is 0.879712 to 0.917895 (stats::binomial).
        let yields = "\
Yield: the share of units that meet every limit

  plan             yield    95 % interval  units that pass  bench time
  none            90.0 %   87.9 to 91.8 %              900           -
  +fit   at least 99.6 %   99.6 to 100.0 %             1000     2.5 min
";
        assert_eq!(
            squeezed(&text).find(&squeezed(yields)),
            Some(squeezed(&head_of(&text)).len() + 1),
            "{text}"
        );
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    }

    /// Words only, whatever the widths of the tables.
    fn squeezed(text: &str) -> String {
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    fn head_of(text: &str) -> String {
        text.lines().take_while(|line| !line.is_empty()).collect::<Vec<_>>().join("\n")
    }

    #[test]
    fn failures_are_worded_and_ranked() {
        let model = sample::model();
        let summary = sample::summary(&model);
        let text = squeezed(&run_text(&sample::run(&model, &summary), Paper::FILE));
        // 70 of 1000 is 0.054972 to 0.087616, 30 of 1000 is 0.020330 to 0.042551: binomial sums in exact decimals, by bisection.
        let side_lobe = "peak side lobe above -11 dB at beam ahead, 10 GHz: 7.0 % (5.4 to 8.8 %) of units miss it, 4.0 % miss nothing else";
        let pointing = "pointing error beyond 0.5 deg at beam ahead, 10 GHz: 3.0 % (2.0 to 4.3 %) of units miss it, \
                        3.0 % miss nothing else";
        assert!(text.contains(&format!("none: 100 units fail {side_lobe} {pointing}")), "{text}");
        assert!(!text.contains("+fit: "), "a plan without failing units has nothing to rank");
    }

    #[test]
    fn a_partial_run_says_so_first() {
        let model = sample::model();
        let summary = sample::summary(&model);
        let mut run = sample::run(&model, &summary);
        assert!(!run_text(&run, Paper::FILE).contains("PARTIAL"));
        run.ending = Ending::Stopped { planned: 4000 };
        assert!(run_text(&run, Paper::FILE).starts_with("PARTIAL: stopped after 1000 of 4000 units"));
    }

    #[test]
    fn the_reader_is_led_to_a_failing_unit_of_the_best_plan_that_has_one() {
        let model = sample::model();
        let summary = sample::summary(&model);
        let mut run = sample::run(&model, &summary);
        let commands = [Some("show 3".to_owned()), Some("show 9".to_owned())];
        run.failing_unit = &commands;
        assert!(run_text(&run, Paper::FILE).ends_with("  show 9\n"));
        run.failing_unit = &[None, None];
        assert!(run_text(&run, Paper::FILE).ends_with("nothing here was\nmeasured.\n"));
    }

    #[test]
    fn without_limits_there_is_no_yield() {
        let model = sample::model();
        let mut summary = sample::summary(&model);
        for of in &mut summary.calibrations {
            of.yield_ = None;
            of.limits.clear();
            of.misses.clear();
            of.places.clear();
        }
        let text = run_text(&sample::run(&model, &summary), Paper::FILE);
        assert!(text.contains("no limits") && !text.contains("What fails"), "{text}");
    }
}
