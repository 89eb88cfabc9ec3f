//! Work that is saved while it is done: killed and gone on with, shared out and merged, with the bytes of one process in the end.

use crate::program::{Folder, SMALL, edited};
use beamyield::{Key, Stream};
use rand::RngExt;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

/// What a command writes, but for the time that it took.
#[derive(Debug, PartialEq)]
struct Written(Vec<(String, Vec<u8>)>);

/// The outputs of a run, and of a sweep; pages name their own command, so they have the same in all folders.
const OF_RUN: &[&str] =
    &["--csv", "units.csv", "--trials-out", "units.parquet", "--json", "out.json", "--report", "page.html"];
const OF_SWEEP: &[&str] = &["--csv", "points.csv", "--json", "out.json", "--report", "page.html"];

/// A command by its words, without outputs, and its outputs.
#[derive(Clone, Copy)]
struct Work {
    command: &'static [&'static str],
    outputs: &'static [&'static str],
}

const RUN: Work = Work { command: &["run", "study.toml", "--quiet"], outputs: OF_RUN };
const SWEEP: Work = Work {
    command: &[
        "sweep",
        "study.toml",
        "--quiet",
        "--vary",
        "shifter.bits=3..6",
        "--vary",
        "driver.gain.truncated_normal.sd=0.5 dB, 0.7 dB",
    ],
    outputs: OF_SWEEP,
};

impl Work {
    fn words<'a>(&self, more: &[&'a str]) -> Vec<&'a str> {
        [self.command, more].concat()
    }

    /// The outputs in a folder, and the text.
    fn written(&self, folder: &Folder, text: &str) -> Written {
        let is_of_time = |line: &str| {
            line.contains("\"seconds\"") || line.starts_with("<dd><code>") && line.ends_with(" s</code></dd>")
        };
        let timeless = |text: &str| {
            let lines: Vec<&str> = text.lines().filter(|line| !is_of_time(line)).collect();
            lines.join("\n").into_bytes()
        };
        let file = |name: &str| {
            let bytes = std::fs::read(folder.path().join(name)).expect(name);
            (
                name.to_owned(),
                String::from_utf8(bytes).map_or_else(|binary| binary.into_bytes(), |text| timeless(&text)),
            )
        };
        // The first paragraph has the time, which moves the ends of its lines.
        let (head, rest) = text.split_once("\n\n").expect("paragraphs");
        let mut words: Vec<&str> = head.split_whitespace().collect();
        let time = words.windows(3).position(|of| of[0] == "in" && of[2].starts_with("s,"));
        words[time.expect("the time") + 1] = "TIME";
        let mut all = vec![("text".to_owned(), (words.join(" ") + rest).into_bytes())];
        all.extend(self.outputs.chunks(2).map(|of| file(of[1])));
        Written(all)
    }

    /// What one process writes in one go.
    fn at_once(&self, study: &str, more: &[&str]) -> Written {
        let folder = Folder::with(study);
        let text = folder.done(&self.words(&[more, self.outputs].concat()));
        self.written(&folder, &text)
    }
}

impl Written {
    /// Fails with the name of the first output that differs, which may be large.
    fn is(&self, expected: &Written, what: &str) {
        for ((name, found), (_, expected)) in self.0.iter().zip(&expected.0) {
            assert!(found == expected, "{what}: {name} differs");
        }
        assert_eq!(self.0.len(), expected.0.len());
    }
}

fn stream(of: &str) -> Stream {
    Stream::new(Key::new(1, of), 0, 0, 0)
}

/// Waits for the end of a launch, or kills it at a moment; whether it ended by itself, and well.
fn ended_before(mut child: Child, moment: Duration) -> bool {
    let start = Instant::now();
    loop {
        if let Some(status) = child.try_wait().expect("its state") {
            assert!(status.success(), "{status}");
            return true;
        }
        if start.elapsed() >= moment {
            child.kill().expect("it dies");
            child.wait().expect("its end");
            return false;
        }
        std::thread::sleep(Duration::from_micros(200));
    }
}

/// Kills a run and a sweep, again and again, at moments of which `BEAMYIELD_KILLS` says how many in all; each goes on, and has in the end
/// the bytes of one that nothing disturbed.
#[test]
fn killed_at_any_moment_it_goes_on_to_the_same_bytes() {
    let wanted = std::env::var("BEAMYIELD_KILLS").ok().and_then(|count| count.parse().ok()).unwrap_or(60);
    let study = edited(SMALL, &[("trials = 130", "trials = 4000")]);
    let mut stream = stream("kills");
    let (mut kills, mut disturbed) = (0, 0);
    for (work, threads) in [(RUN, "1"), (SWEEP, "2")].into_iter().cycle() {
        if kills >= wanted {
            break;
        }
        let saved = ["--threads", threads, "--resume", "saved.part", "--save-every", "1 ms"];
        let words = work.words(&[&saved, work.outputs].concat());
        let expected = {
            let folder = Folder::with(&study);
            let start = Instant::now();
            let text = folder.done(&words);
            (work.written(&folder, &text), start.elapsed())
        };
        let folder = Folder::with(&study);
        let mut of_this = 0;
        loop {
            let moment = expected.1.mul_f64(stream.random_range(0.0..1.0));
            let child = folder.command(&words).stdout(Stdio::null()).stderr(Stdio::null()).spawn();
            if ended_before(child.expect("it starts"), moment) {
                break;
            }
            of_this += 1;
        }
        // Once more: all is done, and is reported again.
        let text = folder.done(&words);
        work.written(&folder, &text).is(&expected.0, &format!("after {of_this} kills"));
        kills += of_this;
        disturbed += usize::from(of_this > 0);
    }
    eprintln!("{kills} kills of {disturbed} commands");
    assert!(kills >= wanted && disturbed >= wanted / 20);
}

/// By any number of shards, in any order, some done twice.
#[test]
fn shards_merge_to_the_bytes_of_one_process() {
    let mut stream = stream("shards");
    for (work, trials) in [(RUN, "1000"), (SWEEP, "200"), (RUN, "130"), (SWEEP, "700")] {
        let trials = ["--trials", trials];
        let expected = work.at_once(SMALL, &trials);
        let of = stream.random_range(2..=40_u64);
        let folder = Folder::with(SMALL);
        std::fs::create_dir(folder.path().join("shards")).expect("a folder");
        let mut numbers: Vec<u64> = (1..=of).collect();
        (1..numbers.len()).for_each(|at| numbers.swap(at, stream.random_range(0..=at)));
        numbers.extend_from_within(..2);
        let keeps = work.outputs == OF_RUN;
        for number in numbers {
            let (shard, file) = (format!("{number}/{of}"), format!("shards/{number}.part"));
            let saved = ["--shard", &shard, "--resume", &file, "--keep-units"];
            let saved = if keeps { &saved[..] } else { &saved[..4] };
            folder.done(&work.words(&[&trials, saved].concat()));
        }
        let text = folder.done(&[&["merge", "shards"], work.outputs].concat());
        work.written(&folder, &text).is(&expected, &format!("{of} shards"));

        // One missing, one of another seed, one twice.
        let last = format!("shards/{of}.part");
        let moved = folder.path().join("elsewhere");
        std::fs::rename(folder.path().join(&last), &moved).expect("a file");
        let missing = folder.refused(&["merge", "shards"]);
        assert!(missing.contains(&format!("missing shards: {of}/{of}")), "{missing}");
        let partial = folder.run(&["merge", "shards", "--partial"]);
        assert_eq!(partial.code, Some(0), "{}", partial.err);
        assert!(
            partial.err.contains(&format!("partial results: missing shards: {of}/{of}")),
            "{}",
            partial.err
        );
        let shard = format!("{of}/{of}");
        folder.done(
            &work.words(&[&trials[..], &["--shard", &shard, "--resume", &last, "--seed", "4"]].concat()),
        );
        let other = folder.refused(&["merge", "shards"]);
        assert!(other.contains("its seed is 4, here it is 3") && other.contains(&last), "{other}");
        std::fs::rename(&moved, folder.path().join(&last)).expect("a file");
        let copy = folder.path().join("shards/copy.part");
        std::fs::copy(folder.path().join(&last), copy).expect("a copy");
        let twice = folder.refused(&["merge", "shards"]);
        assert!(twice.contains(&format!("shard {of}/{of} is in ")), "{twice}");
    }
}

/// Units between others may be missing: the yields are those of the units that are there, counted from the CSV of the whole run.
#[test]
fn partial_results_are_those_of_the_units_that_are_there() {
    let folder = Folder::with(SMALL);
    let trials = ["--trials", "1000"];
    let whole = Folder::with(SMALL);
    whole.done(&RUN.words(&[&trials[..], &["--csv", "units.csv"]].concat()));
    for number in ["1/5", "3/5", "5/5"] {
        let file = format!("{}.part", &number[..1]);
        folder.done(&RUN.words(&[&trials[..], &["--shard", number, "--resume", &file]].concat()));
    }
    let files = ["1.part", "3.part", "5.part"];
    folder.done(&[&["merge"], &files[..], &["--partial", "--json", "out.json", "--quiet"]].concat());
    let found = folder.json("out.json");
    // 16 chunks of 64 units: the second shard has chunks 3 to 5, the fourth 9 to 11.
    let is_there = |unit: u64| !(192..384).contains(&unit) && !(576..768).contains(&unit);
    let text = whole.read("units.csv");
    let rows: Vec<Vec<&str>> = text.lines().skip(1).map(|line| line.split(',').collect()).collect();
    for plan in found["calibrations"].as_array().expect("plans") {
        let of_plan = rows.iter().filter(|row| {
            row[1] == plan["name"].as_str().expect("a name") && is_there(row[0].parse().expect("a unit"))
        });
        let (mut units, mut passing) = (0, 0);
        of_plan.for_each(|row| {
            units += 1;
            passing += u64::from(row[2] == "true");
        });
        assert_eq!((plan["yield"]["trials"].as_u64(), units > 500), (Some(units), true));
        let value = plan["yield"]["value"].as_f64().expect("a yield");
        assert!((value - passing as f64 / units as f64).abs() < 1e-12, "{value}");
    }
}

#[test]
fn more_units_are_added_to_a_run_that_is_done() {
    let folder = Folder::with(SMALL);
    let saved = |trials: &'static str| [&["--trials", trials, "--resume", "saved.part"], OF_RUN].concat();
    for trials in ["100", "1000", "1500"] {
        let text = folder.done(&RUN.words(&saved(trials)));
        RUN.written(&folder, &text).is(&at_once_saved(trials), trials);
    }
    let fewer = folder.refused(&RUN.words(&saved("1400")));
    assert!(fewer.contains("its trials is 1500, here it is 1400"), "{fewer}");
}

/// With the same words, but begun anew.
fn at_once_saved(trials: &str) -> Written {
    RUN.at_once(SMALL, &["--trials", trials, "--resume", "saved.part"])
}

/// A run that ends by its yield ends at the same unit, however often it was killed.
#[test]
fn a_run_until_the_yield_is_known_ends_at_the_same_unit() {
    let rule = "trials = { yield_half_width = \"0.01\", at_most = 200000 }";
    let study = edited(SMALL, &[("trials = 130", rule)]);
    let expected = RUN.at_once(&study, &["--resume", "saved.part", "--save-every", "1 ms"]);
    let words = RUN.words(&[&["--resume", "saved.part", "--save-every", "1 ms"], OF_RUN].concat());
    let folder = Folder::with(&study);
    let mut stream = stream("stopping rule");
    for _ in 0..20 {
        let child = folder.command(&words).stdout(Stdio::null()).stderr(Stdio::null()).spawn();
        ended_before(child.expect("it starts"), Duration::from_millis(stream.random_range(5..200)));
    }
    let text = folder.done(&words);
    RUN.written(&folder, &text).is(&expected, "by its yield");
}

#[test]
fn other_work_is_refused_by_its_name() {
    let folder = Folder::with(SMALL);
    folder.done(&RUN.words(&["--resume", "saved.part"]));
    for (words, expected) in [
        (RUN.words(&["--resume", "saved.part", "--seed", "9"]), "its seed is 3, here it is 9"),
        (RUN.words(&["--resume", "saved.part", "--set", "shifter.bits=6"]), "its study_hash is "),
        (RUN.words(&["--resume", "saved.part", "--calibration", "none"]), "its plans is "),
        (RUN.words(&["--resume", "saved.part", "--shard", "1/2"]), "its shard is the whole, here it is 1/2"),
        (SWEEP.words(&["--resume", "saved.part"]), "its command is run, here it is sweep"),
        (RUN.words(&["--resume", "study.toml"]), "cannot use study.toml: it is no part of a run"),
        (RUN.words(&["--shard", "1/2"]), "--resume <FILE>"),
        (RUN.words(&["--shard", "3/2", "--resume", "x.part"]), "from 1/K to K/K"),
        (
            RUN.words(&["--shard", "1/2", "--resume", "x.part", "--csv", "-"]),
            "give --csv to `beamyield merge`",
        ),
        (RUN.words(&["--resume", "x.part", "--json", "x.part"]), "it is an input of this very run"),
        (vec!["merge", "study.toml"], "cannot use study.toml"),
        (vec!["merge", "nothing.part"], "it does not exist"),
    ] {
        let said = folder.refused(&words);
        assert!(said.contains(expected), "{words:?}: {said}");
    }
}

/// Where the disk takes no more the last state stays as it was, and the command goes on from it once there is room.
#[test]
#[cfg(unix)]
fn a_full_disk_leaves_the_last_state() {
    let folder = Folder::with(edited(SMALL, &[("trials = 130", "trials = 3000")]));
    let words = RUN.words(&["--resume", "saved.part"]);
    folder.done(&[&words[..], &["--trials", "200"]].concat());
    let before = std::fs::read(folder.path().join("saved.part")).expect("a part");
    // Files may not grow beyond what is there now; the system says so as it does of a full disk, once its signal is ignored.
    let script = format!("trap '' XFSZ; ulimit -f {}; exec \"$0\" \"$@\"", before.len().div_ceil(1024) + 4);
    let mut limited = std::process::Command::new("bash");
    limited.args(["-c", &script, env!("CARGO_BIN_EXE_beamyield")]).args(&words).current_dir(folder.path());
    let ended = crate::program::ended(limited.output().expect("bash"));
    assert_eq!(ended.code, Some(3), "{}", ended.err);
    assert!(ended.err.contains("error: cannot write saved.part"), "{}", ended.err);
    assert!(
        before == std::fs::read(folder.path().join("saved.part")).expect("a part"),
        "the last state is gone"
    );
    let text = folder.done(&words);
    assert!(text.contains("3000 units"), "{text}");
}
