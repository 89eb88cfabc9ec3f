//! This program and a peer in turn on the 64-element line, so that both see the same machine.
//!
//! `cargo bench --bench paired -- "python3 w64.py --trials 4000 --method peak"`: the peer is any command that prints its speed as
//! "... 1234 trials/s ...". Without a peer only this program is timed. Prints medians of the pairs and of their ratios.

use std::env;
use std::process::Command;

const PAIRS: usize = 5;
const TRIALS: &str = "20000";

fn main() {
    // The test harness's own flags come first; what is left is the peer's command.
    let peer = env::args().skip(1).find(|argument| !argument.starts_with("--"));
    let mut rows = Vec::new();
    for _ in 0..PAIRS {
        let one = own_speed("1");
        let two = own_speed("2");
        let other = peer.as_deref().map(peer_speed);
        rows.push((one, two, other));
    }
    println!("medians of {PAIRS} pairs, W64 peak, trials/s");
    println!("this program, 1 thread    {:9.0}", median(rows.iter().map(|row| row.0)));
    println!("this program, 2 threads   {:9.0}", median(rows.iter().map(|row| row.1)));
    println!("2 threads over 1          {:9.2}", median(rows.iter().map(|row| row.1 / row.0)));
    if peer.is_some() {
        println!("peer, 1 thread            {:9.0}", median(rows.iter().filter_map(|row| row.2)));
        let ratios = rows.iter().filter_map(|row| row.2.map(|peer| row.0 / peer));
        println!("1 thread over the peer    {:9.2}", median(ratios));
    }
}

fn own_speed(threads: &str) -> f64 {
    let study = concat!(env!("CARGO_MANIFEST_DIR"), "/studies/line-64.toml");
    let output = Command::new(env!("CARGO_BIN_EXE_beamyield"))
        .args(["run", study, "--calibration", "peak", "--trials", TRIALS, "--threads", threads, "--quiet"])
        .args(["--json", "-"])
        .output()
        .expect("the program starts");
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).expect("the program prints JSON");
    json["trials"].as_f64().expect("trials") / json["seconds"].as_f64().expect("seconds")
}

fn peer_speed(command: &str) -> f64 {
    let output = Command::new("sh")
        .args(["-c", command])
        .env("OMP_NUM_THREADS", "1")
        .output()
        .expect("the peer starts");
    let text = String::from_utf8_lossy(&output.stdout);
    let before = text.split(" trials/s").next().unwrap_or_default();
    let number = before.rsplit([' ', ',']).next().unwrap_or_default();
    number.parse().unwrap_or_else(|_| panic!("the peer printed no `trials/s`: {text}"))
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}
