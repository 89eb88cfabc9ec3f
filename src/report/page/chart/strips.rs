//! Several distributions of one figure: a row of bins each over one axis, with the limits through all rows.

use crate::report::page::axis::Axis;
use crate::report::page::chart::histogram::{Stop, misses};
use crate::report::page::chart::intervals::{name_row, room_for};
use crate::report::page::frame::{BELOW, Frame};
use crate::report::page::svg::{Anchor, Svg, TEXT, WIDTH, width_of};

/// Distributions below each other.
#[derive(Clone, Debug)]
pub(crate) struct Strips {
    /// The figure.
    pub x: Axis,
    /// The rows.
    pub strips: Vec<Strip>,
    /// The limits of the figure.
    pub stops: Vec<Stop>,
}

/// A distribution.
#[derive(Clone, Debug)]
pub(crate) struct Strip {
    /// Its name.
    pub name: String,
    /// The beginning of the first bin and the end of the last one.
    pub ends: [f64; 2],
    /// Units in each bin; the bins are equally wide.
    pub counts: Vec<u64>,
    /// The shares of units below the axis and above it, as text; empty for none.
    pub beyond: [String; 2],
    /// The text beside it: "91.8 %".
    pub text: String,
    /// Its tip.
    pub tip: String,
}

/// Height of a row, and of its fullest bin.
const ROW: f64 = 46.0;
const FULL: f64 = 36.0;

/// The legend of the rows and of the shares beside them.
const SCALES: &str = "each row to its own scale";
const SCALES_AND_BEYOND: &str = "each row to its own scale; beside it the share beyond the axis";

/// Room above the rows for the names of limits.
const ABOVE: f64 = 22.0;

impl Strips {
    pub(super) fn draw(&self) -> Svg {
        let room = room_for(self.strips.iter().map(|of| of.name.as_str()));
        let widest =
            |text: fn(&Strip) -> &str| self.strips.iter().map(|of| width_of(text(of))).fold(0.0, f64::max);
        // The share beyond the axis is written at that side.
        let [before, behind] = [widest(|of| &of.beyond[0]), widest(|of| &of.beyond[1])];
        let room_before = if before > 0.0 { before + 8.0 } else { 0.0 };
        let room_behind = if behind > 0.0 { behind + 8.0 } else { 0.0 };
        let (left, right) = (room + 14.0 + room_before, WIDTH - widest(|of| &of.text) - 14.0 - room_behind);
        let bottom = ABOVE + ROW * self.strips.len() as f64;
        let unused = Axis::between("", "", 0.0, 1.0);
        let whole = Frame { left, right, top: ABOVE, bottom, x: &self.x, y: &unused };
        let mut svg = Svg::new(bottom + BELOW);
        for (number, of) in self.strips.iter().enumerate() {
            let foot = ABOVE + ROW * (number as f64 + 1.0);
            let frame = Frame { top: foot - FULL, bottom: foot, ..whole };
            svg.line("rule", [left, foot], [right, foot]);
            name_row(&mut svg, &of.name, room, foot - 0.5 * FULL);
            self.draw_strip(&mut svg, &frame, of);
            let y = foot - 0.5 * FULL + 0.36 * TEXT;
            svg.text("label small number", [left - 6.0, y], Anchor::End, &of.beyond[0]);
            svg.text("label small number", [right + 6.0, y], Anchor::Start, &of.beyond[1]);
            svg.text("label number", [WIDTH - 2.0, y], Anchor::End, &of.text);
        }
        whole.draw_along(&mut svg);
        let legend = if before + behind > 0.0 { SCALES_AND_BEYOND } else { SCALES };
        svg.text("name", [0.0, bottom + 35.0], Anchor::Start, legend);
        for stop in &self.stops {
            whole.upright(&mut svg, stop.value, &stop.name);
        }
        svg
    }

    fn draw_strip(&self, svg: &mut Svg, frame: &Frame, of: &Strip) {
        let mut cuts: Vec<f64> = self.stops.iter().map(|stop| stop.value).chain(of.ends).collect();
        cuts.sort_by(f64::total_cmp);
        for piece in cuts.windows(2) {
            let class = if misses(0.5 * (piece[0] + piece[1]), &self.stops) { "bar open" } else { "bar" };
            svg.polygon(class, &of.outline(frame, piece[0], piece[1]), "");
        }
        svg.rect("unseen", [frame.left, frame.top], [frame.right - frame.left, FULL], &of.tip);
    }
}

impl Strip {
    /// The outline of the bins between two values.
    fn outline(&self, frame: &Frame, from: f64, to: f64) -> Vec<[f64; 2]> {
        let fullest = self.counts.iter().copied().max().unwrap_or(0).max(1) as f64;
        let width = (self.ends[1] - self.ends[0]) / self.counts.len().max(1) as f64;
        let mut line = Vec::new();
        for (number, count) in self.counts.iter().enumerate() {
            let ends = [number, number + 1].map(|end| (self.ends[0] + width * end as f64).clamp(from, to));
            if ends[0] < ends[1] && ends.iter().all(|end| frame.x.holds(*end)) {
                line.extend(ends.map(|end| frame.at(end, *count as f64 / fullest)));
            }
        }
        let foot = |of: &[f64; 2]| [of[0], frame.bottom];
        let (first, last) = (line.first().map(foot), line.last().map(foot));
        first.into_iter().chain(line).chain(last).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_outline_goes_over_the_bins_as_far_as_the_axis_and_a_limit() {
        let strip = Strip {
            name: String::new(),
            ends: [0.0, 4.0],
            counts: vec![1, 4, 2, 1],
            beyond: [String::new(), String::new()],
            text: String::new(),
            tip: String::new(),
        };
        // Along a tenth of a unit a value, upward one unit the fullest bin.
        let (x, y) = (Axis::between("", "", 0.0, 3.0), Axis::between("", "", 0.0, 1.0));
        let frame = Frame { left: 0.0, right: 30.0, top: 0.0, bottom: 100.0, x: &x, y: &y };
        let left = strip.outline(&frame, 0.0, 1.5);
        assert_eq!(left, [[0.0, 100.0], [0.0, 75.0], [10.0, 75.0], [10.0, 0.0], [15.0, 0.0], [15.0, 100.0]]);
        // The last bin is beyond the axis.
        let right = strip.outline(&frame, 1.5, 4.0);
        assert_eq!(
            right,
            [[15.0, 100.0], [15.0, 0.0], [20.0, 0.0], [20.0, 50.0], [30.0, 50.0], [30.0, 100.0]]
        );
        assert!(strip.outline(&frame, 3.5, 4.0).is_empty());
    }
}
