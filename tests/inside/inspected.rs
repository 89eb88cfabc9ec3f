//! Units are built from the parts that an inspection takes: what the engine draws against the double integrals, limits against each other
//! on the same units, and what the program says of inspections.

use crate::inside::folder::{SMALL, edited};
use crate::inside::support;
use beamyield::inspection::{accepted_moments, conformity, lots};
use beamyield::model::Model;
use beamyield::random::{Inspected, Value};

const LENGTH: &str = "length = { nominal = \"30 mm\", normal = { sd = \"0.2 mm\" } }";

/// The small study with another feed.
fn small(length: &str) -> String {
    edited(
        SMALL,
        &[(LENGTH, &format!("length = {{ nominal = \"30 mm\", normal = {{ sd = \"0.2 mm\" }}, {length} }}"))],
    )
}

fn model(length: &str) -> Model {
    support::model(&small(length))
}

fn inspected(model: &Model) -> Inspected {
    let source = model.sources.list().iter().find(|source| source.name == "feed.length").expect("the feed");
    *source.inspected.clone().expect("an inspection")
}

/// Deviations of the feeds' lengths in mm, `[unit][channel]`, of so many units.
fn lengths(model: &Model, units: u64) -> Vec<Vec<f64>> {
    const LANES: usize = 16;
    let listed = model.chain.blocks()[0].block.tolerances();
    let length: &Value = listed.iter().find(|of| of.key == "length").expect("a length").tolerance;
    let mut draws = model.sources.buffer::<LANES>();
    let mut all = Vec::new();
    for first in (0..units).step_by(LANES) {
        model.sources.draw(first, &mut draws);
        all.extend((0..LANES).map(|lane| {
            let at = |channel| 1e3 * f64::from(length.deviation_at(&draws, 0, channel)[lane]);
            (0..model.channels()).map(at).collect::<Vec<f64>>()
        }));
    }
    all
}

/// Distances of the drawn parts from an inspection's double integrals, in standard errors: escapes, mean, variance.
fn distances(lengths: &[f64], of: &Inspected) -> [f64; 3] {
    let n = lengths.len() as f64;
    let due = of.inspection.tolerance.expect("a tolerance");
    let escaped = lengths.iter().filter(|x| !due.holds(1e-3 * **x)).count() as f64;
    let share = conformity(of, 1).expect("a limit").escapes;
    let mean = lengths.iter().sum::<f64>() / n;
    let power = |k: i32| lengths.iter().map(|x| (x - mean).powi(k)).sum::<f64>() / n;
    let (variance, fourth) = (power(2), power(4));
    let (expected_mean, sd) = accepted_moments(of);
    let (expected_mean, sd) = (1e3 * expected_mean, 1e3 * sd);
    [
        (escaped - n * share) / (n * share * (1.0 - share)).sqrt(),
        (mean - expected_mean) / (sd / n.sqrt()),
        (variance - sd * sd) / ((fourth - variance * variance) / n).sqrt(),
    ]
}

#[test]
fn the_engine_builds_from_what_the_double_integral_takes() {
    let with = |gauge: &str| {
        model(&format!(
            "inspection = {{ tolerance = \"0.3 mm\", accept = {{ from = \"-0.28 mm\", to = \"0.25 mm\" }}, gauge = {{ {gauge} }} }}"
        ))
    };
    let right = with("bias = \"0.02 mm\", sd = \"0.08 mm\"");
    let drawn: Vec<f64> = lengths(&right, 25_000).concat();
    let off = distances(&drawn, &inspected(&right));
    assert!(off.iter().all(|off| off.abs() < 4.0), "{off:?}");
    // The twins: a gauge whose sd is a fifth larger or smaller, one without its bias, and parts as they were delivered.
    for gauge in
        ["bias = \"0.02 mm\", sd = \"0.096 mm\"", "bias = \"0.02 mm\", sd = \"0.064 mm\"", "sd = \"0.08 mm\""]
    {
        let off = distances(&drawn, &inspected(&with(gauge)));
        assert!(off.iter().any(|off| off.abs() > 4.0), "{gauge}: {off:?}");
    }
    let delivered = model("scope = \"channel\"");
    let off = distances(&lengths(&delivered, 25_000).concat(), &inspected(&right));
    assert!(off.iter().all(|off| off.abs() > 4.0), "{off:?}");
}

/// Of an even distribution, an even acceptance and a gauge without bias, a part drawn at the same place in the distribution lies nearer to nominal under a
/// tighter limit: the chance to be taken under the tighter one, over that under the wider one, falls with the size of the deviation.
#[test]
fn a_tighter_limit_brings_every_part_nearer_on_the_same_units() {
    let at = |accept: &str| {
        model(&format!(
            "inspection = {{ tolerance = \"0.3 mm\", accept = \"{accept}\", gauge = {{ sd = \"0.05 mm\" }} }}"
        ))
    };
    let plans = ["0.1 mm", "0.2 mm", "0.35 mm", "0.6 mm"].map(at);
    let drawn = plans.each_ref().map(|model| lengths(model, 500).concat());
    let shares = plans.each_ref().map(|model| conformity(&inspected(model), 1).expect("a limit"));
    for i in 1..plans.len() {
        // A probability of the table is right to 2e-6, which moves a deviation near 0 by as much of the spread.
        let nearer = drawn[i - 1].iter().zip(&drawn[i]).all(|(tight, wide)| tight.abs() <= wide.abs() + 2e-6);
        assert!(nearer, "{i}");
        let (tight, wide) = (shares[i - 1], shares[i]);
        assert!(tight.rejected > wide.rejected && tight.consumer_risk < wide.consumer_risk);
        assert!(tight.escapes < wide.escapes && tight.producer_risk > wide.producer_risk);
    }
    // Without a limit the draws are those of no inspection.
    let none = model("inspection = { gauge = { sd = \"0.05 mm\" }, time = \"20 s\" }");
    assert_eq!(lengths(&none, 100), lengths(&model("scope = \"channel\""), 100));
}

#[test]
fn lots_that_a_sample_takes_shift_less() {
    let text = |inspection: &str| {
        let text = small(&format!("and = {{ normal = {{ sd = \"0.3 mm\" }}, scope = \"lot\" }}{inspection}"));
        edited(&text, &[("seed = 3", "seed = 3\nlot = 16")])
    };
    let sampled = ", inspection = { accept = \"0.5 mm\", gauge = { sd = \"0.05 mm\" }, sample = { lot = 200, parts = 13, allowed = 1 } }";
    let model = support::model(&text(sampled));
    let of = inspected(&model);
    let delivered = support::model(&text(""));
    let sums = |model: &Model| -> Vec<f64> {
        // Mean of a lot of 16 units of 8 channels: its shift, give or take 0.2 mm/sqrt(128).
        let lengths = lengths(model, 16 * 4000);
        lengths.chunks(16).map(|lot| lot.concat().iter().sum::<f64>() / 128.0).collect()
    };
    let variance = |shifts: &[f64]| {
        let n = shifts.len() as f64;
        let mean = shifts.iter().sum::<f64>() / n;
        shifts.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n
    };
    let (_, sd) = accepted_moments(&of);
    let part = 1e3 * of.accepted.sd();
    let lot = (1e6 * sd * sd - part * part) + part * part / 128.0;
    let (found, all) = (variance(&sums(&model)), variance(&sums(&delivered)));
    // Four standard errors of a variance of 4,000 lots; the fourth moment of what is cut is below the normal distribution's.
    let bound = 4.0 * lot * (2.0_f64 / 4000.0).sqrt();
    assert!((found - lot).abs() < bound, "{found} not {lot}");
    assert!((all - lot).abs() > bound, "{all}");
    let lots = lots(&of, 1).expect("lots");
    assert!(lots.escapes < conformity(&of, 1).expect("a limit").nonconforming);
}

/// JCGM 106:2012, table 1: how many sd of the gauge a reading stays within the limit for a conformance probability (from memory).
#[test]
fn guard_bands_are_stated_in_three_ways() {
    let guard = |guard: &str| {
        let of = inspected(&model(&format!(
            "inspection = {{ tolerance = \"0.5 mm\", gauge = {{ sd = \"0.1 mm\" }}, guard = {guard} }}"
        )));
        let accept = of.inspection.accept.expect("a limit");
        let guard = of.inspection.guard.expect("a guard band");
        assert!((accept.high - (0.5e-3 - guard)).abs() < 1e-15 && accept.low == -accept.high);
        1e3 * guard
    };
    for (conformance, z) in [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)] {
        let found = guard(&format!("{{ conformance = {conformance} }}"));
        assert!((found - 0.1 * z).abs() < 6e-4, "{conformance}: {found}");
    }
    // Half of U = 2 u; a size; and beyond the tolerance, for the buyer's cost.
    assert!((guard("{ expanded = 0.5 }") - 0.1).abs() < 1e-12);
    assert!((guard("\"0.07 mm\"") - 0.07).abs() < 1e-12 && (guard("\"-0.07 mm\"") + 0.07).abs() < 1e-12);
}
