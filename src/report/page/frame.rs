//! The field between two axes.

use crate::report::page::axis::{Axis, Scale};
use crate::report::page::svg::{Anchor, Svg, WIDTH, cut, width_of};

/// Room above a field, for the name of the vertical axis.
pub(super) const ABOVE: f64 = 26.0;

/// Room below a field, for values and the name of the horizontal axis.
pub(super) const BELOW: f64 = 42.0;

/// A field: its position and its two axes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame<'a> {
    pub left: f64,
    pub right: f64,
    pub top: f64,
    pub bottom: f64,
    pub x: &'a Axis,
    pub y: &'a Axis,
}

impl<'a> Frame<'a> {
    /// A field as wide as the page, with so much room at its right.
    pub(super) fn new(x: &'a Axis, y: &'a Axis, top: f64, bottom: f64, at_right: f64) -> Frame<'a> {
        let widest = y.ticks(6).iter().map(|(_, text)| width_of(text)).fold(0.0, f64::max);
        let left = widest.clamp(20.0, 150.0) + 12.0;
        Frame { left, right: WIDTH - at_right.max(14.0), top, bottom, x, y }
    }

    /// The distance from the left of a value of the first axis.
    pub(super) fn x(&self, value: f64) -> f64 {
        self.left + (self.right - self.left) * self.x.place(value)
    }

    /// The distance from the top of a value of the second axis.
    pub(super) fn y(&self, value: f64) -> f64 {
        self.bottom - (self.bottom - self.top) * self.y.place(value)
    }

    /// The position of a point.
    pub(super) fn at(&self, x: f64, y: f64) -> [f64; 2] {
        [self.x(x), self.y(y)]
    }

    /// Draws both axes.
    pub(super) fn draw(&self, svg: &mut Svg) {
        self.draw_upward(svg);
        self.draw_along(svg);
    }

    /// Draws the vertical axis, with lines across.
    pub(super) fn draw_upward(&self, svg: &mut Svg) {
        let most = ((self.bottom - self.top) / 40.0) as usize;
        for (value, text) in self.y.ticks(most.max(2)) {
            let y = self.y(value);
            svg.line("rule", [self.left, y], [self.right, y]);
            svg.text("tick", [self.left - 6.0, y + 4.0], Anchor::End, &text);
        }
        svg.text("name", [0.0, self.top - 11.0], Anchor::Start, &self.y.title());
    }

    /// Draws the horizontal axis.
    pub(super) fn draw_along(&self, svg: &mut Svg) {
        let ticks = self.x_ticks();
        svg.line("axis", [self.left, self.bottom], [self.right, self.bottom]);
        for (value, text) in ticks {
            let x = self.x(value);
            svg.line("axis", [x, self.bottom], [x, self.bottom + 4.0]);
            let half = 0.5 * width_of(&text);
            let middle = x.min(WIDTH - half).max(half);
            svg.text("tick", [middle, self.bottom + 17.0], Anchor::Middle, &text);
        }
        svg.text("name", [self.right, self.bottom + 35.0], Anchor::End, &self.x.title());
    }

    /// As many values of the first axis as have room.
    fn x_ticks(&self) -> Vec<(f64, String)> {
        let width = self.right - self.left;
        let fits = |ticks: &Vec<(f64, String)>| {
            ticks.windows(2).all(|pair| {
                let half = |of: &(f64, String)| 0.5 * width_of(&of.1);
                self.x(pair[1].0) - self.x(pair[0].0) > half(&pair[0]) + half(&pair[1]) + 8.0
            })
        };
        let mut ticks = (1..=10).rev().map(|most| self.x.ticks(most)).find(fits).unwrap_or_default();
        // Every name that has room for some of it.
        if let Scale::Names(names) = &self.x.scale {
            let room = width / names.len().max(1) as f64 - 6.0;
            if ticks.len() < names.len() && room >= 40.0 {
                ticks = names.iter().enumerate().map(|(at, name)| (at as f64, cut(name, room))).collect();
            }
        }
        ticks
    }

    /// A line across at a vertical value, with its name.
    pub(super) fn level(&self, svg: &mut Svg, value: f64, name: &str) {
        if self.y.holds(value) {
            let y = self.y(value);
            svg.line("limit", [self.left, y], [self.right, y]);
            let foot = if y - self.top < 20.0 { y + 14.0 } else { y - 5.0 };
            svg.text("label halo", [self.left + 4.0, foot], Anchor::Start, name);
        }
    }

    /// An upright line at a horizontal value, with its name above the field.
    pub(super) fn upright(&self, svg: &mut Svg, value: f64, name: &str) {
        if self.x.holds(value) {
            let x = self.x(value);
            svg.line("limit", [x, self.top], [x, self.bottom]);
            // Above the field, unless the name of the axis is there.
            let is_free = x - width_of(name) > width_of(&self.y.title()) + 12.0;
            if is_free {
                svg.text(
                    "label",
                    [x, self.top - 6.0],
                    if x + width_of(name) > WIDTH { Anchor::End } else { Anchor::Middle },
                    name,
                );
            } else {
                svg.text("label halo", [x + 5.0, self.top + 12.0], Anchor::Start, name);
            }
        }
    }
}
