//! Ranked horizontal bars from one value to another, with intervals.

use crate::report::page::axis::Axis;
use crate::report::page::chart::intervals::{NAMES, ROW, name_row, room_for};
use crate::report::page::frame::{BELOW, Frame};
use crate::report::page::svg::{Anchor, Svg, TEXT, WIDTH, cut, width_of};

/// Bars below each other, in the order that they come in.
#[derive(Clone, Debug)]
pub(crate) struct Ranked {
    /// The axis of the number.
    pub axis: Axis,
    /// The bars.
    pub bars: Vec<Bar>,
    /// A base value for all bars, with its name; without one they begin at 0.
    pub base: Option<(f64, String)>,
}

/// A bar.
#[derive(Clone, Debug)]
pub(crate) struct Bar {
    /// Its name.
    pub name: String,
    /// Its beginning.
    pub from: f64,
    /// Its end.
    pub to: f64,
    /// Interval of its end, where it has one.
    pub interval: Option<[f64; 2]>,
    /// A second value on it, drawn as a mark, such as the share alone.
    pub inner: Option<f64>,
    /// The number as text.
    pub text: String,
    /// Its tip.
    pub tip: String,
}

/// Height of a row with its name above its bar.
const TALL: f64 = 41.0;

impl Ranked {
    pub(super) fn draw(&self) -> Svg {
        let names = || self.bars.iter().map(|bar| bar.name.as_str());
        // Names too long for the side go above their bars, whole.
        let is_above = names().any(|name| width_of(name) > NAMES);
        let room = if is_above { 0.0 } else { room_for(names()) };
        let left = if is_above { 6.0 } else { room + 10.0 };
        let height = if is_above { TALL } else { ROW };
        let at_right = self.bars.iter().map(|bar| width_of(&bar.text)).fold(0.0, f64::max) + 14.0;
        let top = if self.base.is_some() { 20.0 } else { 6.0 };
        let bottom = top + height * self.bars.len() as f64;
        let unused = Axis::percent("");
        let frame = Frame { left, right: WIDTH - at_right, top, bottom, x: &self.axis, y: &unused };
        let mut svg = Svg::new(bottom + BELOW);
        for (value, _) in self.axis.ticks(8) {
            svg.line("rule", [frame.x(value), top], [frame.x(value), bottom]);
        }
        for (number, bar) in self.bars.iter().enumerate() {
            let y = top + height * (number as f64 + 1.0) - 0.5 * ROW;
            if is_above {
                svg.text("label halo", [left, y - 13.0], Anchor::Start, &cut(&bar.name, WIDTH - left));
            } else {
                name_row(&mut svg, &bar.name, room, y);
            }
            draw_bar(&mut svg, &frame, bar, y);
        }
        frame.draw_along(&mut svg);
        if let Some((value, name)) = &self.base {
            let x = frame.x(*value);
            svg.line("base", [x, top - 4.0], [x, bottom]);
            let anchor = if x > 0.5 * WIDTH { Anchor::End } else { Anchor::Start };
            svg.text("label halo", [x, top - 7.0], anchor, name);
        }
        svg
    }
}

fn draw_bar(svg: &mut Svg, frame: &Frame, bar: &Bar, y: f64) {
    let (from, to) = (frame.x(bar.from), frame.x(bar.to));
    svg.rect("bar", [from.min(to), y - 8.0], [(to - from).abs(), 16.0], &bar.tip);
    if let Some([low, high]) = bar.interval {
        svg.whisker("whisker", [frame.x(low), y], [frame.x(high), y]);
    }
    if let Some(inner) = bar.inner {
        svg.mark(3, "mark way1", [frame.x(inner), y], "");
    }
    svg.text("label number", [WIDTH - 2.0, y + 0.36 * TEXT], Anchor::End, &bar.text);
}
