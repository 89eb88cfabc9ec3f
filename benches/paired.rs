//! Speed against peers, and over the number of channels: programs run in turn, so that all see the same machine, and ratios are
//! taken between runs that directly follow one another.
//!
//! - `cargo bench --bench paired`: the 64-element line against the peers in `benches/peers`, for each method;
//! - `cargo bench --bench paired -- peak`: for one method;
//! - `cargo bench --bench paired -- channels`: time per trial and channel from 64 to 4,096 channels;
//! - `cargo bench --bench paired -- sweep`: a sweep of two parameters together against each of its models alone;
//! - `cargo bench --bench paired -- unsteady`: receivers that drift, stretch levels and saturate, and studies of whole workshops.

// Studies and a compiled peer are put into a temporary folder.
#![allow(clippy::disallowed_methods)]

#[path = "paired/channels.rs"]
mod channels;
#[path = "paired/methods.rs"]
mod methods;
#[path = "paired/sweep.rs"]
mod sweep;
#[path = "paired/unsteady.rs"]
mod unsteady;

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

/// Runs of each program; medians are over these.
const ROUNDS: usize = 5;

fn main() -> ExitCode {
    // Arguments of the test harness begin with dashes.
    let word = std::env::args().skip(1).find(|argument| !argument.starts_with("--"));
    println!("{}; medians of {ROUNDS} rounds\n", machine());
    match word.as_deref() {
        None => methods::METHODS.iter().for_each(methods::compare),
        Some("channels") => channels::curve(),
        Some("sweep") => sweep::compare(),
        Some("unsteady") => unsteady::compare(),
        Some(name) => match methods::METHODS.iter().find(|method| method.name == name) {
            Some(method) => methods::compare(method),
            None => {
                eprintln!(
                    "`{name}` is no method ({}), nor `channels`, `sweep`, `unsteady`",
                    methods::names()
                );
                return ExitCode::FAILURE;
            }
        },
    }
    ExitCode::SUCCESS
}

/// The processor and its cores.
fn machine() -> String {
    let cpuinfo = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let model = cpuinfo.lines().find_map(|line| line.strip_prefix("model name")?.split_once(':'));
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let name = model.map_or(std::env::consts::ARCH, |(_, name)| name.trim());
    format!("{name}, {cores} {}", if cores == 1 { "core" } else { "cores" })
}

/// Trials a second of this program by its own clock, which starts when the study is read.
/// By some of the study's plans, or by all where none is named.
fn own_speed(study: &Path, calibrations: &[&str], trials: u64, threads: usize) -> f64 {
    let output = Command::new(env!("CARGO_BIN_EXE_beamyield"))
        .arg("run")
        .arg(study)
        .args(calibrations.iter().flat_map(|name| ["--calibration", name]))
        .args(["--quiet", "--json", "-"])
        .args(["--trials", &trials.to_string(), "--threads", &threads.to_string()])
        .output()
        .expect("the program starts");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).expect("the program prints JSON");
    json["trials"].as_f64().expect("trials") / json["seconds"].as_f64().expect("seconds")
}

/// A study that ships.
fn study(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("studies/{name}.toml"))
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}
