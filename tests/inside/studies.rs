//! Each study that ships teaches the lesson of its head comment.

use crate::inside::support;
use beamyield::engine::{CalibrationSummary, Summary};
use beamyield::figure::Figure;
use beamyield::inspection;
use beamyield::io::{SourceText, render};
use beamyield::model::{self, Model, warnings};
use beamyield::study;

fn of<'s>(summary: &'s Summary, name: &str) -> &'s CalibrationSummary {
    summary.calibrations.iter().find(|model| model.name == name).expect("a plan of the study")
}

fn share(summary: &Summary, name: &str) -> (f64, f64, f64) {
    let estimate = of(summary, name).yield_.clone().expect("the study has limits");
    (estimate.low, estimate.value, estimate.high)
}

/// The text of a study that ships, its trials fewer and some texts replaced by others.
fn edited(name: &str, trials: u32, edits: &[(&str, &str)]) -> String {
    let path = format!("{}/studies/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let mut text = std::fs::read_to_string(path).expect("a study that ships");
    let stated =
        text.lines().find(|line| line.starts_with("trials = ")).expect("a number of trials").to_owned();
    for (from, to) in edits.iter().chain(&[(stated.as_str(), format!("trials = {trials}").as_str())]) {
        assert!(text.contains(from), "{name} has no `{from}`");
        text = text.replace(from, to);
    }
    text
}

/// Such a study compiled, with its companion files, and the warnings of `check`.
fn compiled(name: &str, trials: u32, edits: &[(&str, &str)]) -> (Model, usize) {
    let text = edited(name, trials, edits);
    let path = format!("{}/studies/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let source = SourceText { name: path.into(), text };
    let study =
        study::parse(&source).unwrap_or_else(|findings| panic!("{}", render(&source, &findings, false)));
    let model = model::compile(&study, &source.text);
    let count = warnings(&study, &model).len();
    (model, count)
}

fn run(name: &str, trials: u32, edits: &[(&str, &str)]) -> Summary {
    support::run(&compiled(name, trials, edits).0)
}

/// Share of the units that fail after a calibration plan.
fn failing(summary: &Summary, model: &str) -> f64 {
    1.0 - share(summary, model).1
}

/// Mean bench minutes of a calibration plan.
fn minutes(summary: &Summary, model: &str) -> f64 {
    of(summary, model).bench_seconds.mean / 60.0
}

/// Studies whose heads announce no warning give none.
#[test]
fn nothing_is_warned_of() {
    for name in [
        "avalanche-ridge-12",
        "bench-minutes",
        "bird-radar-ring-20",
        "cable-limit",
        "gravel-belt-16",
        "hare-watch-10",
        "livestock-gate-12",
        "lock-gate-20",
        "salt-pan-12",
    ] {
        assert_eq!(compiled(name, 10_000, &[]).1, 0, "{name}");
    }
}

#[test]
fn quay_link() {
    let text = include_str!("../../studies/quay-link-16.toml").replace("trials = 20000", "trials = 4000");
    let summary = support::run(&support::model(&text));
    assert!(share(&summary, "none").2 < 0.25, "few units pass as built");
    assert!(share(&summary, "level and peak").2 < 0.75, "the peak is too flat");
    for good in ["level and null", "level and fit"] {
        assert!(share(&summary, good).0 > 0.87, "{good} phases nine units in ten");
    }
    // The remaining failures have the jumper as their cause.
    let without =
        text.replace("triangular = { half_width = \"0.25 mm\" }", "triangular = { half_width = \"0 mm\" }");
    assert_ne!(without, text);
    let ideal = support::run(&support::model(&without));
    for good in ["level and null", "level and fit"] {
        let (lost, still) = (1.0 - share(&summary, good).1, 1.0 - share(&ideal, good).1);
        assert!(still < 0.4 * lost, "{good}: {still} of {lost} without the jumper's spread");
    }
}

#[test]
fn tile() {
    let text = include_str!("../../studies/tile-8x8.toml").replace("trials = 4000", "trials = 1000");
    let model = support::model(&text);
    let summary = support::run(&model);
    // Errors shared by a chip do not average out: as built, the beam points worse than the formula for independent errors.
    let broadside = of(&summary, "none").figures.iter().find(|figure| {
        let column = model.columns[figure.column];
        column.figure == Figure::PointingError && column.point == 0
    });
    let pointing = broadside.expect("a pointing error");
    let predicted = pointing.predicted_mean.expect("the beam is centred");
    let bound = 4.0 * pointing.moments.standard_error();
    assert!(pointing.moments.mean > 1.2 * predicted + bound, "{} against {predicted}", pointing.moments.mean);
    // The null is set by the errors: the error-free one is far deeper than what units reach.
    let null = of(&summary, "level and fit").figures.iter().find(|figure| {
        let column = model.columns[figure.column];
        column.figure == Figure::NullDepth && column.point == 0
    });
    let error_free = model.points[0].error_free_value(Figure::NullDepth).expect("a null");
    assert!(null.expect("a null depth").moments.mean > error_free + 10.0);
}

#[test]
fn line() {
    let text = include_str!("../../studies/line-64.toml").replace("trials = 20000", "trials = 2000");
    let model = support::model(&text);
    let summary = support::run(&model);
    let phase = |name| support::moments(&model, &summary, name, Figure::ResidualPhaseRms, 0).mean;
    assert!(phase("fit") < 3.0, "a fit leaves the rounding");
    assert!(
        phase("peak") > 2.0 * phase("fit") && phase("climb") > phase("peak"),
        "a flat top leaves degrees"
    );
}

#[test]
fn avalanche_ridge() {
    let name = "avalanche-ridge-12";
    let summary = run(name, 1500, &[]);
    let (quick, thorough) = (failing(&summary, "quick"), failing(&summary, "thorough"));
    assert!(share(&summary, "none").2 < 0.2 && share(&summary, "quick").0 > 0.65);
    // The units are the same, so their difference is known far better than either share.
    assert!(thorough > 0.2 && quick - thorough < 0.02, "{quick} and {thorough} fail");
    let (short, long) = (minutes(&summary, "quick"), minutes(&summary, "thorough"));
    assert!(long > 5.0 * short, "{short} and {long} min");
    // A tighter cable, or a test port behind it, does what the bench cannot.
    let cut = &[
        ("first = { normal = { sd = \"0.25 mm\" } }", "first = { normal = { sd = \"0.1 mm\" } }"),
        (
            "second = { offset = \"0.4 mm\", normal = { sd = \"0.35 mm\" } }",
            "second = { normal = { sd = \"0.1 mm\" } }",
        ),
    ];
    let port = ("after = \"attenuator\"", "after = \"mast cable\"");
    let (cut, seen) = (run(name, 1500, cut), run(name, 1500, &[port]));
    for better in [&cut, &seen] {
        let still = failing(better, "quick");
        assert!(still < 0.45 * quick, "{still} of {quick} fail");
    }
    // Half of the remaining failures have the cold as their cause.
    let warm = ("[\"-30 degC\", \"0 degC\", \"25 degC\"]", "[\"23 degC\"]");
    let (cold, warm) = (failing(&seen, "quick"), failing(&run(name, 1500, &[port, warm]), "quick"));
    assert!(warm < 0.7 * cold, "{warm} of {cold} fail without the cold");
}

#[test]
fn bird_radar() {
    let name = "bird-radar-ring-20";
    let summary = run(name, 1500, &[]);
    let (fails, slowly) = (failing(&summary, "middle"), failing(&summary, "middle slowly"));
    assert!(share(&summary, "middle").2 < 0.65 && (fails - slowly).abs() < 0.03, "{fails} and {slowly} fail");
    assert!(share(&summary, "band").0 > 0.98);
    let times = minutes(&summary, "band") / minutes(&summary, "middle");
    assert!((2.0..3.0).contains(&times), "{times} times as long");
    // Nothing is wrong at the middle of the band, nor with cables cut to length.
    let middle =
        ("frequencies = [\"9.2 GHz\", \"9.5 GHz\", \"9.8 GHz\"]\nfig", "frequencies = [\"9.5 GHz\"]\nfig");
    let cut = ("half_width = \"25 mm\"", "half_width = \"1 mm\"");
    for edit in [middle, cut] {
        let good = share(&run(name, 1500, &[edit]), "middle").0;
        assert!(good > 0.98, "{good} pass with {}", edit.1);
    }
}

#[test]
fn livestock_gate() {
    let name = "livestock-gate-12";
    let summary = run(name, 2000, &[]);
    assert!(share(&summary, "chain").2 < share(&summary, "none").0, "a chain does harm");
    let exchanged = share(&summary, "chain exchanged");
    assert!(exchanged.0 > 0.93 && exchanged.2 < share(&summary, "star").0);
    for good in ["star", "all pairs"] {
        assert!(share(&summary, good).0 > 0.985, "{good}");
    }
    let [star, chain, exchanged, all] =
        ["star", "chain", "chain exchanged", "all pairs"].map(|model| minutes(&summary, model));
    assert!((1.4..1.7).contains(&(exchanged / chain)) && all > 120.0 && star < chain);
    // A coupler that is known makes the chain as good as its exchanged arms do; plugs that repeat do not.
    let known = ("normal = { sd = \"1.5 deg\" }", "normal = { sd = \"0.1 deg\" }");
    let plugs =
        ("phase = { normal = { sd = \"0.8 deg\" } } }", "phase = { normal = { sd = \"0.1 deg\" } } }");
    let (known, plugs) = (run(name, 2000, &[known]), run(name, 2000, &[plugs]));
    assert!(share(&known, "chain").0 > 0.9);
    assert!(share(&plugs, "chain").2 < 0.65 && share(&plugs, "chain exchanged").0 > 0.97);
}

#[test]
fn lock_gate() {
    let name = "lock-gate-20";
    let (model, _) = compiled(name, 2000, &[]);
    let summary = support::run(&model);
    assert!(share(&summary, "cable").2 < 0.01, "a cable sees nothing behind its port");
    assert!(share(&summary, "rotating").2 < share(&summary, "rotating twice").0);
    assert!(share(&summary, "toggling").0 > share(&summary, "rotating").2);
    // As well as two passes: within 0.04, four standard errors of the difference were the units not the same.
    let apart = share(&summary, "toggling").1 - share(&summary, "rotating twice").1;
    assert!(apart.abs() < 0.04, "{apart}");
    assert!(minutes(&summary, "toggling") < 0.3 * minutes(&summary, "rotating twice"));
    assert!(share(&summary, "toggling").2 < 0.93 && share(&summary, "each beam").0 > 0.98);
    // The first pass leaves a tail of units far off, which come with a field near nothing.
    let loss = |summary: &Summary, model: &Model, of| {
        support::moments(model, summary, of, Figure::ArrayGainLoss, 0).mean
    };
    let (once, twice) = (loss(&summary, &model, "rotating"), loss(&summary, &model, "rotating twice"));
    assert!(once > 1.5 * twice, "{once} and {twice} dB");
    let (model, _) = compiled(name, 2000, &[("half_width = \"180 deg\"", "half_width = \"20 deg\"")]);
    let tame = loss(&support::run(&model), &model, "rotating");
    assert!(tame < 0.7 * once, "{tame} of {once} dB where fields add up as they come");
    // Exact parts behind the port make the cable of use again.
    let exact = run(
        name,
        1000,
        &[
            ("normal = { sd = \"0.3 mm\" }", "normal = { sd = \"0.01 mm\" }"),
            ("phase = { normal = { sd = \"6 deg\" } }", "phase = { normal = { sd = \"0.5 deg\" } }"),
        ],
    );
    assert!(share(&exact, "cable").0 > 0.3);
    let one_table = run(name, 1000, &[("each_beam = true", "each_beam = false")]);
    assert!(share(&one_table, "each beam").2 < 0.93, "two passes alone do not take the states out");
}

#[test]
fn gravel_belt() {
    let name = "gravel-belt-16";
    let summary = run(name, 1500, &[]);
    let [fit, levels, states] =
        ["fit", "measured levels", "measured states"].map(|model| failing(&summary, model));
    assert!(share(&summary, "fit").2 < 0.65 && share(&summary, "measured states").0 > 0.88);
    assert!(states < 0.3 * fit, "{states} of {fit} fail");
    assert!(levels > 0.75 * fit, "{levels} of {fit} fail: levels alone do little");
    let [short, long] = ["fit", "measured states"].map(|model| minutes(&summary, model));
    assert!((10.0..14.0).contains(&(long - short)), "{short} and {long} min");
    // Bits four times as good leave nothing to win.
    let good = run(
        name,
        1000,
        &[(
            "bit_phase_error = { normal = { sd = \"6 deg\" } }",
            "bit_phase_error = { normal = { sd = \"1.5 deg\" } }",
        )],
    );
    assert!(share(&good, "fit").0 > 0.97);
}

#[test]
fn cable_limit() {
    let name = "cable-limit";
    let fit = |sd: &str| {
        let edit = format!("normal = {{ sd = \"{sd}\" }}, scope");
        share(&run(name, 4000, &[("normal = { sd = \"0.25 mm\" }, scope", &edit)]), "fit")
    };
    let summary = run(name, 4000, &[]);
    let offered = share(&summary, "fit");
    assert!(share(&summary, "none").2 < 0.15 && (0.89..0.92).contains(&offered.1), "{offered:?}");
    // All but nothing of what fails is the jumper's, and 19 in 20 take one that is tighter by a sixth or so.
    assert!(fit("0 mm").0 > 0.995);
    let (tighter, tight) = (fit("0.225 mm"), fit("0.19 mm"));
    assert!(tighter.2 < 0.95 && tight.0 > 0.95, "{tighter:?} and {tight:?}");
    // No bench minutes answer it.
    let longer = [("codes = 16", "codes = 64"), ("averages = 4", "averages = 16")];
    let longer = run(name, 4000, &longer);
    assert!(minutes(&longer, "fit") > minutes(&summary, "fit") + 2.0);
    // The units are the same, so their difference has a far narrower interval than either share.
    assert!((share(&longer, "fit").1 - offered.1).abs() < 0.01);
}

#[test]
fn bench_minutes() {
    let name = "bench-minutes";
    let summary = run(name, 2000, &[]);
    let plans = ["level only", "climb", "quick", "arms exchanged", "thorough"];
    let [level, climb, quick, exchanged, thorough] = plans.map(|model| minutes(&summary, model));
    assert!(minutes(&summary, "none") == 0.0 && level < climb && climb < quick && quick < climb + 1.0);
    assert!((18.0..20.0).contains(&(exchanged - quick)) && (4.0..6.0).contains(&(thorough - exchanged)));
    assert!(share(&summary, "none").2 < 0.06 && share(&summary, "level only").2 < 0.12);
    let climb = share(&summary, "climb");
    assert!(climb.0 > 0.3 && climb.2 < 0.42, "{climb:?}");
    let [quick, exchanged, thorough] =
        ["quick", "arms exchanged", "thorough"].map(|model| failing(&summary, model));
    assert!((0.08..0.14).contains(&quick), "{quick} fail");
    // On the same units: within one in a hundred, which is the random difference between shares of other units.
    assert!((quick - exchanged).abs() < 0.01, "{quick} and {exchanged} fail");
    assert!(thorough < 0.45 * quick, "{thorough} of {quick} fail");
    let good = (
        "bit_phase_error = { normal = { sd = \"3 deg\" } }",
        "bit_phase_error = { normal = { sd = \"0.75 deg\" } }",
    );
    let good = run(name, 2000, &[good]);
    assert!(failing(&good, "quick") - failing(&good, "thorough") < 0.01);
}

#[test]
fn hare_watch() {
    let with = |accept: &str| {
        run("hare-watch-10", 3000, &[("accept = \"1.2 dB\"", accept), ("tolerance = \"1.5 dB\"", "")])
    };
    let failing = |accept: &str| failing(&with(accept), "phases");
    // As they are delivered, at the wider limit, at the study's.
    let [none, wide, tight] = ["", "accept = \"1.4 dB\"", "accept = \"1.2 dB\""].map(failing);
    assert!(none > 0.06 && wide < 0.02 && tight < 0.005, "{none}, {wide} and {tight} fail");
    let turned_away = |accept: &str| {
        let (model, _) = compiled("hare-watch-10", 1, &[("accept = \"1.2 dB\"", accept)]);
        let driver =
            model.sources.list().iter().find(|source| source.name == "driver.gain").expect("the driver");
        let inspected = driver.inspected.as_ref().expect("an inspection");
        1.0 - inspection::lots(inspected, 1).expect("a sample").taken
    };
    let (wide, tight) = (turned_away("accept = \"1.4 dB\""), turned_away("accept = \"1.2 dB\""));
    assert!((0.18..0.25).contains(&wide) && (0.3..0.37).contains(&tight), "{wide} and {tight} of the lots");
}
