//! The distribution of a figure over the units: counts in equal bins, and below them the cumulative share.

use crate::report::number::significant;
use crate::report::page::axis::Axis;
use crate::report::page::frame::{ABOVE, BELOW, Frame};
use crate::report::page::labels::Taken;
use crate::report::page::svg::{Svg, WIDTH};

/// A distribution.
#[derive(Clone, Debug)]
pub(crate) struct Histogram {
    /// The figure.
    pub x: Axis,
    /// The beginning of the first bin and the end of the last one.
    pub ends: [f64; 2],
    /// Units in each bin; the bins are equally wide.
    pub counts: Vec<u64>,
    /// Units in all, those outside of the bins too.
    pub units: u64,
    /// Values and the share of units at or below them, rising; empty for none.
    pub cumulative: Vec<(f64, f64)>,
    /// Marked percentiles: which, its value, and its text.
    pub percentiles: Vec<(u32, f64, String)>,
    /// Its limits.
    pub stops: Vec<Stop>,
}

/// A limit of a figure.
#[derive(Clone, Debug)]
pub(crate) struct Stop {
    /// Its value.
    pub value: f64,
    /// The side of it on which units pass.
    pub passes: Side,
    /// Its text: "at most -11 dB".
    pub name: String,
}

/// A side of a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    /// At it and below.
    Below,
    /// At it and above.
    Above,
}

/// Whether a value misses one of some limits.
pub(super) fn misses(value: f64, stops: &[Stop]) -> bool {
    stops.iter().any(|stop| match stop.passes {
        Side::Below => value > stop.value,
        Side::Above => value < stop.value,
    })
}

/// Draws a bin; the part of it that misses a limit is open.
fn draw_bin(svg: &mut Svg, frame: &Frame, ends: [f64; 2], height: f64, stops: &[Stop], tip: &str) {
    let within = stops.iter().map(|stop| stop.value).filter(|stop| *stop > ends[0] && *stop < ends[1]);
    let mut cuts: Vec<f64> = ends.into_iter().chain(within).collect();
    cuts.sort_by(f64::total_cmp);
    let top = frame.y(height);
    for piece in cuts.windows(2) {
        let middle = 0.5 * (piece[0] + piece[1]);
        let class = if misses(middle, stops) { "bar open" } else { "bar" };
        let (from, to) = (frame.x(piece[0]), frame.x(piece[1]));
        // A small gap between bins.
        svg.rect(class, [from, top], [to - from - 0.7, frame.bottom - top], tip);
    }
}

/// Heights of the two fields.
const BINS: f64 = 170.0;
const SHARES: f64 = 110.0;

impl Histogram {
    pub(super) fn draw(&self) -> Svg {
        let largest = self.counts.iter().copied().max().unwrap_or(0);
        let share = |count: u64| 100.0 * count as f64 / self.units.max(1) as f64;
        let upward = Axis::from_zero("units in a bin", "%", [share(largest)]);
        let (top, bottom) = (ABOVE, ABOVE + BINS);
        let has_curve = !self.cumulative.is_empty();
        let foot = if has_curve { bottom + ABOVE + 8.0 + SHARES } else { bottom };
        let shares = Axis::percent("units at or below");
        let below = Frame::new(&self.x, &shares, bottom + ABOVE + 8.0, foot, 24.0);
        let bins = Frame {
            left: below.left,
            top,
            bottom,
            y: &upward,
            ..Frame::new(&self.x, &upward, top, bottom, 24.0)
        };
        let mut svg = Svg::new(foot + BELOW);
        bins.draw_upward(&mut svg);
        self.draw_bins(&mut svg, &bins);
        if has_curve {
            svg.line("axis", [bins.left, bottom], [bins.right, bottom]);
            below.draw_upward(&mut svg);
            let line: Vec<[f64; 2]> =
                self.cumulative.iter().map(|(value, share)| below.at(*value, 100.0 * share)).collect();
            svg.polyline("curve way0", &line, "");
            below.draw_along(&mut svg);
            self.draw_percentiles(&mut svg, &below, &line);
        } else {
            bins.draw_along(&mut svg);
        }
        for stop in &self.stops {
            bins.upright(&mut svg, stop.value, &stop.name);
            if has_curve && self.x.holds(stop.value) {
                let x = below.x(stop.value);
                svg.line("limit", [x, bottom], [x, foot]);
            }
        }
        svg
    }

    fn draw_bins(&self, svg: &mut Svg, frame: &Frame) {
        let width = (self.ends[1] - self.ends[0]) / self.counts.len().max(1) as f64;
        for (number, count) in self.counts.iter().enumerate().filter(|(_, count)| **count > 0) {
            let ends = [number, number + 1].map(|end| self.ends[0] + width * end as f64);
            let share = 100.0 * *count as f64 / self.units.max(1) as f64;
            let [from, to] = ends.map(|end| significant(end, 5));
            let tip = format!("{from} to {to} {}: {count} of {} units", self.x.unit, self.units);
            draw_bin(svg, frame, ends, share, &self.stops, &tip);
        }
    }

    /// Beside the curve, not on it.
    fn draw_percentiles(&self, svg: &mut Svg, frame: &Frame, curve: &[[f64; 2]]) {
        let mut taken = Taken::default();
        taken.take_steps(curve);
        // The values along the axis, and the lines of the limits.
        taken.take([0.0, frame.bottom + 2.0, WIDTH, frame.bottom + BELOW]);
        for x in self.stops.iter().filter(|stop| self.x.holds(stop.value)).map(|stop| frame.x(stop.value)) {
            taken.take([x - 2.0, frame.top - ABOVE, x + 2.0, frame.bottom]);
        }
        for (percent, value, text) in self.percentiles.iter().filter(|(_, value, _)| value.is_finite()) {
            let at = frame.at(*value, f64::from(*percent));
            let name = format!("{percent} %: {text}");
            svg.mark(0, "mark way0", at, &format!("{name} {}", self.x.unit));
            let (foot, anchor) = taken.beside(&name, at, [frame.left, WIDTH]);
            svg.text("label halo small", foot, anchor, &name);
        }
    }
}
