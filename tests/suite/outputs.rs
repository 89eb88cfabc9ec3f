//! Files that outputs may replace, outputs beside a failed one, and the sources of inputs.

use crate::program::{Ended, Folder, SMALL, edited, ended};
use std::io::Write;
use std::process::Stdio;

/// The small study, whose feed has its lengths from a file, and an offer that has them from another.
fn measured() -> Folder {
    let distribution = "length = { nominal = \"30 mm\", normal = { sd = \"0.2 mm\" } }";
    let of_file = "length = { nominal = \"30 mm\", empirical = { csv = \"lengths.csv\", column = \"length\", about = \"mean\" } }";
    let offer = "\n[[offer]]\nname = \"others\"\nchange = { \"feed.length.csv\" = \"others.csv\" }\n";
    let folder = Folder::with(edited(SMALL, &[(distribution, of_file)]) + offer);
    for name in ["lengths.csv", "others.csv"] {
        let rows: Vec<String> = (0..40).map(|row| format!("{}", 0.01 * f64::from(row) - 0.2)).collect();
        folder.put(name, format!("length_mm\n{}\n", rows.join("\n")));
    }
    folder
}

/// Runs a line of the shell in the folder, where $BEAMYIELD is the program.
#[cfg(unix)]
fn shell(folder: &Folder, line: &str) -> Ended {
    let mut command = std::process::Command::new("sh");
    command.args(["-c", line]).current_dir(folder.path()).env("BEAMYIELD", env!("CARGO_BIN_EXE_beamyield"));
    ended(command.stdin(Stdio::null()).output().expect("a shell"))
}

fn names(folder: &Folder) -> Vec<String> {
    let name = |path: &std::path::PathBuf| path.file_name().expect("a name").display().to_string();
    folder.names().iter().map(name).collect()
}

const RUN: &str = "$BEAMYIELD run study.toml --quiet --trials 64";

#[cfg(unix)]
#[test]
fn no_output_takes_the_place_of_a_file_that_was_read() {
    let folder = measured();
    for input in ["study.toml", "lengths.csv", "others.csv"] {
        let kept = folder.read(input);
        for (option, name) in [
            ("--json", "hard"),
            ("--csv", "hard"),
            ("--report", "hard.html"),
            ("--trials-out", "hard.parquet"),
        ] {
            if option == "--trials-out" && cfg!(not(feature = "parquet")) {
                continue;
            }
            // By another name of the file itself, and by a link.
            let path = folder.path().join(name);
            for is_hard in [true, false] {
                let of = folder.path().join(input);
                let linked = if is_hard {
                    std::fs::hard_link(of, &path)
                } else {
                    std::os::unix::fs::symlink(of, &path)
                };
                linked.expect("a link");
                let report = folder.refused(&["run", "study.toml", "--quiet", "--trials", "8", option, name]);
                assert!(report.contains("it is an input of this very run"), "{option} {input}: {report}");
                std::fs::remove_file(&path).expect("the link");
            }
        }
        for command in [
            &["check", "study.toml", "--json", input][..],
            &["unit", "study.toml", "0", "--json", input],
            &["sheet", "study.toml", "--csv", input],
            &["compare", "study.toml", "--json", input],
            &["budget", "study.toml", "--trials", "1024", "--json", input],
            &["sweep", "study.toml", "--vary", "seed=1,2", "--csv", input],
        ] {
            let report = folder.refused(command);
            assert!(report.contains("it is an input of this very run"), "{command:?}: {report}");
        }
        assert_eq!(folder.read(input), kept);
    }
    // A design beside the first is read too, and so is a file that only a value of a sweep names.
    folder.put("further.toml", SMALL);
    folder.refused(&["compare", "study.toml", "--with", "further.toml", "--json", "further.toml"]);
    folder.put("swept.csv", folder.read("lengths.csv"));
    let sweep =
        ["sweep", "study.toml", "--vary", "feed.length.csv=lengths.csv, swept.csv", "--csv", "swept.csv"];
    assert!(folder.refused(&sweep).contains("it is an input of this very run"));
    // Negative control: a file that is not read may be replaced.
    folder.done(&["run", "study.toml", "--quiet", "--trials", "8", "--csv", "further.toml"]);
    assert!(folder.read("further.toml").starts_with("trial,"));
}

#[cfg(unix)]
#[test]
fn no_two_outputs_take_one_place() {
    let folder = measured();
    folder.put("old", "");
    std::fs::hard_link(folder.path().join("old"), folder.path().join("hard")).expect("a link");
    for (json, csv) in [("out", "./out"), ("old", "./hard"), ("-", "/dev/stdout")] {
        let report = folder.refused(&["run", "study.toml", "--quiet", "--json", json, "--csv", csv]);
        assert!(report.contains("the JSON and the CSV would both go there"), "{json} {csv}: {report}");
    }
    let report =
        folder.refused(&["run", "study.toml", "--json", "x.html", "--report", "../x.html/../x.html"]);
    assert!(report.contains("cannot write to"), "{report}");
    let report = folder.refused(&["run", "study.toml", "--json", "x.html", "--report", "./x.html"]);
    assert!(report.contains("the JSON and the report would both go there"), "{report}");
    for link in ["dangling", "looping"] {
        let to = if link == "looping" { link } else { "nowhere" };
        std::os::unix::fs::symlink(to, folder.path().join(link)).expect("a link");
        let report = folder.refused(&["run", "study.toml", "--json", link]);
        assert!(report.contains("it is a link that leads nowhere"), "{report}");
    }
    // Negative controls: two places, and a device that keeps nothing.
    folder.done(&["run", "study.toml", "--quiet", "--trials", "8", "--json", "out", "--csv", "old"]);
    folder.done(&[
        "run",
        "study.toml",
        "--quiet",
        "--trials",
        "8",
        "--json",
        "/dev/null",
        "--csv",
        "/dev/null",
    ]);
}

#[cfg(target_os = "linux")]
#[test]
fn an_output_that_fails_costs_only_itself() {
    let folder = Folder::with(SMALL);
    let all = ["run.json", "units.csv", "page.html"];
    let run = |json: &str, csv: &str, page: &str, to: &str| {
        for name in all {
            let _ = std::fs::remove_file(folder.path().join(name));
        }
        shell(&folder, &format!("{RUN} --json {json} --csv {csv} --report {page} {to}"))
    };
    for failing in 0..3 {
        let mut places = all;
        places[failing] = "/dev/full";
        if failing == 2 {
            // A page needs the name of one: a link to the device has it.
            std::os::unix::fs::symlink("/dev/full", folder.path().join("full.html")).expect("a link");
            places[failing] = "full.html";
        }
        let ended = run(places[0], places[1], places[2], "");
        assert_eq!(ended.code, Some(3), "{}", ended.err);
        assert_eq!(
            ended.err,
            format!("error: cannot write {}: No space left on device (os error 28)\n", places[failing])
        );
        assert!(ended.out.contains("64 units built"), "{}", ended.out);
        for (number, name) in all.into_iter().enumerate() {
            let path = folder.path().join(name);
            assert_eq!(path.exists(), number != failing, "{failing} {name}");
        }
    }
    // Standard output is one of them.
    let ended = run(all[0], all[1], all[2], "> /dev/full");
    assert_eq!(ended.code, Some(3));
    assert!(ended.err.starts_with("error: cannot write standard output: "), "{}", ended.err);
    assert!(all.iter().all(|name| folder.path().join(name).exists()));
    assert_eq!(folder.read("units.csv").lines().count(), 1 + 3 * 64);
    // Each that fails has a line.
    let ended = run("/dev/full", "/dev/full", all[2], "");
    assert_eq!((ended.code, ended.err.matches("error: cannot write /dev/full").count()), (Some(3), 2));
    // A missed demand is reported as well, and the graver exit code counts.
    let ended = shell(&folder, &format!("{RUN} --require-yield 0.9999 --csv /dev/full"));
    assert_eq!(ended.code, Some(3));
    assert!(
        ended.err.contains("/dev/full") && ended.err.contains("below the 0.9999 required"),
        "{}",
        ended.err
    );
    for (line, expected) in [
        ("$BEAMYIELD compare study.toml --quiet --csv /dev/full", "130"),
        ("$BEAMYIELD check study.toml --json /dev/full", "small"),
        ("$BEAMYIELD sheet study.toml --csv /dev/full", "Bench sheet"),
        ("$BEAMYIELD unit study.toml 3 --quiet --json /dev/full", "Unit 3"),
        ("$BEAMYIELD sweep study.toml --quiet --vary seed=1,2 --csv /dev/full", "seed"),
    ] {
        let ended = shell(&folder, line);
        assert_eq!(ended.code, Some(3), "{line}: {}", ended.err);
        assert!(
            ended.out.contains(expected) && ended.err.contains("error: cannot write /dev/full: "),
            "{line}"
        );
    }
    // Where nothing else is wanted there is no reason to go on.
    let began = std::time::Instant::now();
    let ended = shell(&folder, "$BEAMYIELD run study.toml --quiet --trials 1000000000 --csv - > /dev/full");
    assert_eq!(ended.code, Some(3), "{}", ended.err);
    assert!(began.elapsed().as_secs() < 20);
}

#[cfg(target_os = "linux")]
#[test]
fn a_write_beyond_the_limit_is_a_failure_and_leaves_nothing() {
    let folder = Folder::with(SMALL);
    let line = "ulimit -f 8; $BEAMYIELD run study.toml --quiet --trials 2000 --csv units.csv --json run.json";
    let ended = shell(&folder, line);
    assert_eq!(ended.code, Some(3), "{}", ended.err);
    assert!(ended.err.contains("error: cannot write units.csv: File too large"), "{}", ended.err);
    assert!(ended.out.contains("2000 units built"), "{}", ended.out);
    assert_eq!(names(&folder), ["study.toml"]);
}

#[cfg(target_os = "linux")]
#[test]
fn a_standard_output_that_takes_nothing_is_a_failure() {
    let folder = Folder::with(SMALL);
    for command in [
        "--help",
        "--version",
        "run --help",
        "schema",
        "man",
        "completions bash",
        "check study.toml",
        "unit study.toml 3 --quiet",
        "sheet study.toml",
        "run study.toml --quiet --trials 8",
    ] {
        for (to, expected) in [("> /dev/full", "No space left on device"), (">&-", "it is closed")] {
            let ended = shell(&folder, &format!("$BEAMYIELD {command} {to}"));
            assert_eq!(ended.code, Some(3), "{command} {to}: {}", ended.err);
            assert!(ended.err.starts_with("error: cannot write standard output: "), "{}", ended.err);
            assert!(ended.err.contains(expected), "{}", ended.err);
        }
        // Negative control: the null device takes all.
        let ended = shell(&folder, &format!("$BEAMYIELD {command} > /dev/null"));
        assert_eq!(ended.code, Some(0), "{command}: {}", ended.err);
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_path_to_standard_output_is_written_as_standard_output_is() {
    let folder = Folder::with(SMALL);
    for path in ["/dev/stdout", "/proc/self/fd/1", "log", "./log"] {
        folder.put("log", "kept\n");
        let ended = shell(&folder, &format!("{RUN} --json {path} >> log"));
        assert_eq!(ended.code, Some(0), "{path}: {}", ended.err);
        let log = folder.read("log");
        let json = log.strip_prefix("kept\n").unwrap_or_else(|| panic!("{path}: {log}"));
        // One document and no text for people.
        serde_json::from_str::<serde_json::Value>(json).unwrap_or_else(|error| panic!("{path}: {error}"));
    }
    // A descriptor of its own is appended to as well.
    folder.put("log", "kept\n");
    let ended = shell(&folder, &format!("{RUN} --json /dev/fd/3 3>> log"));
    assert!(ended.code == Some(0) && folder.read("log").starts_with("kept\n{"), "{}", ended.err);
}

#[cfg(unix)]
#[test]
fn a_replaced_output_keeps_its_mode() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::with(SMALL);
    folder.put("run.json", "old");
    let path = folder.path().join("run.json");
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640)).expect("a mode");
    folder.done(&["run", "study.toml", "--quiet", "--trials", "8", "--json", "run.json"]);
    assert_eq!(path.metadata().expect("the file").permissions().mode() & 0o777, 0o640);
    assert_eq!(folder.json("run.json")["trials"], 8);
}

#[test]
fn a_study_comes_from_standard_input() {
    let folder = measured();
    let study = folder.read("study.toml");
    // Companions are in the current folder then.
    let run = |text: &str, arguments: &[&str]| {
        let mut command = folder.command(arguments);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().expect("the program starts");
        child.stdin.take().expect("its input").write_all(text.as_bytes()).expect("a reader");
        ended(child.wait_with_output().expect("its end"))
    };
    // What a run takes is measured each time.
    let read = |text: &str| text.split_once("\n\nA run of ").expect("what a run takes").0.to_owned();
    let named = folder.done(&["check", "study.toml"]);
    let ended = run(&study, &["check", "-"]);
    assert_eq!((ended.code, read(&ended.out)), (Some(0), read(&named)));
    let ended = run(&study.replace("seed = 3", "sed = 3"), &["check", "-"]);
    assert_eq!(ended.code, Some(2));
    assert!(ended.err.contains("--> standard input:"), "{}", ended.err);
    assert!(ended.err.ends_with(" in standard input\n"), "{}", ended.err);
}

#[cfg(target_os = "linux")]
#[test]
fn pipes_and_devices_are_read_only_as_a_study_that_comes() {
    let folder = measured();
    let line = "for f in lengths.csv study.toml; do mkfifo pipe.$f; done; rm lengths.csv; mv pipe.lengths.csv lengths.csv";
    assert_eq!(shell(&folder, line).code, Some(0));
    // A companion that is a pipe, which nobody writes to.
    let report = folder.refused(&["check", "study.toml"]);
    assert!(report.contains("`lengths.csv`: this is no regular file"), "{report}");
    let report = folder.refused(&["check", "pipe.study.toml"]);
    assert!(
        report.contains("nothing comes out of it") && report.contains("or `-` for standard input"),
        "{report}"
    );
    let report = folder.refused(&["check", "/dev/zero"]);
    assert!(report.contains("this is no regular file"), "{report}");
    // The file that a shell makes of <(...).
    folder.put("small.toml", SMALL);
    let ended = shell(&folder, "cat small.toml | $BEAMYIELD check /dev/fd/0");
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let ended = shell(&folder, "{ sleep 0.2; cat small.toml; } | $BEAMYIELD check /dev/fd/5 5<&0");
    assert_eq!(ended.code, Some(0), "{}", ended.err);
}

#[cfg(target_os = "linux")]
#[test]
fn a_folder_need_not_have_a_name_in_utf_8() {
    use std::os::unix::ffi::OsStrExt;
    let folder = measured();
    let odd = folder.path().join(std::ffi::OsStr::from_bytes(b"odd\xff"));
    std::fs::create_dir(&odd).expect("a folder");
    for name in ["study.toml", "lengths.csv", "others.csv"] {
        std::fs::rename(folder.path().join(name), odd.join(name)).expect("a file");
    }
    let mut command = folder.command(&["check"]);
    let ended = ended(command.arg(odd.join("study.toml")).output().expect("the program starts"));
    assert_eq!(ended.code, Some(0), "{}", ended.err);
}

#[test]
fn an_empty_companion_is_blamed_itself() {
    let folder = measured();
    let study = folder.read("study.toml");
    let correlated = edited(
        &study,
        &[(
            "effective_permittivity = 2.9\n",
            "effective_permittivity = { nominal = 2.9, normal = { sd = 0.01 } }\n\
             correlation = [{ between = [\"length\", \"effective_permittivity\"], coefficient = 0.5 }]\n",
        )],
    );
    folder.put("study.toml", &correlated);
    folder.done(&["check", "study.toml"]);
    for (text, expected) in [("", "the file is empty"), ("length_mm\n1\n2,3\n", "a ragged row")] {
        folder.put("lengths.csv", text);
        let report = folder.refused(&["check", "study.toml"]);
        assert!(report.contains("--> lengths.csv") && report.contains(expected), "{report}");
        assert!(report.ends_with("\n1 error in study.toml\n"), "{report}");
    }
    // Negative control: a parameter that does not vary is still no part of a correlation.
    let steady = edited(&correlated, &[(", normal = { sd = 0.01 }", "")]);
    folder.put("study.toml", steady);
    folder.put("lengths.csv", folder.read("others.csv"));
    assert!(folder.refused(&["check", "study.toml"]).contains("`effective_permittivity` does not vary"));
}

#[test]
fn the_environment_asks_for_threads_within_bounds() {
    let folder = Folder::with(SMALL);
    let mut command = folder.command(&["run", "study.toml", "--quiet", "--trials", "8"]);
    let run = |command: &mut std::process::Command| ended(command.output().expect("the program starts"));
    let refused = run(command.env("RAYON_NUM_THREADS", "100000"));
    assert_eq!((refused.code, refused.out.as_str()), (Some(2), ""));
    assert!(refused.err.contains("a whole number from 0 to 1024"), "{}", refused.err);
    assert_eq!(run(command.env("RAYON_NUM_THREADS", "3")).code, Some(0));
    assert_eq!(run(command.env("RAYON_NUM_THREADS", "100000").args(["--threads", "2"])).code, Some(0));
}

/// Characters that steer a terminal or turn the order of reading, as a text of TOML has them; see `io::inert`.
const STEERING: &str = "\\u001b[31m\\u009b2J\\u0085\\u007f\\u202e\\u2066\\u200f\\u2028";

fn is_inert(text: &str) -> bool {
    text.chars().all(|c| {
        let is_mark = matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
        (!c.is_control() || c == '\n' || c == '\t') && !is_mark
    })
}

#[test]
fn text_from_a_file_is_inert() {
    assert!(!is_inert("a\u{9b}") && !is_inert("\u{202e}") && !is_inert("\r") && is_inert("größe\n"));
    let marks = "\\u202e\\u2066\\u200f\\u2028";
    let study = edited(
        SMALL,
        &[
            ("title = \"small\"", &format!("title = \"sm{STEERING}all\"")),
            ("name = \"ahead\"", &format!("name = \"ah{marks}ead\"")),
            ("beam = \"ahead\"", &format!("beam = \"ah{marks}ead\"")),
            ("name = \"fit\"", &format!("name = \"f{marks}it\"")),
        ],
    );
    let name = if cfg!(unix) { "st\u{202e}u\u{9b}dy\u{1b}[2J.toml" } else { "st\u{202e}udy.toml" };
    let folder = Folder::with(SMALL);
    folder.put(name, &study);
    for arguments in [
        &[
            "run", name, "--quiet", "--trials", "64", "--csv", "out.csv", "--json", "out.json", "--report",
            "out.html",
        ][..],
        &["compare", name, "--quiet", "--csv", "out.csv", "--json", "out.json", "--report", "out.html"],
        &["budget", name, "--quiet", "--trials", "1024", "--csv", "out.csv", "--report", "out.html"],
        &["sheet", name, "--csv", "out.csv"],
        &["unit", name, "3", "--json", "out.json"],
        &["check", name, "--json", "out.json"],
        &["run", name, "--calibration", "none such", "--quiet"],
        &["check", "st\u{202e}\u{9b}"],
        &["check", name, "--json", "no\u{9b}/out"],
        &["check\u{9b}\u{202e}", name],
        &["run", name, "--trials", "\u{9b}"],
    ] {
        let ended = folder.run(arguments);
        let is_sound = ["--csv", "--json"].iter().any(|of| arguments.contains(of))
            && !arguments.contains(&"no\u{9b}/out");
        assert_eq!(ended.code, Some(if is_sound { 0 } else { 2 }), "{arguments:?}: {}", ended.err);
        assert!(is_inert(&ended.out), "{arguments:?}: {:?}", ended.out);
        assert!(is_inert(&ended.err), "{arguments:?}: {:?}", ended.err);
        if ended.code == Some(0) {
            for written in ["out.csv", "out.json", "out.html"] {
                if folder.path().join(written).exists() {
                    let text = folder.read(written);
                    assert!(is_inert(&text), "{arguments:?} {written}");
                    std::fs::remove_file(folder.path().join(written)).expect("the output");
                }
            }
        }
    }
    // Documents for scripts hold the text unchanged.
    folder.done(&["run", name, "--quiet", "--trials", "8", "--json", "out.json"]);
    let title = folder.json("out.json")["study"]["title"].clone();
    let text = folder.read("out.json");
    assert!(
        title == "sm\u{1b}[31m\u{9b}2J\u{85}\u{7f}\u{202e}\u{2066}\u{200f}\u{2028}all"
            || text.contains("sm\\u001b[31m\\u009b2J\\u0085\\u007f\\u202e\\u2066\\u200f\\u2028all"),
        "{title}"
    );
    let ended = folder.run(&["check", name]);
    assert!(ended.out.contains("\\u{202e}"), "{}", ended.out);
}
