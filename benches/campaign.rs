//! The suite's campaign of spoiled and changed studies, for as long as one likes.
//!
//! - `cargo bench --bench campaign -- --minutes 60 --seed 7`: an hour of launches;
//! - `cargo bench --bench campaign -- --seed 7 --only 1234`: one case again, its folder kept.
//!
//! `--workers` says how many launches run at a time, two where it is left out. Cases that go wrong are kept below `target/tmp/campaign`.

#[path = "../tests/suite/campaign/case.rs"]
mod case;
#[path = "../tests/suite/campaign/changes.rs"]
mod changes;
#[path = "../tests/suite/campaign/commands.rs"]
mod commands;
#[path = "../tests/suite/campaign/drive.rs"]
mod drive;
#[path = "../tests/suite/campaign/judge.rs"]
mod judge;
#[path = "../tests/suite/campaign/launch.rs"]
mod launch;
#[path = "../tests/suite/campaign/studies.rs"]
mod studies;

use drive::Campaign;
use std::path::Path;
use std::process::ExitCode;
use std::time::{Duration, Instant};

fn main() -> ExitCode {
    let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join("campaign");
    let [seed, workers] =
        [("--seed", 7), ("--workers", 2)].map(|(name, usual)| number(name).unwrap_or(usual));
    if let Some(only) = number("--only") {
        return again(seed, only, &kept);
    }
    let minutes = number("--minutes").unwrap_or(1);
    let until = Instant::now() + Duration::from_secs(60 * minutes);
    let campaign = Campaign { seed, numbers: 0..u64::MAX, until: Some(until), workers: workers as usize };
    println!("seed {seed}, {minutes} min, {workers} at a time");
    let found = campaign.run(&kept);
    println!("{found}");
    #[cfg(unix)]
    if let Some(most) = largest() {
        println!("largest launch: {:.0} MB", most as f64 / 1e6);
    }
    if found.failures.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Launches one case again and shows its output.
#[allow(clippy::disallowed_methods, reason = "the case is kept for people to inspect")]
fn again(seed: u64, only: u64, kept: &Path) -> ExitCode {
    let case = case::Case::new(&studies::origins(), seed, only);
    let folder = kept.join(format!("{seed}-{only}-again"));
    let _ = std::fs::remove_dir_all(&folder);
    case.put(&folder);
    let said = tempfile::tempdir().expect("a temporary folder");
    let (ended, faults) = case.launch(&folder, said.path());
    println!("cd {}\n{}\n", folder.display(), case.words());
    println!("exit {:?} after {:.2} s", ended.code, ended.took.as_secs_f64());
    println!("{}{}", String::from_utf8_lossy(&ended.out), String::from_utf8_lossy(&ended.err));
    faults.iter().for_each(|fault| println!("wrong: {fault}"));
    if faults.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// The number after an option.
fn number(name: &str) -> Option<u64> {
    let mut arguments = std::env::args().skip_while(|argument| argument != name).skip(1);
    let word = arguments.next()?;
    Some(word.parse().unwrap_or_else(|_| panic!("{name} takes a whole number, not `{word}`")))
}

/// The most memory that any launch took, bytes.
#[cfg(unix)]
fn largest() -> Option<u64> {
    use nix::sys::resource::{UsageWho, getrusage};
    let usage = getrusage(UsageWho::RUSAGE_CHILDREN).ok()?;
    // Linux counts in KiB, macOS in bytes.
    let unit = if cfg!(target_os = "macos") { 1 } else { 1024 };
    Some(usage.max_rss() as u64 * unit)
}
