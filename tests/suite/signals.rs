//! Signals, readers that go away or pause, and what is left of a program that is stopped.
#![cfg(target_os = "linux")]

use crate::program::{Ended, Folder, SMALL, ended};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// A run that would take hours.
const LONG: [&str; 5] = ["run", "study.toml", "--quiet", "--trials", "1000000000"];

/// What a stop may take here, where other tests run beside: a second, and as much again for the machine.
const SOON: Duration = Duration::from_secs(2);

fn started(command: &mut Command) -> Child {
    command.stderr(Stdio::piped()).spawn().expect("the program starts")
}

fn signal(child: &Child, name: &str) {
    let sent = Command::new("kill").args([name, &child.id().to_string()]).status().expect("kill");
    assert!(sent.success());
}

/// Lets a run get under way.
fn wait() {
    sleep(Duration::from_millis(900));
}

/// Its end, which must come within a time.
fn end_within(mut child: Child, within: Duration) -> Ended {
    let began = Instant::now();
    while child.try_wait().expect("its state").is_none() {
        if began.elapsed() > within {
            child.kill().expect("its end");
            panic!("still at work after {within:?}");
        }
        sleep(Duration::from_millis(10));
    }
    ended(child.wait_with_output().expect("its end"))
}

fn names(folder: &Folder) -> Vec<String> {
    let name = |path: &std::path::PathBuf| path.file_name().expect("a name").display().to_string();
    folder.names().iter().map(name).collect()
}

#[test]
fn a_run_whose_reader_has_gone_ends() {
    let folder = Folder::with(SMALL);
    let gone = "error: the reader of standard output has gone; stopped after ";
    // While rows are read, and before anything is written.
    for more in [&["--csv", "-"][..], &[]] {
        let mut child = started(folder.heeding(&[&LONG[..], more].concat()).stdout(Stdio::piped()));
        let mut reader = BufReader::new(child.stdout.take().expect("its output"));
        if more.is_empty() {
            wait();
        } else {
            reader.read_line(&mut String::new()).expect("a line");
        }
        drop(reader);
        let ended = end_within(child, SOON);
        assert_eq!(ended.code, Some(3), "{}", ended.err);
        assert!(ended.err.starts_with(gone) && ended.err.lines().count() == 1, "{}", ended.err);
    }
    // The twin: what else is wanted is still worked for.
    let arguments = ["run", "study.toml", "--quiet", "--trials", "3000", "--csv", "-", "--json", "run.json"];
    let mut child = started(folder.heeding(&arguments).stdout(Stdio::piped()));
    drop(child.stdout.take());
    let ended = end_within(child, Duration::from_secs(60));
    assert_eq!((ended.code, ended.err.as_str()), (Some(0), ""));
    assert_eq!(folder.json("run.json")["trials"], 3000);
}

#[test]
fn a_stop_is_heard_while_a_reader_pauses() {
    let folder = Folder::with(SMALL);
    let arguments = [&LONG[..], &["--csv", "-", "--json", "run.json"]].concat();
    let mut child = started(folder.heeding(&arguments).stdout(Stdio::piped()));
    // Nobody reads, but somebody could.
    let paused = child.stdout.take();
    wait();
    signal(&child, "-INT");
    let ended = end_within(child, SOON);
    assert_eq!(ended.code, Some(3), "{}", ended.err);
    assert_eq!(folder.json("run.json")["partial"], true);
    drop(paused);
}

#[test]
fn any_signal_to_stop_ends_a_run_with_what_it_has() {
    let folder = Folder::with(SMALL);
    for name in ["-INT", "-TERM", "-HUP"] {
        let arguments = [&LONG[..], &["--threads", "2", "--csv", "units.csv", "--json", "run.json"]].concat();
        let child = started(folder.heeding(&arguments).stdout(Stdio::null()));
        wait();
        signal(&child, name);
        let ended = end_within(child, SOON);
        assert_eq!(ended.code, Some(3), "{name}: {}", ended.err);
        assert!(
            ended.err.starts_with("stopping; finishing at most 128 units\nerror: stopped after "),
            "{}",
            ended.err
        );
        let document = folder.json("run.json");
        assert_eq!(document["partial"], true);
        let rows = folder.read("units.csv").lines().count() as u64;
        assert_eq!(rows, 1 + 3 * document["trials"].as_u64().expect("a count"));
        assert_eq!(names(&folder), ["run.json", "study.toml", "units.csv"]);
        folder.put("run.json", "");
        folder.put("units.csv", "");
    }
}

#[test]
fn a_second_signal_ends_at_once_and_nothing_is_left() {
    let folder = Folder::with(SMALL);
    let arguments = [&LONG[..], &["--csv", "units.csv", "--json", "run.json"]].concat();
    let child = started(folder.heeding(&arguments).stdout(Stdio::null()));
    wait();
    // A stopped process hears both at once when it goes on.
    for name in ["-STOP", "-INT", "-TERM", "-CONT"] {
        signal(&child, name);
    }
    let ended = end_within(child, SOON);
    assert_eq!(ended.code, Some(3), "{}", ended.err);
    assert!(ended.err.ends_with("error: stopped; nothing more is written\n"), "{}", ended.err);
    assert_eq!(names(&folder), ["study.toml"]);
    // Nor is there anything of one that is killed.
    let child = started(folder.heeding(&arguments).stdout(Stdio::null()));
    wait();
    signal(&child, "-KILL");
    assert_eq!(end_within(child, SOON).code, None);
    assert_eq!(names(&folder), ["study.toml"]);
}

#[test]
fn signals_that_were_ignored_stay_ignored() {
    let folder = Folder::with(SMALL);
    let program = env!("CARGO_BIN_EXE_beamyield");
    // `nohup` ignores HUP; a shell without job control has its background jobs ignore INT.
    let of_shell = format!(
        "{program} run study.toml --quiet --trials 6000 --csv units.csv & sleep 0.3; kill -INT $!; wait $!"
    );
    let ended_by_shell = ended(
        Command::new("sh").args(["-c", &of_shell]).current_dir(folder.path()).output().expect("a shell"),
    );
    assert_eq!(ended_by_shell.code, Some(0), "{}", ended_by_shell.err);
    assert_eq!(folder.read("units.csv").lines().count(), 1 + 3 * 6000);
    let mut command = Command::new("nohup");
    command.args([program, "run", "study.toml", "--quiet", "--trials", "6000", "--csv", "units.csv"]);
    let child = started(command.current_dir(folder.path()).stdin(Stdio::null()).stdout(Stdio::piped()));
    sleep(Duration::from_millis(300));
    signal(&child, "-HUP");
    let by_nohup = end_within(child, Duration::from_secs(60));
    assert_eq!(by_nohup.code, Some(0), "{}", by_nohup.err);
}

#[test]
fn a_command_without_a_run_ends_at_once() {
    let folder = Folder::with(SMALL);
    // It waits for a study that does not come.
    for arguments in [&["check", "-"][..], &["unit", "-", "0"], &["run", "-"]] {
        let mut child = started(folder.heeding(arguments).stdin(Stdio::piped()).stdout(Stdio::piped()));
        let input = child.stdin.take();
        sleep(Duration::from_millis(300));
        signal(&child, "-INT");
        let ended = end_within(child, SOON);
        assert_eq!((ended.code, ended.out.as_str()), (Some(3), ""), "{arguments:?}");
        assert_eq!(ended.err, "error: stopped; nothing more is written\n");
        drop(input);
    }
}
