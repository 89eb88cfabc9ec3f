//! A number for each channel: its middle, the range of most units, and the range of all.

use crate::report::page::axis::Axis;
use crate::report::page::frame::{ABOVE, BELOW, Frame};
use crate::report::page::svg::{Anchor, Svg, WIDTH};

/// Dots with ranges.
#[derive(Clone, Debug)]
pub(crate) struct ByChannel {
    /// The axis of the number.
    pub y: Axis,
    /// For each channel, counted from 0: the least, the lower end of most units, the middle, their upper end, the most.
    pub channels: Vec<[f64; 5]>,
    /// How many channels share a mark; the last mark may have fewer.
    pub each: usize,
    /// Names of the thick part of a line and of the thin one: "5 to 95 %", "all units".
    pub names: [String; 2],
}

impl ByChannel {
    pub(super) fn draw(&self) -> Svg {
        let (top, bottom) = (ABOVE, ABOVE + 220.0);
        let each = self.each.max(1);
        let ends = |number: usize| [number * each, (number + 1) * each - 1];
        let last = (self.channels.len() * each).saturating_sub(1) as f64;
        let beside = 0.7 * each as f64;
        let x = Axis::between("channel", "", -beside, last + beside);
        let frame = Frame::new(&x, &self.y, top, bottom, 14.0);
        let mut svg = Svg::new(bottom + BELOW);
        frame.draw_upward(&mut svg);
        if self.y.holds(0.0) {
            svg.line("axis", [frame.left, frame.y(0.0)], [frame.right, frame.y(0.0)]);
        }
        for (number, of) in
            self.channels.iter().enumerate().filter(|(_, of)| of.iter().all(|v| v.is_finite()))
        {
            let [least, low, middle, high, most] = *of;
            let [first, last] = ends(number);
            let at = |value: f64| frame.at(0.5 * (first + last) as f64, value);
            svg.line("range thin", at(least), at(most));
            svg.line("range", at(low), at(high));
            let unit = &self.y.unit;
            let which =
                if each > 1 { format!("channels {first} to {last}") } else { format!("channel {first}") };
            let tip = format!(
                "{which}: middle {middle:.3} {unit}, {} {low:.3} to {high:.3}, {} {least:.3} to {most:.3}",
                self.names[0], self.names[1]
            );
            svg.mark(0, "mark way0", at(middle), &tip);
        }
        frame.draw_along(&mut svg);
        let legend = format!("dot: middle; thick: {}; thin: {}", self.names[0], self.names[1]);
        svg.text("label", [WIDTH - 14.0, top - 11.0], Anchor::End, &legend);
        svg
    }
}
