//! `cost`: identities of costs, costs by hand, and its documents.

mod answers;
mod documents;
mod identities;
mod rework;

use crate::program::{Folder, SMALL, edited};
use serde_json::Value;

/// The small study with a limit that some units of each plan miss.
fn strict() -> String {
    edited(SMALL, &[("at_most = \"0.4 dB\"", "at_most = \"0.05 dB\"")])
}

/// The small study with limits that every unit meets.
fn loose() -> String {
    edited(
        SMALL,
        &[
            ("at_most = \"0.4 dB\"", "at_most = \"300 dB\""),
            ("at_most = \"0.1 beamwidth\"", "at_most = \"50 beamwidth\""),
        ],
    )
}

/// Prices of our own for it, without one-time payments: 8 channels for 40 and 80 more are 400.
const PRICES: &str =
    "\n[cost]\ncurrency = \"EUR\"\nunits_a_year = 300\nchannel = 40\nunit = 80\nbench_minute = 2.5\n";

fn priced(study: &str, more: &str) -> String {
    format!("{study}{PRICES}{more}\n")
}

/// The document that a costing of a study gives.
fn document(study: &str, arguments: &[&str]) -> Value {
    let folder = Folder::with(study);
    let mut all = vec!["cost", "study.toml", "--quiet", "--json", "c.json"];
    all.extend_from_slice(arguments);
    folder.done(&all);
    folder.json("c.json")
}

fn list(of: &Value) -> &Vec<Value> {
    of.as_array().expect("a list")
}

fn float(of: &Value) -> f64 {
    of.as_f64().expect("a number")
}

/// The calibration plan with a name.
fn model<'v>(document: &'v Value, name: &str) -> &'v Value {
    list(&document["plans"]).iter().find(|model| model["name"] == name).expect("the plan")
}

/// The same number but for the last digits that reading a document may cost.
fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 4.0 * f64::EPSILON * b.abs()
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * b.abs().max(1.0)
}
