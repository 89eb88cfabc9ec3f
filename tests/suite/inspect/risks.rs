//! Parts against numbers from outside; rows of the list of check values.

use super::{NORMAL, counted, inspect, near, number, own_parts, parts};
use crate::program::Folder;

/// A7.11: a guard band by a probability of conformance. Source: JCGM 106:2012, table 1 (from memory).
#[test]
fn guard_bands_by_conformance() {
    for (conformance, z) in [(0.8, 0.84), (0.9, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)] {
        let inspection = format!(
            "{{ tolerance = \"2 mm\", guard = {{ conformance = {conformance} }}, gauge = {{ sd = \"0.1 mm\" }} }}"
        );
        let result = inspect(&Folder::with(parts(NORMAL, &inspection)), &[]);
        let of = &result["settings"][0];
        let guard = number(&of["parts"]["tolerance"]["to"]) - number(&of["accept"]["to"]);
        assert!((guard / 0.1 - z).abs() < 0.006, "{conformance}: {guard}");
        near(&of["accept"]["from"], -number(&of["accept"]["to"]), 1e-12);
        // On the limit, with nothing known of the parts, just the rest of the conformance is left.
        near(&of["parts"]["at_limit"]["specific_risk_without_prior"], 1.0 - conformance, 1e-6);
    }
}

/// A7.12: a limit of 100, a gauge of 2 % of the reading, conformance 99.9 %: what reads 107 is beyond it, 106 is not. Source: JCGM 106:2012,
/// the example of 8.3.3 (from memory): 100/(1 - 3.09 0.02) = 106.6.
#[test]
fn a_limit_that_a_reading_proves_to_be_exceeded() {
    // The reading on the limit and its spread say each other.
    let reading = 100.0 / (1.0 - 3.090_232 * 0.02);
    let inspection = format!(
        "{{ tolerance = {{ from = \"100 mm\" }}, guard = {{ conformance = 0.999 }}, gauge = {{ sd = \"{:.6} mm\" }} }}",
        0.02 * reading
    );
    let result = inspect(&Folder::with(parts("uniform = { half_width = \"150 mm\" }", &inspection)), &[]);
    let accept = &result["settings"][0]["accept"];
    near(&accept["from"], 106.59, 0.01);
    assert_eq!(number(&accept["from"]).ceil(), 107.0);
    assert!(accept.get("to").is_none(), "{accept}");
}

/// A7.13: global risks of a normal process in a tolerance. Source: JCGM 106:2012, 9.5 (parameters from memory, values recomputed by a
/// double integral).
#[test]
fn global_risks() {
    for (guard, consumer, producer) in [
        ("\"0 mm\"", 0.01894, 0.03721),
        ("\"0.04 mm\"", 0.004334, 0.1147),
        ("{ expanded = 1 }", 0.0004686, 0.2477),
    ] {
        let inspection =
            format!("{{ tolerance = \"0.2 mm\", guard = {guard}, gauge = {{ sd = \"0.04 mm\" }} }}");
        let result = own_parts(&parts("normal = { sd = \"0.12 mm\" }", &inspection));
        near(&result["shares"]["consumer_risk"], consumer, 5.1e-4 * consumer);
        near(&result["shares"]["producer_risk"], producer, 5.1e-4 * producer);
        counted(&result["counted"]["producer_risk"], producer);
        if consumer > 0.001 {
            counted(&result["counted"]["consumer_risk"], consumer);
        }
    }
}

/// A7.14: a reading on an acceptance limit behind a guard band of r U. Source: JCGM 106:2012, 8.3, ILAC G8 (from memory): 1 - Phi(2 r).
#[test]
fn specific_risk_on_the_limit() {
    for (r, risk) in [(0.0, 0.5), (0.5, 0.1587), (1.0, 0.02275)] {
        let inspection = format!(
            "{{ tolerance = \"2 mm\", guard = {{ expanded = {r} }}, gauge = {{ sd = \"0.1 mm\" }} }}"
        );
        let result = own_parts(&parts(NORMAL, &inspection));
        near(&result["at_limit"]["specific_risk_without_prior"], risk, 5e-5);
        // Parts thin out there, so what is known of them makes it less: own derivation, the reading drawn toward the middle by
        // 1/(1 + 0.01) and its spread by the root of that.
        let reading = 2.0 - 0.2 * r;
        let (mean, sd) = (reading / 1.01, 0.1 / 1.01_f64.sqrt());
        let known = 1.0 - beyond((2.0 - mean) / sd);
        near(&result["at_limit"]["specific_risk"], known, 2e-5);
        assert!(known < risk);
    }
}

/// Phi by a long sum: another arithmetic than the program's.
fn beyond(z: f64) -> f64 {
    const STEPS: usize = 200_000;
    let width = (z + 12.0) / STEPS as f64;
    let density = |x: f64| (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt();
    (0..STEPS).map(|i| density(-12.0 + (i as f64 + 0.5) * width) * width).sum()
}

/// A8.14: unit normal parts screened by an exact gauge. Source: Johnson, Kotz & Balakrishnan, chapter 13 (from memory).
#[test]
fn what_an_exact_gauge_leaves() {
    for (limit, sd) in [(1.0, 0.53956), (2.0, 0.87963), (3.0, 0.98658)] {
        let result = own_parts(&parts(NORMAL, &format!("{{ accept = \"{limit} mm\" }}")));
        near(&result["accepted"]["sd"], sd, 6e-6);
        near(&result["counted"]["sd"], sd, 0.01 * sd);
        assert_eq!((&result["shares"]["consumer_risk"], &result["gauge"]["sd"]), (&0.0.into(), &0.0.into()));
    }
    let result = own_parts(&parts(NORMAL, "{ accept = { to = \"1 mm\" } }"));
    near(&result["accepted"]["mean"], -0.28760, 6e-6);
    near(&result["accepted"]["sd"], 0.79353, 6e-6);
    near(&result["accepted"]["percentiles"]["50"], -0.2003, 2e-4);
    near(&result["delivered"]["sd"], 1.0, 1e-12);
}

/// A8.15: the same by a gauge with an error. Source: own derivation, a double integral.
#[test]
fn what_a_gauge_with_an_error_leaves() {
    for (limit, gauge, rejected, sd, escapes) in
        [("2", "0.2", 0.04986, 0.8767, 0.007131), ("1.5", "0.3", 0.1508, 0.7475, 0.02766)]
    {
        let inspection = format!("{{ accept = \"{limit} mm\", gauge = {{ sd = \"{gauge} mm\" }} }}");
        let result = own_parts(&parts(NORMAL, &inspection));
        near(&result["shares"]["rejected"], rejected, 6e-5 * (rejected / 0.05));
        near(&result["shares"]["escapes"], escapes, 6e-4 * escapes);
        near(&result["accepted"]["sd"], sd, 6e-5);
        counted(&result["counted"]["rejected"], rejected);
        counted(&result["counted"]["escapes"], escapes);
        near(&result["turned_away_a_part"], rejected / (1.0 - rejected), 1e-4);
    }
}

/// A8.16: the gauge as a measurement system. Source: AIAG, Measurement Systems Analysis (from memory).
#[test]
fn the_share_of_the_gauge() {
    let result = own_parts(&parts(NORMAL, "{ accept = \"2 mm\", gauge = { sd = \"0.2 mm\" } }"));
    near(&result["gauge"]["observed_sd"], 1.020, 5e-4);
    near(&result["gauge"]["share"], 0.1961, 5e-5);
    near(&result["gauge"]["classes"], 7.071, 5e-4);
}

/// A gauge worse than the parts raises a warning, and the text states the consequence.
#[test]
fn a_gauge_worse_than_the_parts() {
    let folder = Folder::with(parts(NORMAL, "{ accept = \"1 mm\", gauge = { sd = \"1.5 mm\" } }"));
    let ended = folder.run(&["inspect", "study.toml", "--source", "lead.length"]);
    assert_eq!(ended.code, Some(0));
    assert!(ended.err.contains("1 warning; `beamyield check study.toml` shows it"), "{}", ended.err);
    let words = ended.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("Warning: the gauge's sd of 1.5 mm exceeds the spread of the parts"), "{words}");
    assert!(words.contains("of those that read within do not conform"), "{words}");
    // Negative control: a better one is not.
    let better = folder.run(&["inspect", "study.toml", "--source", "lead.length", "--gauge-sd", "0.5 mm"]);
    assert!(!better.out.contains("Warning") && better.err.is_empty(), "{}", better.err);
    let result = inspect(&folder, &[]);
    assert_eq!((&result["warnings"], result["cautions"].as_array().map(Vec::len)), (&1.into(), Some(1)));
}
