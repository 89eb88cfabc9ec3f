//! Signals, readers that go away or pause, and what is left of a program that is stopped.
#![cfg(target_os = "linux")]

use crate::program::{Folder, SMALL};
use crate::watched::Watched;
use nix::sys::signal::Signal;
use std::process::{Command, Stdio};
use std::time::Duration;

/// A run that would take hours.
const LONG: [&str; 4] = ["run", "study.toml", "--trials", "1000000000"];

/// What a stop may take here, where other tests run beside: a second, and as much again for the machine.
const SOON: Duration = Duration::from_secs(2);

/// What a whole run of some thousand units may take, however slow the machine.
const WHOLE: Duration = Duration::from_secs(120);

/// Launches a command and waits until its first units are done.
fn at_work(command: &mut Command) -> Watched {
    let mut launch = Watched::launch(command);
    launch.wait_for_work();
    launch
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
        let mut launch = Watched::launch(folder.heeding(&[&LONG[..], more].concat()).stdout(Stdio::piped()));
        if more.is_empty() {
            launch.wait_for_work();
            drop(launch.take_stdout());
        } else {
            drop(launch.read_a_line());
        }
        let ended = launch.end_within(SOON);
        assert_eq!(ended.code, Some(3), "{}", ended.err);
        assert!(ended.err.starts_with(gone) && ended.err.lines().count() == 1, "{}", ended.err);
    }
    // Without a reader a run goes on for its other outputs.
    let arguments = ["run", "study.toml", "--quiet", "--trials", "3000", "--csv", "-", "--json", "run.json"];
    let mut launch = Watched::launch(folder.heeding(&arguments).stdout(Stdio::piped()));
    drop(launch.take_stdout());
    let ended = launch.end_within(WHOLE);
    assert_eq!((ended.code, ended.err.as_str()), (Some(0), ""));
    assert_eq!(folder.json("run.json")["trials"], 3000);
}

#[test]
fn a_stop_is_heard_while_a_reader_pauses() {
    let folder = Folder::with(SMALL);
    let arguments = [&LONG[..], &["--csv", "-", "--json", "run.json"]].concat();
    let mut launch = Watched::launch(folder.heeding(&arguments).stdout(Stdio::piped()));
    // The reader has read a line, and could read on.
    let paused = launch.read_a_line();
    launch.signal(Signal::SIGINT);
    let ended = launch.end_within(SOON);
    assert_eq!(ended.code, Some(3), "{}", ended.err);
    assert_eq!(folder.json("run.json")["partial"], true);
    drop(paused);
}

#[test]
fn any_signal_to_stop_ends_a_run_with_what_it_has() {
    let folder = Folder::with(SMALL);
    for signal in [Signal::SIGINT, Signal::SIGTERM, Signal::SIGHUP] {
        let arguments = [&LONG[..], &["--threads", "2", "--csv", "units.csv", "--json", "run.json"]].concat();
        let launch = at_work(folder.heeding(&arguments).stdout(Stdio::null()));
        launch.signal(signal);
        let ended = launch.end_within(SOON);
        assert_eq!(ended.code, Some(3), "{signal}: {}", ended.err);
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
    let launch = at_work(folder.heeding(&arguments).stdout(Stdio::null()));
    // A stopped process hears both at once when it goes on.
    for signal in [Signal::SIGSTOP, Signal::SIGINT, Signal::SIGTERM, Signal::SIGCONT] {
        launch.signal(signal);
    }
    let ended = launch.end_within(SOON);
    assert_eq!(ended.code, Some(3), "{}", ended.err);
    assert!(ended.err.ends_with("error: stopped; nothing more is written\n"), "{}", ended.err);
    assert_eq!(names(&folder), ["study.toml"]);
    // Nor is there anything of one that is killed.
    let launch = at_work(folder.heeding(&arguments).stdout(Stdio::null()));
    launch.signal(Signal::SIGKILL);
    assert_eq!(launch.end_within(SOON).code, None);
    assert_eq!(names(&folder), ["study.toml"]);
}

#[test]
fn signals_that_were_ignored_stay_ignored() {
    let folder = Folder::with(SMALL);
    // As `nohup` does with HUP, and a shell without job control with INT for what it starts in the background.
    for (name, signal) in [("HUP", Signal::SIGHUP), ("INT", Signal::SIGINT)] {
        let mut command = Command::new("sh");
        command.args(["-c", &format!("trap '' {name}; exec \"$@\""), "sh", env!("CARGO_BIN_EXE_beamyield")]);
        command.args(["run", "study.toml", "--trials", "6000", "--csv", "units.csv"]);
        command.current_dir(folder.path()).stdin(Stdio::null()).stdout(Stdio::piped());
        let launch = at_work(&mut command);
        launch.signal(signal);
        let ended = launch.end_within(WHOLE);
        assert_eq!(ended.code, Some(0), "{name}: {}", ended.err);
        assert_eq!(folder.read("units.csv").lines().count(), 1 + 3 * 6000);
        folder.put("units.csv", "");
    }
}

#[test]
fn a_command_without_a_run_ends_at_once() {
    let folder = Folder::with(SMALL);
    // It waits for a study that does not come.
    for arguments in [&["check", "-"][..], &["unit", "-", "0"], &["run", "-"]] {
        let mut launch =
            Watched::launch(folder.heeding(arguments).stdin(Stdio::piped()).stdout(Stdio::piped()));
        let input = launch.child.stdin.take();
        launch.wait_until_it_hears(Signal::SIGINT);
        launch.signal(Signal::SIGINT);
        let ended = launch.end_within(SOON);
        assert_eq!((ended.code, ended.out.as_str()), (Some(3), ""), "{arguments:?}");
        assert_eq!(ended.err, "error: stopped; nothing more is written\n");
        drop(input);
    }
}
