//! Bench time in the reports of the program.

use crate::line::line;
use crate::program::Folder;
use beamyield::Study;
use std::path::Path;

/// 16 elements, fitted with exchanged arms: 60 cables, 240 codes and readings take 5 + 40 + 0.8 min, and the sheet has the reference back in
/// its arm for each pair.
#[test]
fn the_sheet_of_a_star_with_exchanged_arms_moves_its_reference_back() {
    let bench = format!("reconnection = {{ phase = {{ normal = {{ sd = \"2 deg\" }} }} }}\n{CLOCK}");
    let plan = "align = { method = \"fit\", codes = 8, swap_arms = true }\noffsets = \"phases\"";
    let folder = Folder::with(line([10, 16, 12], "", "", &bench, plan));
    folder.done(&["run", "study.toml", "--quiet", "--json", "run.json"]);
    let minutes =
        folder.json("run.json")["calibrations"][0]["bench_minutes"]["mean"].as_f64().expect("minutes");
    assert!((minutes - 45.8).abs() < 1e-9, "{minutes}");
    folder.done(&["sheet", "study.toml", "--csv", "sheet.csv"]);
    let sheet = folder.read("sheet.csv");
    for channel in 1..16 {
        for arms in [["reference", "stepped"], ["stepped", "reference"]] {
            let joins =
                format!("\"channel 0 to the {} arm, channel {channel} to the {} arm\"", arms[0], arms[1]);
            assert_eq!(sheet.matches(&joins).count(), 1, "{joins}\n{sheet}");
        }
    }
}

const CLOCK: &str =
    "time = { set_up = \"5 min\", reconnection = \"40 s\", setting = \"0.1 s\", reading = \"0.1 s\" }";

const TIME: &str =
    "time = { set_up = \"7 min\", reconnection = \"40 s\", setting = \"0.3 s\", reading = \"0.2 s\" }";

/// Minutes of set-up, reconnection, setting, reading, and all, in the JSON of a run.
fn minutes(calibration: &str) -> [f64; 5] {
    let steps = "[[block]]\nname = \"steps\"\nkind = \"attenuator\"\nbits = 5\nstep = \"0.5 dB\"\n";
    let bench = format!("receiver = {{ averages = 3 }}\n{TIME}");
    let folder = Folder::with(line([1, 8, 5], "", steps, &bench, calibration));
    folder.done(&["run", "study.toml", "--quiet", "--json", "run.json"]);
    let of = &folder.json("run.json")["calibrations"][0]["bench_minutes"];
    ["set_up", "reconnection", "setting", "reading", "mean"]
        .map(|kind| of[kind].as_f64().unwrap_or_else(|| panic!("{kind} in {of}")))
}

#[test]
fn minutes_are_counts_times_the_clock() {
    // A star joins N - 1 pairs: 2 cables for the first, then 1, that is N; a chain and all pairs 2 each; exchanged arms 2 more each, and
    // in a star the reference's cable back for each next pair.
    // Levelling reads every channel alone: a cable, a setting and a reading each.
    let pairs = 8.0 * 7.0 / 2.0;
    let expected = |cables: f64, readings: f64| {
        let split = [7.0, cables * 40.0 / 60.0, readings * 0.3 / 60.0, 3.0 * readings * 0.2 / 60.0];
        [split[0], split[1], split[2], split[3], split.iter().sum()]
    };
    let align = |pairing: &str, swap: bool| {
        format!("align = {{ method = \"fit\", codes = 8, pairing = \"{pairing}\", swap_arms = {swap} }}")
    };
    let star = align("star", false);
    for (calibration, cables, readings) in [
        (star.clone(), 8.0, 7.0 * 8.0),
        (align("star", true), 4.0 * 7.0, 2.0 * 7.0 * 8.0),
        (align("chain", false), 14.0, 7.0 * 8.0),
        (align("chain", true), 28.0, 2.0 * 7.0 * 8.0),
        (align("all_pairs", false), 2.0 * pairs, pairs * 8.0),
        (align("all_pairs", true), 4.0 * pairs, 2.0 * pairs * 8.0),
        (format!("level = {{ toward = \"weakest\" }}\n{star}"), 16.0, 8.0 + 56.0),
        (
            format!("level = {{ toward = \"weakest\" }}\n{star}\npasses = 3\nrelevel = true"),
            4.0 * 8.0 + 3.0 * 8.0,
            4.0 * 8.0 + 3.0 * 56.0,
        ),
        // A level read after the last phases but no further pass.
        ("align = { method = \"peak\" }".into(), 8.0, 7.0 * 32.0),
        ("align = { method = \"coarse_fine\", codes = 8 }".into(), 8.0, 7.0 * (8.0 + 2.0 * 3.0)),
        // 32 states of 8 channels against 4 codes of the reference, then phased; the reference itself is held against its neighbour, so that two
        // joints move both cables.
        (
            format!("characterise = {{ shifter = true }}\noffsets = \"phases\"\n{star}"),
            10.0 + 8.0,
            8.0 * 32.0 * 4.0 + 56.0,
        ),
        (
            format!("characterise = {{ attenuator = true }}\nlevel = {{ toward = \"weakest\" }}\n{star}"),
            16.0,
            8.0 * 32.0 + 56.0,
        ),
        // Over the air no cable is moved.
        ("align = { method = \"rotating_element\", codes = 4 }".into(), 0.0, 8.0 * 4.0),
        ("align = { method = \"coded_toggling\" }".into(), 0.0, 16.0),
        ("align = { method = \"coded_toggling\" }\neach_beam = true\npasses = 2".into(), 0.0, 32.0),
        (format!("{star}\nfrequencies = [\"27 GHz\", \"28 GHz\", \"29 GHz\"]"), 24.0, 3.0 * 56.0),
    ] {
        let found = minutes(&calibration);
        let expected = expected(cables, readings);
        for (found, expected) in found.iter().zip(expected) {
            assert!((found - expected).abs() < 1e-9, "{calibration}: {found} {expected}");
        }
    }
    assert_ne!(minutes(&align("star", false)), minutes(&align("chain", false)));
}

#[test]
fn the_sheet_takes_as_long_as_unit_0() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let studies = [
        "tests/data/small.toml",
        "tests/data/everything.toml",
        "tests/data/bench.toml",
        "tests/data/states.toml",
        "studies/tile-8x8.toml",
    ];
    let mut plans = 0;
    for study in studies {
        let path = root.join(study);
        let path = path.to_str().expect("a path in UTF-8");
        let folder = Folder::with("");
        folder.done(&["sheet", path, "--csv", "sheet.csv"]);
        folder.done(&["unit", path, "0", "--json", "unit.json"]);
        let sheet = folder.read("sheet.csv");
        let mut reader = csv::Reader::from_reader(sheet.as_bytes());
        let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
        for of in folder.json("unit.json")["calibrations"].as_array().expect("plans") {
            let name = of["name"].as_str().expect("a name");
            let minutes = of["bench_minutes"].as_f64().expect("minutes");
            let last = rows.iter().rfind(|row| &row[0] == name);
            let elapsed: f64 = last.map_or(0.0, |row| row[9].parse().expect("minutes"));
            assert!(
                (elapsed - minutes).abs() < 1e-9 * (1.0 + minutes),
                "{study}, {name}: {elapsed} {minutes}"
            );
            let sum: f64 = rows
                .iter()
                .filter(|row| &row[0] == name)
                .map(|row| row[8].parse::<f64>().expect("minutes"))
                .sum();
            assert!((sum - minutes).abs() < 1e-9 * (1.0 + minutes), "{study}, {name}");
            plans += usize::from(minutes > 0.0);
        }
    }
    assert!(plans > 15, "{plans}");
    // The climb of another unit takes another time, so the check can fail.
    let everything = root.join("tests/data/everything.toml");
    let study = Study::from_file(everything).expect("a study");
    let seconds = |number| study.unit(number).plans.iter().map(|of| of.bench_seconds).collect::<Vec<f64>>();
    assert_ne!(seconds(0), seconds(1));
}

/// Ten of 32 codes, 32 i/10 rounded: the readings are those of the sheet, and the sheet lists every code.
#[test]
fn codes_that_do_not_divide_the_states_are_read_and_written_down() {
    let study = crate::program::edited(crate::program::SMALL, &[("codes = 8", "codes = 10")]);
    let folder = Folder::with(study);
    folder.done(&["unit", "study.toml", "0", "--calibration", "fit", "--json", "unit.json"]);
    folder.done(&["sheet", "study.toml", "--calibration", "fit", "--csv", "sheet.csv"]);
    let unit = folder.json("unit.json");
    let readings = unit["calibrations"][0]["readings"].as_array().expect("readings");
    let pair: Vec<u64> = readings
        .iter()
        .filter(|of| of.get("reference").is_some() && of["channel"] == 1)
        .map(|of| of["code"].as_u64().expect("a code"))
        .collect();
    assert_eq!(pair, [0, 3, 6, 10, 13, 16, 19, 22, 26, 29]);
    assert!(folder.read("sheet.csv").contains("0, 3, 6, 10, 13, 16, 19, 22, 26, 29"));
}
