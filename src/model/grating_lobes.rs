//! Warnings of beams that come twice.

use crate::array::{Lattice, wavenumber};
use crate::figure::BeamPoint;
use crate::io::quantity::format;
use crate::io::{Dimension, Findings};
use crate::math::TAU;
use crate::model::Model;

/// A side lobe within this of the beam, dB, is as good as a second beam.
const SECOND_BEAM_DB: f64 = -3.0;

/// Looks at each beam at the highest frequency, where grating lobes stand closest.
pub(super) fn grating_lobes(model: &Model, findings: &Findings) {
    for beam in 0..model.beams.len() {
        let at_beam = model.points.iter().filter(|point| point.beam == beam);
        let Some(point) = at_beam.max_by(|a, b| a.frequency.total_cmp(&b.frequency)) else { continue };
        let at = (model.beams[beam].name.as_str(), format(point.frequency, Dimension::Frequency));
        match &model.array.lattice {
            Some(lattice) => on_lattice(model, lattice, point, at, findings),
            None => elsewhere(point, at, findings),
        }
    }
}

/// A lattice repeats the beam at every point of its reciprocal lattice; none of the repeats may be visible. For a
/// rectangular one those are the multiples of wavelength over spacing: for a line at scan angle t the largest spacing is
/// wavelength/(1 + sin t). For a triangular one (columns dx apart in a row, rows dy) they are the multiples of wavelength/dx
/// along x and of wavelength/(2 dy) along y whose sum is even.
fn on_lattice(
    model: &Model,
    lattice: &Lattice,
    point: &BeamPoint,
    (beam, at): (&str, String),
    findings: &Findings,
) {
    let squint = model.at_bench.command_frequency / point.frequency;
    let (u, v) = (point.toward.u * squint, point.toward.v * squint);
    let wavelength = TAU / wavenumber(point.frequency);
    let period = |spacing: f64| TAU / (wavenumber(point.frequency) * spacing);
    let (pu, pv) = (period(lattice.dx), period(if lattice.is_staggered { 2.0 } else { 1.0 } * lattice.dy));
    let orders = |period: f64| {
        let most = (2.0 / period).ceil() as i64;
        -most..=most
    };
    let rows = if lattice.is_line() { 0..=0 } else { orders(pv) };
    let is_repeat = |(m, n): &(i64, i64)| (*m != 0 || *n != 0) && !(lattice.is_staggered && (m + n) % 2 != 0);
    let repeats = rows.flat_map(|n| orders(pu).map(move |m| (m, n))).filter(is_repeat);
    // A repeat exactly at the edge of visible space is where the largest spacing puts it, so rounding is let pass.
    let is_visible = |(du, dv): &(f64, f64)| (u + du).powi(2) + (v + dv).powi(2) < 1.0 - 1e-9;
    let offset = |(m, n): (i64, i64)| (m as f64 * pu, n as f64 * pv);
    let visible: Vec<(f64, f64)> = repeats.map(offset).filter(is_visible).collect();
    if visible.is_empty() {
        return;
    }
    let help = if lattice.is_staggered {
        // All repeats move outward alike when the lattice shrinks, until |(u, v) + t (du, dv)| = 1.
        let outside = visible.iter().map(|(du, dv)| {
            let (along, squared) = (u * du + v * dv, du * du + dv * dv);
            ((along * along + squared * (1.0 - u * u - v * v)).max(0.0).sqrt() - along) / squared
        });
        let (row, column) = (lattice.dy, lattice.dx);
        let shrink = outside.fold(1.0, f64::max);
        format!(
            "a lattice of the same shape below {} by {} keeps it out",
            format(column / shrink, Dimension::Length),
            format(row / shrink, Dimension::Length)
        )
    } else {
        let widest = wavelength / (1.0 + (u * u + v * v).sqrt());
        format!("along the scan, a spacing below {} keeps it out", format(widest, Dimension::Length))
    };
    findings.warning(
        None,
        format!("beam `{beam}` has a grating lobe in visible space at {at}"),
        "",
        Some(help),
    );
}

/// Elements on no lattice have no exact repeats, but lobes nearly as high.
fn elsewhere(point: &BeamPoint, (beam, at): (&str, String), findings: &Findings) {
    let Some(side_lobe) = point.error_free.side_lobe else { return };
    if side_lobe > SECOND_BEAM_DB {
        findings.warning(
            None,
            format!("beam `{beam}` has a side lobe {:.2} dB below it at {at}, free of errors", -side_lobe),
            "",
            Some("elements closer together keep it down".into()),
        );
    }
}
