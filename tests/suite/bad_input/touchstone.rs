//! Files of measured states that are missing or flawed: the report, at the line of the file, beside the errors of the study.

use crate::program::{Folder, SMALL, edited};

const ERROR: &str = "bit_phase_error = { normal = { sd = \"1 deg\" } }";

const FILES: &str = "states = { touchstone = \"parts/s_{code:2}.s2p\" }";

/// A folder with the small study, its shifter of one bit given by states, and files.
fn folder(states: &str, files: &[(&str, &str)]) -> Folder {
    // A sine is not fitted to two states.
    let peak = ("\"fit\", codes = 8", "\"peak\"");
    let folder = Folder::with(edited(SMALL, &[("bits = 5", "bits = 1"), (ERROR, states), peak]));
    std::fs::create_dir(folder.path().join("parts")).expect("a folder");
    files.iter().for_each(|(name, text)| folder.put(name, text));
    folder
}

fn says(report: &str, words: &[&str]) {
    words.iter().for_each(|words| assert!(report.contains(words), "{words}\n{report}"));
}

fn part(degrees: f64) -> String {
    format!("! made up\n# GHz S MA R 50\n9.5 0 0 0.5 {degrees} 0 0 0 0\n10.5 0 0 0.5 {degrees} 0 0 0 0\n")
}

#[test]
fn correct_files_are_described() {
    let folder = folder(FILES, &[("parts/s_00.s2p", &part(10.0)), ("parts/s_01.s2p", &part(-168.0))]);
    let words = folder.done(&["check", "study.toml"]);
    let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
    says(&words, &["measured states from parts/s_{code:2}.s2p (rms 1.41 deg and 0.000 dB off nominal)"]);
    folder.done(&["run", "study.toml", "--quiet", "--trials", "16"]);
}

#[test]
fn a_state_that_is_missing() {
    let report = folder(FILES, &[("parts/s_00.s2p", &part(10.0))]).refused(&["check", "study.toml"]);
    says(
        &report,
        &["`parts/s_01.s2p`: the file does not exist", "parts/s_{code:2}.s2p", "1 error in study.toml"],
    );
}

#[test]
fn flaws_of_files_and_of_the_study_come_out_at_once() {
    let (zero, one) = (part(10.0).replace("0.5 10", "0.5 ten"), part(-168.0).replace("GHz S", "GHz Z"));
    let folder = folder(FILES, &[("parts/s_00.s2p", &zero), ("parts/s_01.s2p", &one)]);
    folder.put("study.toml", edited(&folder.read("study.toml"), &[("seed = 3", "seed = -3")]));
    let report = folder.refused(&["run", "study.toml"]);
    says(
        &report,
        &[
            "--> study.toml:3:8",
            "--> parts/s_00.s2p:3:13",
            "`ten` is no number",
            "--> parts/s_00.s2p:4:14",
            "--> parts/s_01.s2p:2:7",
            "Z-parameters",
            "S-parameters: let the program that wrote the file write those",
            "4 errors in study.toml",
        ],
    );
}

#[test]
fn a_frequency_in_use_that_was_not_measured() {
    let narrow = part(10.0).replace("9.5", "9.9");
    let report = folder(FILES, &[("parts/s_00.s2p", &narrow), ("parts/s_01.s2p", &part(-168.0))])
        .refused(&["check", "study.toml"]);
    says(
        &report,
        &["9.8 GHz is in use, but the states are measured from 9.9 GHz to 10.5 GHz", "--> parts/s_00.s2p\n"],
    );
}

#[test]
fn files_of_another_kind() {
    let right = part(-168.0);
    for (flawed, words) in [
        ("", "the file is empty"),
        ("\u{feff}# GHz\n", "byte-order mark"),
        ("# GHz S MA R 50\n10 0.5 10\n", "a file of one port has three"),
        ("a,b\n1,2\n", "data without an option line"),
        ("[Version] 2.1\n# GHz S MA R 50\n", "version `2.1`"),
        ("[Version] 2.0\n# GHz S MA R 50\n[Number of Ports] 4\n", "a file of 4 ports"),
    ] {
        let folder = folder(FILES, &[("parts/s_00.s2p", flawed), ("parts/s_01.s2p", &right)]);
        says(&folder.refused(&["check", "study.toml"]), &[words, "parts/s_00.s2p", "1 error in study.toml"]);
    }
    let four = FILES.replace("s2p", "s4p");
    let report = folder(&four, &[("parts/s_00.s4p", &right), ("parts/s_01.s4p", &right)])
        .refused(&["check", "study.toml"]);
    says(&report, &["a file of 4 ports", "a file of two ports, `.s2p`"]);
}
