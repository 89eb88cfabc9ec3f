//! Inspections as a program: what they do to parts and units, and which limit they should have.

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

const LAW: &str = "normal = { sd = \"1 mm\" }";

/// What is told of a study's leads.
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

/// Within so much of what is due.
fn near(found: &Value, due: f64, tolerance: f64) {
    let found = number(found);
    assert!((found - due).abs() <= tolerance, "{found} is due as {due}");
}

/// Whether a counted share holds what is due within four standard errors of the count; they have to be enough to tell a fifth more.
fn counted(share: &Value, due: f64) {
    let (value, count) = (number(&share["value"]), number(&share["count"]));
    let error = (due * (1.0 - due) / count).sqrt();
    assert!((value - due).abs() <= 4.0 * error, "{value} counted, {due} due");
    assert!((value - 1.2 * due).abs() > 4.0 * error, "{value} counted, a twin of {due} is not told");
}
