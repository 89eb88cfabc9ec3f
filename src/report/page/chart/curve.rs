//! One number against another: a line a series, its points with their intervals.

use crate::report::page::axis::Axis;
use crate::report::page::frame::{ABOVE, BELOW, Frame};
use crate::report::page::labels::side_by_side;
use crate::report::page::svg::{Anchor, Svg, cut, width_of};

/// Lines over an axis.
#[derive(Clone, Debug)]
pub(crate) struct Curve {
    /// The horizontal axis.
    pub x: Axis,
    /// The vertical axis.
    pub y: Axis,
    /// The lines.
    pub series: Vec<Series>,
    /// Vertical values marked by a line across, with their names.
    pub levels: Vec<(f64, String)>,
    /// Horizontal values marked by an upright line, with their names.
    pub uprights: Vec<(f64, String)>,
}

/// A line.
#[derive(Clone, Debug)]
pub(crate) struct Series {
    /// Its name; empty where there is only one.
    pub name: String,
    /// Its points, from left to right.
    pub points: Vec<Point>,
    /// Line, points, or both.
    pub drawn: Drawn,
}

/// How a series is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Drawn {
    /// A line, of points close together.
    Line,
    /// The points alone.
    Marks,
    /// The points, and lines between them.
    Both,
}

/// A point of a line.
#[derive(Clone, Debug)]
pub(crate) struct Point {
    /// Horizontal value.
    pub x: f64,
    /// Vertical value; a gap where it is not finite.
    pub y: f64,
    /// Its interval, where it has one.
    pub interval: Option<[f64; 2]>,
    /// Its tip.
    pub tip: String,
}

/// Most of the width that names at the right may take.
const NAMES: f64 = 170.0;

/// Line styles that differ without colour.
const WAYS: usize = 6;

impl Curve {
    pub(super) fn draw(&self) -> Svg {
        let (top, bottom) = (ABOVE, ABOVE + 250.0);
        let widest = self.series.iter().map(|of| width_of(&of.name)).fold(0.0, f64::max);
        let at_right = if widest > 0.0 { widest.min(NAMES) + 26.0 } else { 14.0 };
        let frame = Frame::new(&self.x, &self.y, top, bottom, at_right);
        let mut svg = Svg::new(bottom + BELOW);
        frame.draw(&mut svg);
        for (number, series) in self.series.iter().enumerate() {
            draw_series(&mut svg, &frame, number, series);
        }
        self.levels.iter().for_each(|(value, name)| frame.level(&mut svg, *value, name));
        self.uprights.iter().for_each(|(value, name)| frame.upright(&mut svg, *value, name));
        self.draw_names(&mut svg, &frame);
        svg
    }

    /// Names at the right, each at the end of its line.
    fn draw_names(&self, svg: &mut Svg, frame: &Frame) {
        let last = |of: &Series| {
            of.points.iter().rev().find(|point| point.y.is_finite()).map(|point| frame.y(point.y))
        };
        let named: Vec<(usize, &Series, f64)> = self
            .series
            .iter()
            .enumerate()
            .filter(|(_, of)| !of.name.is_empty())
            .filter_map(|(number, of)| Some((number, of, last(of)?)))
            .collect();
        let wanted: Vec<f64> = named.iter().map(|(_, _, y)| y + 4.0).collect();
        for ((number, of, y), foot) in
            named.iter().zip(side_by_side(&wanted, frame.top + 4.0, frame.bottom + 4.0))
        {
            let way = number % WAYS;
            svg.line(&format!("lead way{way}"), [frame.right + 2.0, *y], [frame.right + 10.0, foot - 4.0]);
            if of.drawn == Drawn::Line {
                let y = foot - 4.0;
                svg.polyline(
                    &format!("curve way{way}"),
                    &[[frame.right + 5.0, y], [frame.right + 21.0, y]],
                    "",
                );
            } else {
                svg.mark(*number, &format!("mark way{way}"), [frame.right + 15.0, foot - 4.0], "");
            }
            svg.text("label", [frame.right + 23.0, foot], Anchor::Start, &cut(&of.name, NAMES));
        }
    }
}

fn draw_series(svg: &mut Svg, frame: &Frame, number: usize, series: &Series) {
    let way = number % WAYS;
    let is_there = |point: &&Point| point.x.is_finite() && point.y.is_finite();
    let is_line = |stretch: &&[Point]| stretch.len() > 1 && series.drawn != Drawn::Marks;
    for stretch in series.points.split(|point| !is_there(&point)).filter(is_line) {
        let line: Vec<[f64; 2]> = stretch.iter().map(|point| frame.at(point.x, point.y)).collect();
        svg.polyline(&format!("curve way{way}"), &line, &series.name);
    }
    for point in series.points.iter().filter(is_there) {
        if let Some([low, high]) = point.interval {
            svg.whisker(&format!("whisker way{way}"), frame.at(point.x, low), frame.at(point.x, high));
        }
        if series.drawn != Drawn::Line {
            svg.mark(number, &format!("mark way{way}"), frame.at(point.x, point.y), &point.tip);
        } else if !point.tip.is_empty() {
            // A line without marks shows its values too, where a pointer rests on it.
            svg.mark(0, "unseen", frame.at(point.x, point.y), &point.tip);
        }
    }
}
