//! Tolerances that draw what no part can be, and distributions that are not what they are called.

use crate::io::quantity::format;
use crate::io::{Dimension, Findings, Span};
use crate::math::PI;
use crate::random::{Distribution, Tolerance};
use crate::study::Study;

/// A cut of a normal distribution closer than this, in its standard deviations, leaves nearly a uniform one.
const CLOSE_CUT: f64 = 0.5;

/// More draws below zero than one in so many are worth a word.
const RARE: f64 = 1e-3;

/// Warns of each tolerance of the study.
pub(super) fn tolerances(study: &Study, findings: &Findings) {
    for named in study.chain.blocks() {
        for listed in named.block.tolerances() {
            let name = format!("{}.{}", named.name, listed.key);
            one(&name, listed.key, listed.tolerance, listed.dimension, findings);
        }
    }
    let fixture = &study.fixture;
    let of_bench = [
        ("bench.coupler.phase_imbalance", &fixture.phase_imbalance),
        ("bench.reconnection.phase", &fixture.reconnection_phase),
        ("bench.probe.phase", &fixture.probe_phase),
    ];
    for (name, tolerance) in of_bench {
        one(name, name, tolerance, Dimension::Angle, findings);
    }
}

fn one(name: &str, key: &str, tolerance: &Tolerance, dimension: Dimension, findings: &Findings) {
    for (spread, span) in tolerance.spreads() {
        // The tolerances of the bench keep no place.
        let span = Some(span.clone()).filter(|span| !span.is_empty());
        // Of inspected parts, the distribution that is stated.
        let delivered = tolerance.inspected.as_ref().map(|of| &of.delivered);
        let distribution = delivered
            .filter(|_| spread.distribution.rejected().is_some() && spread.distribution.taken() == "parts")
            .unwrap_or(&spread.distribution);
        if dimension == Dimension::Angle {
            beyond_half_a_turn(name, distribution, span.clone(), findings);
        }
        if is_positive(key, dimension) {
            below_zero(name, tolerance.nominal, distribution, dimension, span.clone(), findings);
        }
        close_cut(name, distribution, dimension, span, findings);
    }
}

/// Phases that are a turn apart are alike.
fn beyond_half_a_turn(name: &str, distribution: &Distribution, span: Option<Span>, findings: &Findings) {
    // A distribution without ends is wider than any phase at all when its standard deviation is that of a uniform distribution over a whole turn.
    let (spread, most) = match distribution.half_range() {
        Some(half_range) => (half_range, PI),
        None => (distribution.sd(), PI / 3f64.sqrt()),
    };
    if spread > most * (1.0 + 1e-9) {
        findings.warning(
            span,
            format!("`{name}` spreads by {}, more than a phase can", format(rounded(spread.to_degrees()).to_radians(), Dimension::Angle)),
            "a whole turn more is the same phase",
            Some("an angle in the unit that it has, such as \"12 deg\"; of a phase that is anything at all, `uniform = { half_width = \"180 deg\" }`".into()),
        );
    }
}

/// Quantities of which no part has less than nothing.
fn is_positive(key: &str, dimension: Dimension) -> bool {
    const RATIOS: [&str; 4] = ["velocity_factor", "effective_permittivity", "permittivity", "loss_tangent"];
    matches!(dimension, Dimension::Length | Dimension::LevelPerLength) || RATIOS.contains(&key)
}

fn below_zero(
    name: &str,
    nominal: f64,
    distribution: &Distribution,
    dimension: Dimension,
    span: Option<Span>,
    findings: &Findings,
) {
    let share = distribution.cdf(-nominal.next_up());
    if share > RARE && distribution.sd() > 0.0 {
        let percent: f64 = format!("{:.1e}", 100.0 * share).parse().unwrap_or(100.0 * share);
        findings.warning(
            span,
            format!("`{name}` is drawn below zero in {percent} % of the parts"),
            format!(
                "nominal {}, deviations of sd {}",
                format(nominal, dimension),
                format(rounded(distribution.sd()), dimension.difference())
            ),
            Some("a spread that is small beside the nominal value, in the same unit; or a distribution with ends, such as `triangular`".into()),
        );
    }
}

fn close_cut(
    name: &str,
    distribution: &Distribution,
    dimension: Dimension,
    span: Option<Span>,
    findings: &Findings,
) {
    let Some(cut) = distribution.cut() else { return };
    if cut < CLOSE_CUT {
        findings.warning(
            span,
            format!("`{name}` is a normal distribution cut at {} of its standard deviations", rounded(cut)),
            format!(
                "what is left is nearly uniform, of sd {}",
                format(rounded(distribution.sd()), dimension.difference())
            ),
            Some("`at` is where parts are sorted out, as a deviation: often 2 or 3 times `sd`; or say `uniform = { half_width = ... }`".into()),
        );
    }
}

/// Three significant digits.
fn rounded(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}
