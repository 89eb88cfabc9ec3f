//! `sweep`: each point gives the results of a run of that point.

use crate::program::{Folder, SMALL, nulls};
use beamyield::Study;
use serde_json::Value;

fn f64_of(of: &Value) -> f64 {
    of.as_f64().expect("a number")
}

/// A1.2, dB: -20 log10 sinc(1/2^B). TU Berlin, MIMO lecture book, 20.5, loss table (published). The row is for many elements:
/// of 4096, with any insertion phase, each rounded once. The bounds are four standard errors of 1500 such units and what
/// so few elements leave, (1 - eta)/(N eta).
#[test]
fn the_loss_of_one_to_five_bits_comes_out_of_one_command() {
    let study = r#"
title = "Rounding"
seed = 11
trials = 1500
frequencies = ["28 GHz"]
figures = ["eirp_change"]
array = { layout = { kind = "linear", count = 4096, spacing = "0.5 wavelength" } }
beam = [{ name = "ahead", theta = "0 deg" }]
block = [
    { name = "amplifier", kind = "amplifier", gain = "0 dB", phase = { uniform = { half_width = "180 deg" } } },
    { name = "shifter", kind = "phase_shifter", bits = 6 },
]
calibration = [{ name = "peak", align = { method = "peak" }, offsets = "phases" }]
"#;
    let folder = Folder::with(study);
    folder.done(&["sweep", "study.toml", "--vary", "shifter.bits=1..5", "--quiet", "--json", "sweep.json"]);
    let document = folder.json("sweep.json");
    let losses: Vec<f64> = document["points"]
        .as_array()
        .expect("points")
        .iter()
        .map(|point| -f64_of(&point["calibrations"][0]["figures"][0]["mean"]))
        .collect();
    let printed =
        [(3.9224, 0.008), (0.9121, 0.0017), (0.2244, 0.0004), (0.05587, 0.0001), (0.01395, 0.00003)];
    assert_eq!(losses.len(), printed.len());
    for (place, (loss, (value, bound))) in losses.iter().zip(printed).enumerate() {
        assert!((loss - value).abs() < bound, "{} bits: {loss}", place + 1);
    }
    // One more bit is significantly better.
    assert!(losses.windows(2).zip(printed).all(|(two, (value, bound))| (two[1] - value).abs() > bound));
}

/// Every point equals the run of the same study with the same values, to the last digit of the JSON, and steps are what the
/// units of two runs differ by.
#[test]
fn a_point_is_a_run() {
    let folder = Folder::with(SMALL);
    let vary = ["--vary", "shifter.bits=4,5", "--vary", "feed.length.sd=0.1 mm..0.5 mm in 3"];
    let sweep =
        [&["sweep", "study.toml", "--quiet", "--json", "sweep.json", "--csv", "sweep.csv"], &vary[..]]
            .concat();
    let text = folder.done(&sweep);
    let document = folder.json("sweep.json");
    assert_eq!(nulls(&document), Vec::<String>::new());
    let points = document["points"].as_array().expect("points");
    assert_eq!(points.len(), 6);
    let mut passed = Vec::new();
    for point in points {
        let of = |key: &str| point["values"][key].as_str().expect("a value").to_owned();
        let (bits, sd) = (
            format!("shifter.bits={}", of("shifter.bits")),
            format!("feed.length.sd={}", of("feed.length.sd")),
        );
        let run = [
            "run",
            "study.toml",
            "--quiet",
            "--json",
            "run.json",
            "--csv",
            "run.csv",
            "--set",
            &bits,
            "--set",
            &sd,
        ];
        folder.done(&run);
        let run = folder.json("run.json");
        assert_eq!(point["calibrations"], run["calibrations"], "{bits}, {sd}");
        assert_eq!(point["study_hash"], run["study_hash"]);
        let rows = folder.read("run.csv");
        let verdicts: Vec<bool> =
            rows.lines().skip(1).map(|row| row.split(',').nth(2) == Some("true")).collect();
        passed.push(verdicts);
    }
    // Rows of the CSV go unit by unit, plan by plan.
    let plans = points[0]["calibrations"].as_array().expect("plans");
    let number = |point: &Value| points.iter().position(|of| of["values"] == *point).expect("a point");
    let steps = document["steps"].as_array().expect("steps");
    assert_eq!(steps.len(), plans.len() * (3 + 4));
    for step in steps {
        let plan = plans.iter().position(|plan| plan["name"] == step["calibration"]).expect("a plan");
        let (from, to) = (&passed[number(&step["from"])], &passed[number(&step["to"])]);
        let of_plan = from.iter().zip(to).skip(plan).step_by(plans.len());
        let gained = of_plan.clone().filter(|(from, to)| **to && !**from).count();
        let lost = of_plan.filter(|(from, to)| **from && !**to).count();
        assert_eq!((&step["gained"], &step["lost"]), (&gained.into(), &lost.into()), "{step}");
        let gain = &step["yield_gain"];
        assert!(
            f64_of(&gain["low"]) <= f64_of(&gain["value"]) && f64_of(&gain["value"]) <= f64_of(&gain["high"])
        );
    }
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    assert!(text.contains("Verdict, at 95 % confidence on the same 130 units"), "{text}");
    let csv = folder.read("sweep.csv");
    let cells = csv.lines().next().expect("a header").split(',').count();
    assert!(csv.lines().all(|row| row.split(',').count() == cells));
    let small = Study::from_text("small.toml", SMALL).expect("a study");
    let columns = small.unit(0).plans[0].figures.len();
    assert_eq!(csv.lines().count(), 1 + 6 * plans.len() * (1 + columns));
}

#[test]
fn threads_do_not_matter_to_a_sweep() {
    let folder = Folder::with(SMALL);
    let csv = |threads: &str| {
        folder.done(&[
            "sweep",
            "study.toml",
            "--vary",
            "receiver.noise=0.01 dB, 0.1 dB, 0.3 dB",
            "--threads",
            threads,
            "--quiet",
            "--csv",
            "-",
        ])
    };
    assert_eq!(csv("1"), csv("3"));
}

#[test]
fn a_sweep_that_cannot_be_made_is_refused_before_it_begins() {
    let folder = Folder::with(SMALL);
    for (vary, expected) in [
        ("shiftr.bits=3..8", "did you mean `shifter`?"),
        ("shifter.bitz=3..8", "did you mean `bits`?"),
        ("feed.length.half_width=1 mm,2 mm", "its distribution is normal"),
        ("shifter.bits=8..3", "runs backwards"),
        ("shifter.bits=3..3", "is one value"),
        ("shifter.bits=2.5,3", "must be a whole number"),
        ("shifter.bits=3..4 by 0.5", "must be a whole number"),
        ("feed.length.sd=0.1 mm..0.5 mm", "how many values"),
        ("feed.length.sd=0.1,0.2", "is expected"),
        ("feed.length.sd=0.1 mm..0.5 deg in 3", "two units"),
        ("feed.length.sd=0.1 mm,,0.2 mm", "empty value"),
        ("shifter.bits", "gives nothing a value"),
        ("shifter.bits=4,4", "appears twice"),
        ("seed=1..2000000", "at most 1000"),
    ] {
        let err = folder.refused(&["sweep", "study.toml", "--vary", vary]);
        assert!(err.contains(expected), "{vary}: {err}");
    }
    let twice = ["sweep", "study.toml", "--vary", "shifter.bits=3,4", "--vary", "shifter.bits=5,6"];
    assert!(folder.refused(&twice).contains("the same parameter"));
    let three = ["a.b=1", "a.c=1", "a.d=1"].map(|of| ["--vary", of]).concat();
    assert!(
        folder.refused(&[&["sweep", "study.toml"], &three[..]].concat()).contains("one or two parameters")
    );
    assert!(folder.refused(&["sweep", "study.toml"]).contains("--vary"));
    let same = ["sweep", "study.toml", "--vary", "shifter.bits=3,4", "--json", "a", "--csv", "a"];
    assert!(folder.refused(&same).contains("both go there"));
}

/// Stops a sweep of 16 points while its last 8, a hundred times as large as its first, are at work.
#[cfg(unix)]
#[test]
fn a_stopped_sweep_keeps_its_finished_points_and_says_which_are_missing() {
    let folder = Folder::with(SMALL);
    let arguments = [
        "sweep",
        "study.toml",
        "--trials",
        "4000",
        "--json",
        "sweep.json",
        "--calibration",
        "fit",
        "--vary",
        "layout.count=8,1024",
        "--vary",
        "receiver.noise=0.01 dB..0.08 dB by 0.01 dB",
    ];
    let ended = folder.stopped(&arguments, |done| done.last() > Some(&(8 * 4000)));
    assert!(ended.err.contains("stopped after 8 of 16 points"), "{}", ended.err);
    let document = folder.json("sweep.json");
    assert_eq!(document["partial"], true);
    let trials = document["points"]
        .as_array()
        .expect("points")
        .iter()
        .map(|of| of["trials"].as_u64().expect("a count"));
    for (point, trials) in trials.enumerate() {
        assert!(if point < 8 { trials == 4000 } else { trials < 4000 }, "{point}: {trials}");
    }
    let out: String = ended.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        out.starts_with(
            "PARTIAL: stopped early. Missing or cut short: layout.count 1024, receiver.noise 0.01 dB;"
        ),
        "{out}"
    );
    assert!(!out.contains("layout.count 8,"), "{out}");
}
