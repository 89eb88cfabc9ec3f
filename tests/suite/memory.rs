//! Memory of a run, for all outputs and numbers of threads.

use crate::program::{Folder, SMALL};
use std::process::{Child, Stdio};
use std::time::Duration;

/// A run holds no more than this, MB.
const MOST: u64 = 500;

/// Peak memory of a running program so far, kB.
fn peak(child: &Child) -> Option<u64> {
    let text = std::fs::read_to_string(format!("/proc/{}/status", child.id())).ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.split_whitespace().next()?.parse().ok()
}

/// Runs the program to its end, samples its memory often, and returns the peak, MB.
fn run(folder: &Folder, arguments: &[&str]) -> u64 {
    let mut child =
        folder.command(arguments).stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("it starts");
    let mut most = 0;
    loop {
        most = peak(&child).map_or(most, |now| most.max(now));
        if let Some(ended) = child.try_wait().expect("its state") {
            assert!(ended.success(), "{arguments:?}: {ended}");
            return most >> 10;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// The shipped study with the most columns, past the units whose values are kept one by one; and one of a thousand beams, which fills all
/// the room that columns may take. The forecast of `check` is right within a factor.
#[test]
#[cfg(target_os = "linux")]
fn a_run_stays_within_its_memory_whatever_it_writes() {
    let folder = Folder::with("");
    folder.put("worst.toml", include_str!("../../studies/quay-link-16.toml"));
    let run_of = |study: &str, trials: &str, threads: &str, more: &[&str]| {
        run(&folder, &[&["run", study, "--quiet", "--trials", trials, "--threads", threads], more].concat())
    };
    let outputs = ["--csv", "units.csv", "--json", "out.json"];
    let held = [
        run_of("worst.toml", "40000", "1", &[]),
        run_of("worst.toml", "40000", "16", &[]),
        run_of("worst.toml", "40000", "16", &outputs),
    ];
    assert!(held.iter().all(|held| *held < MOST), "{held:?} MB");
    folder.done(&["check", "worst.toml", "--set", "trials=40000", "--json", "check.json"]);
    let of_check = folder.json("check.json")["run"]["memory_bytes"].as_u64().expect("a size") >> 20;
    assert!((held[0] / 2..held[0] * 2).contains(&of_check), "{of_check} MB forecast, {held:?} MB held");

    let beams = |number: u32| {
        let theta = -50.0 + 0.1 * f64::from(number);
        format!("[[beam]]\nname = \"b{number}\"\ntheta = \"{theta:.1} deg\"\n\n")
    };
    let (head, rest) = SMALL.split_once("[[block]]").expect("blocks");
    folder.put("many.toml", format!("{head}{}[[block]]{rest}", (0..1000).map(beams).collect::<String>()));
    let held = run_of("many.toml", "128", "16", &outputs);
    assert!(held < MOST, "{held} MB of a thousand beams, all written");
    // The values of so many units would take more than all that is held.
    let header = folder.read("units.csv").lines().next().expect("a header").split(',').count();
    let plans = folder.json("out.json")["calibrations"].as_array().expect("plans").len();
    let units = MOST * 1_000_000 / (8 * header as u64 * plans as u64) + 1;
    let held = run_of("many.toml", &units.to_string(), "2", &[]);
    assert!(held < MOST, "{held} MB of {units} units");
}
