//! The bench's readings: one for each code, and the chosen code.

use crate::report::page::axis::Axis;
use crate::report::page::frame::{ABOVE, BELOW, Frame};
use crate::report::page::svg::{Anchor, Svg, WIDTH};

/// Readings in the order of codes.
#[derive(Clone, Debug)]
pub(crate) struct Readings {
    /// The codes.
    pub x: Axis,
    /// The level.
    pub y: Axis,
    /// Codes and levels.
    pub readings: Vec<(f64, f64)>,
    /// The chosen code; it may be between two whole ones.
    pub chosen: Option<f64>,
    /// The label of the choice: "chosen: code 37".
    pub name: String,
}

impl Readings {
    pub(super) fn draw(&self) -> Svg {
        let (top, bottom) = (ABOVE, ABOVE + 210.0);
        let frame = Frame::new(&self.x, &self.y, top, bottom, 14.0);
        let mut svg = Svg::new(bottom + BELOW);
        frame.draw(&mut svg);
        if let Some(chosen) = self.chosen.filter(|code| self.x.holds(*code)) {
            let x = frame.x(chosen);
            svg.line("limit", [x, top], [x, bottom]);
        }
        for (code, level) in
            self.readings.iter().filter(|(code, level)| code.is_finite() && level.is_finite())
        {
            let is_chosen = self.chosen.is_some_and(|chosen| (chosen - code).abs() < 0.5);
            let (kind, class) = if is_chosen { (3, "mark way1") } else { (0, "mark way0") };
            let tip = format!("{} {code}: {level:.3} {}", self.x.name, self.y.unit);
            svg.mark(kind, class, frame.at(*code, *level), &tip);
        }
        svg.text("label", [WIDTH - 14.0, top - 11.0], Anchor::End, &self.name);
        svg
    }
}
