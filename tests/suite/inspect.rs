//! `inspect`: the effect of inspections on parts and units, and the choice of their limits.

mod asking;
mod limits;
mod risks;
mod sampling;

use crate::program::{Folder, nulls};
use serde_json::Value;

/// Two elements whose leads are gauged, as built, in a study without limits: the parts alone.
fn parts(distribution: &str, inspection: &str) -> String {
    format!(
        r#"
title = "Leads"
seed = 5
trials = 200
frequencies = ["10 GHz"]
figures = ["pointing_error"]
array = {{ layout = {{ kind = "linear", count = 2, spacing = "15 mm" }} }}
beam = [{{ name = "ahead", theta = "0 deg" }}]
block = [
    {{ name = "lead", kind = "cable", velocity_factor = 0.7, length = {{ nominal = "900 mm", {distribution}, inspection = {inspection} }} }},
    {{ name = "shifter", kind = "phase_shifter", bits = 12 }},
]
calibration = [{{ name = "as built" }}]
"#
    )
}

/// The same with a spec that the leads alone decide: the beam of two elements points by the difference of two lengths.
fn units(distribution: &str, inspection: &str) -> String {
    parts(distribution, inspection) + "limit = [{ figure = \"pointing_error\", at_most = \"9.5 deg\" }]\n"
}

const NORMAL: &str = "normal = { sd = \"1 mm\" }";

/// The results for a study's leads.
fn inspect(folder: &Folder, more: &[&str]) -> Value {
    let always = ["inspect", "study.toml", "--source", "lead.length", "--quiet", "--json", "inspect.json"];
    folder.done(&[&always, more].concat());
    let document = folder.json("inspect.json");
    assert_eq!(nulls(&document), [""; 0]);
    document
}

/// The parts of the study's own, as they are stated.
fn own_parts(study: &str) -> Value {
    inspect(&Folder::with(study), &[])["settings"][0]["parts"].clone()
}

fn number(of: &Value) -> f64 {
    of.as_f64().unwrap_or_else(|| panic!("a number: {of}"))
}

/// Checks a value within a tolerance.
fn near(found: &Value, expected: f64, tolerance: f64) {
    let found = number(found);
    assert!((found - expected).abs() <= tolerance, "{found}, expected {expected}");
}

/// Checks a counted share within four standard errors of the count, which must be small enough to detect a deviation of a fifth.
fn counted(share: &Value, expected: f64) {
    let (value, count) = (number(&share["value"]), number(&share["count"]));
    let error = (expected * (1.0 - expected) / count).sqrt();
    assert!((value - expected).abs() <= 4.0 * error, "{value} counted, {expected} expected");
    assert!(
        (value - 1.2 * expected).abs() > 4.0 * error,
        "{value} counted, too few to tell {expected} from a fifth more"
    );
}
