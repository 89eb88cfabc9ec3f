//! Counted deliveries against the integrals, and against integrals of another gauge.

use super::*;
use crate::inspection::conformity::taken;
use crate::inspection::inspected::inspect;
use crate::inspection::{accepted_moments, conformity, lots};
use crate::random::{Distribution, Inspection, Normal, Sampling, Scope, Spread, Uniform};

const PARTS: u64 = 200_000;

fn normal(sd: f64) -> Distribution {
    Distribution::Normal(Normal::new(sd).unwrap())
}

fn inspected(
    distribution: Distribution,
    lots: Option<Distribution>,
    sd: f64,
    sampling: Option<Sampling>,
) -> Inspected {
    let inspection = Inspection {
        tolerance: Some(Window::within(1.5)),
        accept: Some(Window { low: -1.4, high: 1.3 }),
        guard: None,
        gauge: Gauge { bias: 0.1, sd },
        sampling,
        seconds: 0.0,
    };
    let first = Spread { distribution, scope: Scope::Channel };
    let second = lots.map(|distribution| Spread { distribution, scope: Scope::Lot });
    inspect(inspection, &first, second.as_ref()).unwrap().0
}

/// Standard errors that a count is off a share.
fn off(count: u64, of: u64, share: f64) -> f64 {
    let n = of as f64;
    (count as f64 - n * share) / (n * share * (1.0 - share)).sqrt()
}

/// How far rejects, risks, mean and spread of a delivery are off the integrals of an inspection, in standard errors.
fn distances(found: &Delivered, of: &Inspected, values: usize) -> Vec<f64> {
    let shares = conformity(of, values).unwrap();
    let (mean, sd) = accepted_moments(of);
    let n = found.values as f64;
    let found_mean = found.sum / n;
    let variance = found.sum_of_squares / n - found_mean * found_mean;
    let escapes = lots(of, values).map_or(shares.escapes, |lots| lots.escapes);
    vec![
        off(found.parts - found.taken, found.parts, shares.rejected),
        off(found.parts - found.conforming, found.parts, shares.nonconforming),
        off(found.taken - found.both, found.parts, shares.consumer_risk),
        off(found.conforming - found.both, found.parts, shares.producer_risk),
        off(found.accepted - found.accepted_conforming, found.accepted, escapes),
        off(found.accepted, found.parts, taken(of, values)),
        (found_mean - mean) / (sd / n.sqrt()),
        // The fourth moment of what is cut is below a normal distribution's 3 sd^4, so this standard error is not too small.
        (variance / (sd * sd) - 1.0) / (2.0 / n).sqrt(),
    ]
}

fn check(of: &Inspected, other: &Inspected, values: usize) {
    let found = deliver(of, 5, "cable.length", PARTS, values);
    let distances_of = distances(&found, of, values);
    assert!(distances_of.iter().all(|off| off.abs() < 4.0), "{distances_of:?} {found:?}");
    // Integrals of a gauge whose sd is a fifth larger.
    let distances = distances(&found, other, values);
    assert!(distances.iter().any(|off| off.abs() > 4.0), "{distances:?}");
}

#[test]
fn parts_gauged_one_by_one_are_those_of_the_integrals() {
    for (distribution, values) in
        [(normal(1.0), 1), (Distribution::Uniform(Uniform::new(2.0).unwrap()), 1), (normal(1.0), 3)]
    {
        check(
            &inspected(distribution.clone(), None, 0.3, None),
            &inspected(distribution, None, 0.36, None),
            values,
        );
    }
}

#[test]
fn sampled_lots_are_those_of_the_integrals() {
    let plan = Some(Sampling { lot: 1000, parts: 12, allowed: 3 });
    let of = |sd| inspected(normal(0.8), Some(normal(0.6)), sd, plan);
    // One part in thirteen counts, so the delivery is larger; the gauge is wrong by more.
    let found = deliver(&of(0.5), 5, "cable.length", 26 * PARTS, 1);
    let distances_of = distances(&found, &of(0.5), 1);
    assert!(distances_of.iter().all(|off| off.abs() < 4.0), "{distances_of:?} {found:?}");
    let other = distances(&found, &of(0.6), 1);
    assert!(other.iter().any(|off| off.abs() > 4.0), "{other:?}");
}

#[test]
fn a_delivery_is_its_seeds_and_names() {
    let of = inspected(normal(1.0), None, 0.3, None);
    let found = deliver(&of, 5, "cable.length", 1000, 1);
    assert_eq!(found, deliver(&of, 5, "cable.length", 1000, 1));
    assert_ne!(found, deliver(&of, 6, "cable.length", 1000, 1));
    assert_ne!(found, deliver(&of, 5, "cable.loss", 1000, 1));
    assert!(found.parts >= 1000 && found.accepted == found.taken && found.values == found.accepted);
    let mut open = of;
    open.inspection.accept = None;
    assert_eq!(deliver(&open, 5, "cable.length", 1000, 1), Delivered::default());
}
