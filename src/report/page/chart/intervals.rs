//! A number with its interval for each of several: a bar, its interval as a whisker, the number beside it.

use crate::report::page::axis::Axis;
use crate::report::page::frame::{BELOW, Frame};
use crate::report::page::svg::{Anchor, Svg, TEXT, WIDTH, cut, width_of};

/// Bars below each other.
#[derive(Clone, Debug)]
pub(crate) struct Intervals {
    /// The axis of the number.
    pub axis: Axis,
    /// The bars.
    pub rows: Vec<Row>,
    /// A value marked by a line through all bars, with its name.
    pub level: Option<(f64, String)>,
}

/// A bar.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    /// Its name.
    pub name: String,
    /// Its end.
    pub value: f64,
    /// The interval.
    pub interval: [f64; 2],
    /// The number as text: "91.8 %".
    pub text: String,
    /// Its tip.
    pub tip: String,
}

/// Height of a row.
pub(super) const ROW: f64 = 27.0;

/// Most of the width that names take.
pub(super) const NAMES: f64 = 260.0;

/// Room at the left for names; longer ones are cut.
pub(super) fn room_for<'a>(names: impl Iterator<Item = &'a str>) -> f64 {
    names.map(width_of).fold(40.0, f64::max).min(NAMES)
}

/// A name at the left of a row's middle.
pub(super) fn name_row(svg: &mut Svg, name: &str, room: f64, y: f64) {
    svg.text("label", [room, y + 0.36 * TEXT], Anchor::End, &cut(name, room));
}

impl Intervals {
    pub(super) fn draw(&self) -> Svg {
        let room = room_for(self.rows.iter().map(|row| row.name.as_str()));
        let at_right = self.rows.iter().map(|row| width_of(&row.text)).fold(0.0, f64::max) + 14.0;
        let top = if self.level.is_some() { 20.0 } else { 6.0 };
        let bottom = top + ROW * self.rows.len() as f64;
        let unused = Axis::percent("");
        let frame =
            Frame { left: room + 10.0, right: WIDTH - at_right, top, bottom, x: &self.axis, y: &unused };
        let mut svg = Svg::new(bottom + BELOW);
        for (value, _) in self.axis.ticks(8) {
            svg.line("rule", [frame.x(value), top], [frame.x(value), bottom]);
        }
        for (number, row) in self.rows.iter().enumerate() {
            let y = top + ROW * (number as f64 + 0.5);
            name_row(&mut svg, &row.name, room, y);
            let [low, high] = row.interval.map(|end| frame.x(end));
            let (from, to) = (frame.x(0.0), frame.x(row.value));
            svg.rect("bar", [from.min(to), y - 8.0], [(to - from).abs(), 16.0], &row.tip);
            if high - low > 0.5 {
                svg.whisker("whisker", [low, y], [high, y]);
            }
            svg.text("label number", [WIDTH - 2.0, y + 0.36 * TEXT], Anchor::End, &row.text);
        }
        frame.draw_along(&mut svg);
        if let Some((value, name)) = self.level.as_ref().filter(|(value, _)| self.axis.holds(*value)) {
            let x = frame.x(*value);
            svg.line("limit", [x, top - 4.0], [x, bottom]);
            let anchor = if x > 0.5 * WIDTH { Anchor::End } else { Anchor::Start };
            svg.text("label halo", [x, top - 7.0], anchor, name);
        }
        svg
    }
}
