//! This program against NumPy and C on the 64-element line, in turn.

use crate::{ROUNDS, median, own_speed, study};
use std::path::{Path, PathBuf};
use std::process::Command;

/// A method and how many trials last some seconds: in the first quarter of a second two cores are slower than later.
pub struct Method {
    pub name: &'static str,
    own_trials: u64,
    numpy_trials: u64,
    /// Trials of the C program; it knows one method.
    c_trials: Option<u64>,
}

pub const METHODS: [Method; 3] = [
    Method { name: "peak", own_trials: 600_000, numpy_trials: 3000, c_trials: Some(20_000) },
    Method { name: "climb", own_trials: 600_000, numpy_trials: 3000, c_trials: None },
    Method { name: "fit", own_trials: 600_000, numpy_trials: 3000, c_trials: None },
];

/// The methods' names, for a message.
pub fn names() -> String {
    METHODS.map(|method| method.name).join(", ")
}

/// One that takes its turn.
struct Runner<'a> {
    who: &'static str,
    threads: usize,
    speed: Box<dyn Fn() -> f64 + 'a>,
}

/// Runs everyone in turn, NumPy first, and prints a table.
pub fn compare(method: &Method) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut runners = Vec::new();
    if has_numpy() {
        let speed = || numpy_speed(method);
        runners.push(Runner { who: "NumPy", threads: 1, speed: Box::new(speed) });
    } else {
        println!("NumPy passed over: `python3` cannot import it");
    }
    for threads in [1, 2] {
        let speed = move || own_speed(&study("line-64"), &[method.name], method.own_trials, threads);
        runners.push(Runner { who: "beamyield", threads, speed: Box::new(speed) });
    }
    if let Some(trials) = method.c_trials {
        match compiled(folder.path()) {
            Some(program) => {
                for threads in [1, 2] {
                    let program = program.clone();
                    let speed = move || {
                        printed_speed(Command::new(&program).args([trials.to_string(), threads.to_string()]))
                    };
                    runners.push(Runner { who: "C", threads, speed: Box::new(speed) });
                }
            }
            None => println!("C passed over: `gcc` cannot compile it"),
        }
    }
    let rounds: Vec<Vec<f64>> =
        (0..ROUNDS).map(|_| runners.iter().map(|runner| (runner.speed)()).collect()).collect();
    print_table(method.name, &runners, &rounds);
}

fn print_table(method: &str, runners: &[Runner], rounds: &[Vec<f64>]) {
    let place = |who: &str, threads| runners.iter().position(|of| of.who == who && of.threads == threads);
    let ratio = |to: Option<usize>, of: usize| match to {
        Some(to) => format!("{:.2}", median(rounds.iter().map(|round| round[of] / round[to]))),
        None => "-".to_owned(),
    };
    println!("method  who        threads  trials/s  to NumPy  to 1 thread");
    for (number, Runner { who, threads, .. }) in runners.iter().enumerate() {
        let speed = median(rounds.iter().map(|round| round[number]));
        let to_numpy = ratio(place("NumPy", 1), number);
        let to_one = ratio(place(who, 1).filter(|one| *one != number), number);
        println!("{method:6}  {who:9}  {threads:7}  {speed:8.0}  {to_numpy:>8}  {to_one:>11}");
    }
    println!();
}

fn peer(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/peers").join(name)
}

fn has_numpy() -> bool {
    let import = Command::new("python3").args(["-c", "import numpy"]).output();
    import.is_ok_and(|output| output.status.success())
}

/// NumPy on one thread, whatever library does its algebra.
fn numpy_speed(method: &Method) -> f64 {
    let mut command = Command::new("python3");
    for threads in ["OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS"] {
        command.env(threads, "1");
    }
    let trials = method.numpy_trials.to_string();
    printed_speed(command.arg(peer("w64.py")).args(["--method", method.name, "--trials", &trials]))
}

/// The C program built for this processor; `None` when there is no compiler for it.
fn compiled(folder: &Path) -> Option<PathBuf> {
    let program = folder.join("w64");
    let build = Command::new("gcc")
        .args(["-O3", "-march=native", "-ffast-math", "-fopenmp", "-o"])
        .arg(&program)
        .arg(peer("w64.c"))
        .arg("-lm")
        .output();
    build.is_ok_and(|output| output.status.success()).then_some(program)
}

/// Trials a second as a peer prints them: "... 1234 trials/s ...".
fn printed_speed(command: &mut Command) -> f64 {
    let output = command.output().expect("the peer starts");
    let text = String::from_utf8_lossy(&output.stdout);
    let before = text.split(" trials/s").next().unwrap_or_default();
    let number = before.rsplit([' ', ',']).next().unwrap_or_default();
    number.parse().unwrap_or_else(|_| panic!("the peer printed no `trials/s`: {text}"))
}
