//! Dead channels in the reports of the program.

use crate::line::line;
use crate::program::Folder;

/// What the program says of a unit with more dead channels than are allowed.
const REASON: &str = "more dead channels than allowed";

fn with_dead([trials, count]: [usize; 2], probability: f64, allowed: usize, calibration: &str) -> String {
    let dead = format!("dead_channel = {{ probability = {probability}, allowed = {allowed} }}");
    line([trials, count, 4], &dead, "", "", calibration)
}

#[test]
fn units_sheets_and_checks_say_what_is_done_about_dead_channels() {
    let plan = "align = { method = \"fit\", codes = 4, pairing = \"chain\", reference = 2 }";
    let text = with_dead([20_000, 4], 0.25, 4, plan);
    let folder = Folder::with(&text);
    let words = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    // A unit of which the reference alone is dead.
    let said = (0..400)
        .map(|unit| words(folder.done(&["unit", "study.toml", &unit.to_string(), "--json", "unit.json"])));
    let rule = "Read as dead: 2. Channel 3 takes the place of channel 2 as the reference.";
    assert!(said.into_iter().any(|said| said.contains(rule)));
    let of = folder.json("unit.json")["calibrations"][0].clone();
    assert_eq!((&of["read_as_dead"], &of["reference"]), (&serde_json::json!([2]), &serde_json::json!(3)));
    let sheet = words(folder.done(&["sheet", "study.toml"]));
    for rule in [
        "a channel that reads alone below -30 dB over what it should have is dead",
        "less than 10 dB above that is read once more before its cable is moved",
        "where channel 2 is dead, the next that lives takes its place",
        "the chain joins the living channels on both sides of a dead one",
        "connect channel 3 to the receiver",
    ] {
        assert!(sheet.contains(rule), "{rule}\n{sheet}");
    }
    let checked = words(folder.done(&["check", "study.toml"]));
    assert!(checked.contains("dead channels: those that read alone below -30 dB"), "{checked}");
    // Where none can be dead nothing is said of them, and nothing is read for it.
    let sound = text.replace("probability = 0.25", "probability = 0");
    let folder = Folder::with(sound);
    let sheet = words(folder.done(&["sheet", "study.toml"]));
    assert!(!sheet.contains("dead") && !sheet.contains("to the receiver"), "{sheet}");
    folder.done(&["unit", "study.toml", "0", "--json", "unit.json"]);
    assert!(folder.json("unit.json")["calibrations"][0].get("read_as_dead").is_none());
}

#[test]
fn the_reason_stands_with_every_unit_and_in_the_sum() {
    let text = with_dead([600, 8], 0.03, 0, "align = { method = \"null\" }");
    let folder = Folder::with(text + "[[limit]]\nfigure = \"eirp_change\"\nat_least = \"-90 dB\"\n");
    folder.done(&["run", "study.toml", "--quiet", "--json", "run.json", "--csv", "run.csv"]);
    let table = folder.read("run.csv");
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let headings = reader.headers().expect("headings").clone();
    let place = |name: &str| headings.iter().position(|heading| heading == name).expect("a column");
    let (failure, passed, trial) = (place("failure"), place("passed"), place("trial"));
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    assert_eq!(rows.len(), 600);
    let reason = REASON;
    let dead: Vec<&csv::StringRecord> = rows.iter().filter(|row| &row[failure] == reason).collect();
    assert!(rows.iter().all(|row| (row[failure].is_empty()) == (&row[passed] == "true")));
    let of = &folder.json("run.json")["calibrations"][0];
    assert_eq!(of["failed_for"][reason], dead.len());
    assert_eq!(of["yield"]["passed"].as_u64(), Some(600 - dead.len() as u64));
    // Six in a hundred do not: neither all nor none.
    assert!((80..200).contains(&dead.len()), "{}", dead.len());
    let unit = dead[0][trial].to_owned();
    folder.done(&["unit", "study.toml", &unit, "--json", "unit.json"]);
    assert_eq!(folder.json("unit.json")["calibrations"][0]["failure"], reason);
}
