//! Many cases one after the other, on a few threads, and their results.

use super::case::Case;
use super::studies::origins;
use std::collections::BTreeMap;
use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// The program and the cases to launch.
pub struct Campaign {
    pub seed: u64,
    /// Numbers of the cases.
    pub numbers: std::ops::Range<u64>,
    /// When to end, whatever is left.
    pub until: Option<Instant>,
    pub workers: usize,
}

/// The results.
#[derive(Default)]
pub struct Found {
    pub launches: u64,
    /// Launches by command and how they ended.
    pub ends: BTreeMap<(&'static str, String), u64>,
    /// The slowest launch and its number.
    pub slowest: (Duration, u64),
    /// Each case that went wrong, and how to see it again.
    pub failures: Vec<String>,
}

impl Campaign {
    /// Launches the cases; those that go wrong are kept in folders below `kept`.
    #[allow(clippy::disallowed_methods, reason = "cases that failed are kept for people to inspect")]
    pub fn run(&self, kept: &Path) -> Found {
        let (origins, next, found) =
            (origins(), AtomicU64::new(self.numbers.start), Mutex::new(Found::default()));
        let work = || {
            let said = tempfile::tempdir().expect("a temporary folder");
            loop {
                let number = next.fetch_add(1, Ordering::Relaxed);
                let is_over = self.until.is_some_and(|until| Instant::now() > until);
                if number >= self.numbers.end || is_over {
                    return;
                }
                let case = Case::new(&origins, self.seed, number);
                let folder = tempfile::tempdir().expect("a temporary folder");
                case.put(folder.path());
                let (ended, faults) = case.launch(folder.path(), said.path());
                let mut found = found.lock().expect("no thread fails while it holds this");
                found.launches += 1;
                let end = match ended.code {
                    _ if ended.is_hung => "hung".to_owned(),
                    None => "signal".to_owned(),
                    Some(code) => format!("exit {code}"),
                };
                *found.ends.entry((case.command, end)).or_default() += 1;
                found.slowest = found.slowest.max((ended.took, number));
                if !faults.is_empty() {
                    let folder = self.keep(&case, number, &ended.err, kept);
                    let again =
                        format!("cargo bench --bench campaign -- --seed {} --only {number}", self.seed);
                    let (faults, words) = (faults.join("; "), case.words());
                    found
                        .failures
                        .push(format!("{number}: {faults}\n  {words}\n  in {}; {again}", folder.display()));
                }
            }
        };
        std::thread::scope(|scope| (0..self.workers).for_each(|_| drop(scope.spawn(work))));
        found.into_inner().expect("no thread failed")
    }

    #[allow(clippy::disallowed_methods, reason = "cases that failed are kept for people to inspect")]
    fn keep(&self, case: &Case, number: u64, err: &[u8], kept: &Path) -> PathBuf {
        let folder = kept.join(format!("{}-{number}", self.seed));
        std::fs::create_dir_all(&folder).expect("a folder for what failed");
        case.put(&folder);
        std::fs::write(folder.join("command.txt"), case.words() + "\n").expect("a file");
        std::fs::write(folder.join("messages.txt"), err).expect("a file");
        folder
    }
}

impl fmt::Display for Found {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        writeln!(f, "{} launches, {} of them wrong", self.launches, self.failures.len())?;
        let mut of = "";
        for ((command, end), count) in &self.ends {
            write!(
                f,
                "{}{end}: {count}",
                if *command == of { ", ".into() } else { format!("\n{command:8} ") }
            )?;
            of = command;
        }
        let (slowest, number) = self.slowest;
        writeln!(f, "\nslowest: {:.2} s, case {number}", slowest.as_secs_f64())?;
        self.failures.iter().try_for_each(|failure| writeln!(f, "\n{failure}"))
    }
}
