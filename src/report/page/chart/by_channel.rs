//! A number for each channel: where its middle lies, where most units lie, and how far any goes.

use crate::report::page::axis::Axis;
use crate::report::page::frame::{ABOVE, BELOW, Frame};
use crate::report::page::svg::{Anchor, Svg, WIDTH};

/// Dots with ranges.
#[derive(Clone, Debug)]
pub struct ByChannel {
    /// What is measured.
    pub y: Axis,
    /// For each channel, counted from 0: the least, where the lower part ends, the middle, where the upper part begins, the most.
    pub channels: Vec<[f64; 5]>,
    /// What the thick part of a line is, and the thin one: "5 to 95 %", "all units".
    pub names: [String; 2],
}

impl ByChannel {
    pub(super) fn draw(&self) -> Svg {
        let (top, bottom) = (ABOVE, ABOVE + 220.0);
        let last = self.channels.len().saturating_sub(1) as f64;
        let x = Axis::between("channel", "", -0.7, last + 0.7);
        let frame = Frame::new(&x, &self.y, top, bottom, 14.0);
        let mut svg = Svg::new(bottom + BELOW);
        frame.draw_upward(&mut svg);
        if self.y.holds(0.0) {
            svg.line("axis", [frame.left, frame.y(0.0)], [frame.right, frame.y(0.0)]);
        }
        // Dots would lie on each other where there are very many channels.
        let is_crowded = self.channels.len() > 160;
        for (number, of) in self.channels.iter().enumerate().filter(|(_, of)| of.iter().all(|v| v.is_finite())) {
            let [least, low, middle, high, most] = *of;
            let at = |value: f64| frame.at(number as f64, value);
            svg.line("range thin", at(least), at(most));
            svg.line("range", at(low), at(high));
            let unit = &self.y.unit;
            let tip = format!(
                "channel {number}: middle {middle:.3} {unit}, {} {low:.3} to {high:.3}, {} {least:.3} to {most:.3}",
                self.names[0], self.names[1]
            );
            if is_crowded {
                svg.line("range dot", at(middle), [at(middle)[0], at(middle)[1] + 1.0]);
            } else {
                svg.mark(0, "mark way0", at(middle), &tip);
            }
        }
        frame.draw_along(&mut svg);
        let told = format!("dot: middle; thick: {}; thin: {}", self.names[0], self.names[1]);
        svg.text("label", [WIDTH - 14.0, top - 11.0], Anchor::End, &told);
        svg
    }
}
