//! Stops at random moments, over all commands with all their outputs: what is on disk is whole or absent and says that it is partial,
//! the exit code tells a stopped run from one that was done, and nothing hidden is left.

use crate::campaign::{faults_of_file, names};
use crate::program::SMALL;
use crate::watched::Watched;
use nix::sys::signal::Signal;
use rand::rngs::SmallRng;
use rand::{RngExt, SeedableRng};
use serde_json::Value;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Command, ExitStatus, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

const STOPS: u64 = 500;
const SEED: u64 = 5;

/// Within this a launch that is stopped has ended, however slow the machine.
const MOST: Duration = Duration::from_secs(60);

/// Units of a run that is done within a blink, of a budget (which takes no fewer than 1,024), and of a run that never is done.
const FEW: &str = "400";
const FEW_OF_A_BUDGET: &str = "1400";
const MANY: &str = "100000000";

/// A command with its words, and the endings of the outputs that it writes, each under the name `out`.
const LINES: &[(&str, &[&str])] = &[
    ("check", &["json"]),
    ("unit 17", &["json"]),
    ("sheet --calibration fit", &["csv"]),
    ("run", &["json", "csv", "html"]),
    // Without another output: a run that is for something else goes on without its reader.
    ("run --csv -", &[]),
    #[cfg(feature = "parquet")]
    ("run", &["json", "parquet"]),
    ("compare", &["json", "csv", "html"]),
    ("sweep --vary shifter.bits=3..6", &["json", "csv", "html"]),
    ("limit --find jumper.length.half_width --yield 0.9 --calibration fit", &["json", "csv", "html"]),
    ("budget --calibration fit", &["json", "csv", "html"]),
    ("inspect --source jumper.length --accept 0.1mm --calibration fit", &["json", "csv", "txt"]),
    ("cost", &["json", "csv", "html"]),
];

/// Prices, for what a unit costs.
const PRICES: &str = "
[cost]
currency = \"EUR\"
units_a_year = 300
channel = 38
unit = { value = 260, from = 200, to = 300 }
bench_minute = 2
";

/// How a launch is stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    Signal(Signal),
    /// The same again a little later.
    Twice(Signal),
    /// A hang-up that it was started to ignore.
    Ignored,
    /// Whoever reads its standard output goes away.
    ReaderGone,
}

const WAYS: [Way; 8] = [
    Way::Signal(Signal::SIGINT),
    Way::Signal(Signal::SIGINT),
    Way::Signal(Signal::SIGTERM),
    Way::Signal(Signal::SIGHUP),
    Way::Twice(Signal::SIGINT),
    Way::Twice(Signal::SIGTERM),
    Way::Ignored,
    Way::ReaderGone,
];

/// A launch and its stop.
struct Stop {
    line: usize,
    way: Way,
    is_endless: bool,
    threads: u32,
    after: Duration,
    again_after: Duration,
}

/// How a stopped launch ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum End {
    Done,
    Stopped,
    /// By the signal itself, before the program was there to hear it.
    Unheard,
}

impl Stop {
    /// Stop `number`: the same each time, but for how long the launches of the line take here.
    fn new(number: u64, lengths: &[Duration]) -> Stop {
        let mut rng = SmallRng::seed_from_u64(SEED.wrapping_mul(1_000_003).wrapping_add(number));
        let way = WAYS[number as usize % WAYS.len()];
        let line = number as usize / WAYS.len() % LINES.len();
        let can_be_endless = match way {
            Way::Ignored => false,
            Way::ReaderGone => LINES[line].0.ends_with('-'),
            _ => true,
        };
        // A run goes on for as long as it has units; other commands keep verdicts, which many units fill the memory with.
        let is_endless = LINES[line].0.starts_with("run") && can_be_endless && rng.random::<f64>() < 0.7;
        let most = if is_endless { Duration::from_millis(300) } else { lengths[line].mul_f64(1.1) };
        Stop {
            line,
            way,
            is_endless,
            threads: rng.random_range(1..=2),
            after: most.mul_f64(rng.random::<f64>()),
            again_after: Duration::from_secs_f64(0.05 * rng.random::<f64>()),
        }
    }

    /// The command.
    fn command(&self) -> &'static str {
        LINES[self.line].0.split(' ').next().unwrap_or_default()
    }

    /// Names of the files that it writes.
    fn outputs(&self) -> Vec<String> {
        LINES[self.line].1.iter().map(|ending| format!("out.{ending}")).collect()
    }

    fn arguments(&self) -> Vec<String> {
        let mut words: Vec<String> = LINES[self.line].0.split(' ').map(str::to_owned).collect();
        words.insert(1, "study.toml".to_owned());
        let mut put = |option: &str, value: String| words.extend([option.to_owned(), value]);
        for (ending, name) in LINES[self.line].1.iter().zip(self.outputs()) {
            let option = match *ending {
                "html" | "txt" => "--report",
                "parquet" => "--trials-out",
                "csv" => "--csv",
                _ => "--json",
            };
            put(option, name);
        }
        let units = match self.command() {
            "check" | "unit" | "sheet" => return words,
            "budget" => FEW_OF_A_BUDGET,
            _ if self.is_endless => MANY,
            _ => FEW,
        };
        put("--trials", units.to_owned());
        put("--threads", self.threads.to_string());
        words
    }

    #[allow(
        clippy::disallowed_methods,
        reason = "what a child prints goes to a file that only this test reads"
    )]
    fn launch(&self, folder: &Path, printed: &Path) -> Watched {
        let program = env!("CARGO_BIN_EXE_beamyield");
        let mut command = Command::new(program);
        if self.way == Way::Ignored {
            command = Command::new("sh");
            command.args(["-c", "trap '' HUP; exec \"$@\"", "sh", program]);
        }
        command.args(self.arguments()).current_dir(folder).stdin(Stdio::null());
        match self.way {
            Way::ReaderGone => command.stdout(Stdio::piped()),
            _ => command.stdout(std::fs::File::create(printed).expect("a file for what it prints")),
        };
        Watched::launch(&mut command)
    }

    /// Launches, stops and waits for the end; answers with how it ended, what is wrong, and what it said.
    fn run(&self, folder: &Path, printed: &Path) -> (Option<End>, Vec<String>, String) {
        let mut launch = self.launch(folder, printed);
        // The moment is one of the work; of a launch that ends by itself it is any, from its first instruction to its last.
        let mut reader = None;
        match self.way {
            // What nobody reads fills the pipe before there is any progress to show.
            Way::ReaderGone if self.is_endless => reader = Some(launch.read_a_line()),
            _ if self.is_endless => launch.wait_for_work(),
            _ => {}
        }
        std::thread::sleep(self.after);
        match self.way {
            _ if reader.is_some() => drop(reader),
            Way::Signal(signal) => launch.signal(signal),
            Way::Ignored => launch.signal(Signal::SIGHUP),
            Way::Twice(signal) => {
                launch.signal(signal);
                std::thread::sleep(self.again_after);
                launch.signal(signal);
            }
            Way::ReaderGone => drop(launch.take_stdout()),
        }
        match launch.wait(MOST) {
            None => (None, vec![format!("it did not end within {MOST:?}")], launch.messages()),
            Some(status) => {
                let err = launch.messages();
                let (end, faults) = self.judge(status, &err, folder);
                (end, faults, err)
            }
        }
    }

    fn judge(&self, status: ExitStatus, err: &str, folder: &Path) -> (Option<End>, Vec<String>) {
        let sent = match self.way {
            Way::Signal(signal) | Way::Twice(signal) => Some(signal as i32),
            Way::Ignored | Way::ReaderGone => None,
        };
        let (end, mut faults) = match (status.code(), status.signal()) {
            (Some(0 | 1), _) if !self.is_endless => (Some(End::Done), Vec::new()),
            (Some(3), _) if self.way != Way::Ignored => (Some(End::Stopped), Vec::new()),
            (None, signal) if signal == sent && !self.is_endless => (Some(End::Unheard), Vec::new()),
            _ => (None, vec![format!("it ended with {status}")]),
        };
        if ["panicked", "has a fault"].iter().any(|word| err.contains(word)) {
            faults.push("it has a fault".to_owned());
        }
        // A second signal ends it at once.
        let says_why =
            err.lines().any(|line| line.starts_with("error: ")) || matches!(self.way, Way::Twice(_));
        if end == Some(End::Stopped) && !says_why {
            faults.push("it does not say why it ended".to_owned());
        }
        let mut outputs = names(folder);
        outputs.retain(|name| name != "study.toml");
        let (outputs, others): (Vec<_>, Vec<_>) =
            outputs.into_iter().partition(|name| self.outputs().contains(name));
        faults.extend(others.iter().map(|name| format!("{name} is left behind")));
        faults.extend(outputs.iter().flat_map(|name| faults_of_file(&folder.join(name), "")));
        let is_all = outputs.len() == self.outputs().len();
        match (end, self.way) {
            (Some(End::Done), _) if !is_all => faults.push(format!("it was done and left {outputs:?} alone")),
            (Some(End::Unheard), _) if !outputs.is_empty() => {
                faults.push(format!("a signal ended it after {outputs:?}"))
            }
            (Some(End::Stopped), Way::Signal(_)) if !is_all && !outputs.is_empty() => {
                faults.push(format!("it was stopped once and left {outputs:?} alone"));
            }
            _ => {}
        }
        if faults.is_empty() && outputs.iter().any(|name| name == "out.json") {
            faults.extend(self.judge_json(end, folder));
        }
        (end, faults)
    }

    /// A document is partial where units lack, and says so; a run's holds as many units as its CSV.
    fn judge_json(&self, end: Option<End>, folder: &Path) -> Option<String> {
        let text = std::fs::read_to_string(folder.join("out.json")).expect("the document");
        let document: Value = serde_json::from_str(&text).expect("a document that parses");
        let is_partial = document.get("partial") == Some(&Value::Bool(true));
        if is_partial && end == Some(End::Done) {
            return Some("it was done and says that it is partial".to_owned());
        }
        if self.is_endless && !is_partial {
            return Some("it was stopped and does not say that it is partial".to_owned());
        }
        if self.command() == "run" {
            let trials = document["trials"].as_u64().expect("how many units there are");
            if !is_partial && trials.to_string() != FEW {
                return Some(format!("{trials} units, and it does not say that it is partial"));
            }
            let plans = document["calibrations"].as_array().expect("the plans").len() as u64;
            if let Ok(csv) = std::fs::read_to_string(folder.join("out.csv"))
                && csv.lines().count() as u64 != 1 + plans * trials
            {
                return Some(format!(
                    "{trials} units of {plans} plans, and {} lines of CSV",
                    csv.lines().count()
                ));
            }
        }
        None
    }
}

#[allow(clippy::disallowed_methods, reason = "inputs of a test")]
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(folder.path().join("study.toml"), format!("{SMALL}{PRICES}")).expect("a study");
    folder
}

#[test]
fn stops_at_any_moment_lose_nothing_that_is_done() {
    // How long each line takes here when nothing stops it.
    let printed = tempfile::tempdir().expect("a temporary folder");
    let unhindered = |line| {
        let stop = Stop {
            line,
            way: Way::Ignored,
            is_endless: false,
            threads: 1,
            after: Duration::ZERO,
            again_after: Duration::ZERO,
        };
        let (folder, start) = (folder(), Instant::now());
        let mut launch = stop.launch(folder.path(), &printed.path().join("out"));
        let status = launch.wait(MOST).expect("it ends");
        let (took, err) = (start.elapsed(), launch.messages());
        let judged = stop.judge(status, &err, folder.path());
        assert_eq!(judged, (Some(End::Done), Vec::new()), "{:?}\n{err}", stop.arguments());
        took
    };
    let lengths: Vec<Duration> = (0..LINES.len()).map(unhindered).collect();
    let (next, found) = (AtomicU64::new(0), Mutex::new((Vec::new(), Vec::new())));
    let work = || {
        let printed = tempfile::tempdir().expect("a temporary folder");
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed);
            if number >= STOPS {
                return;
            }
            let (stop, folder) = (Stop::new(number, &lengths), folder());
            let (end, faults, err) = stop.run(folder.path(), &printed.path().join("out"));
            let mut found = found.lock().expect("no thread fails while it holds this");
            found.0.extend(end);
            if !faults.is_empty() {
                let [words, faults] = [stop.arguments().join(" "), faults.join("; ")];
                found.1.push(format!(
                    "{number}: {:?} after {:?}: {words}\n  {faults}\n  {err}",
                    stop.way, stop.after
                ));
            }
        }
    };
    std::thread::scope(|scope| (0..2).for_each(|_| drop(scope.spawn(work))));
    let (ends, failures) = found.into_inner().expect("no thread failed");
    assert!(failures.is_empty(), "{} of {STOPS}:\n{}", failures.len(), failures.join("\n"));
    // The stops are stops: many met a run at work, and hardly any came before the program was there.
    let count = |end| ends.iter().filter(|of| **of == end).count() as u64;
    let [done, stopped, unheard] = [End::Done, End::Stopped, End::Unheard].map(count);
    println!("{done} were done, {stopped} stopped, {unheard} not there yet");
    assert!(
        stopped >= STOPS / 5 && done >= STOPS / 10 && unheard <= STOPS / 10,
        "{done}, {stopped}, {unheard}"
    );
}

/// The judge sees each fault, and none in the ends beside them that are right.
#[allow(clippy::disallowed_methods, reason = "outputs as a program at fault would leave them")]
#[test]
fn the_judge_of_stops_sees_each_fault() {
    let (no_time, line) = (Duration::ZERO, 3);
    let stop =
        |way, is_endless| Stop { line, way, is_endless, threads: 1, after: no_time, again_after: no_time };
    let ended = |raw: i32| ExitStatus::from_raw(raw);
    let (done, stopped, interrupted) = (ended(0), ended(3 << 8), ended(2));
    let judge = |way, is_endless, status, files: &[(&str, &str)]| {
        let folder = folder();
        files.iter().for_each(|(name, text)| std::fs::write(folder.path().join(name), text).expect("a file"));
        stop(way, is_endless).judge(status, "error: stopped\n", folder.path()).1
    };
    let once = Way::Signal(Signal::SIGINT);
    let json = |partial, trials| {
        (
            "out.json",
            if partial {
                format!("{{\"partial\": true, \"trials\": {trials}, \"calibrations\": [{{}}]}}\n")
            } else {
                format!("{{\"trials\": {trials}, \"calibrations\": [{{}}]}}\n")
            },
        )
    };
    let (_, partial) = json(true, 2);
    let (_, few) = json(false, 2);
    let [csv, page] = [("out.csv", "trial,passed\n0,true\n1,true\n"), ("out.html", "<html></html>\n")];
    let whole = [("out.json", &*partial), csv, page];
    assert_eq!(judge(once, true, stopped, &whole), Vec::<String>::new());
    assert_eq!(judge(once, true, stopped, &[]), Vec::<String>::new());
    assert_eq!(judge(once, false, interrupted, &[]), Vec::<String>::new());
    assert_eq!(judge(Way::Twice(Signal::SIGINT), true, stopped, &whole[..1]), Vec::<String>::new());
    for (way, is_endless, status, files) in [
        // Not all that it had.
        (once, true, stopped, &whole[..1]),
        // A document that does not say that it is partial.
        (once, true, stopped, &[("out.json", &*few), csv, page][..]),
        (once, false, stopped, &[("out.json", &*few), csv, page][..]),
        // Other units in the CSV than in the document.
        (once, true, stopped, &[whole[0], ("out.csv", "trial,passed\n0,true\n"), page][..]),
        // A file that breaks off, and one that was to be renamed.
        (once, true, stopped, &[whole[0], csv, ("out.html", "<html>")][..]),
        (once, true, stopped, &[whole[0], csv, page, (".out.json.part", "{")][..]),
        // An endless run that is done, one that did not hear, an ignored signal that was heard.
        (once, true, done, &whole[..]),
        (once, true, interrupted, &whole[..]),
        (once, true, interrupted, &[]),
        (Way::Ignored, false, stopped, &whole[..]),
        (Way::ReaderGone, true, interrupted, &[]),
    ] {
        assert!(!judge(way, is_endless, status, files).is_empty(), "{way:?} {status} {files:?}");
    }
}
