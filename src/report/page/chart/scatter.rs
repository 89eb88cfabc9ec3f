//! Named points, and their Pareto front.

use crate::report::page::axis::Axis;
use crate::report::page::frame::{ABOVE, BELOW, Frame};
use crate::report::page::labels::Taken;
use crate::report::page::svg::{Svg, WIDTH, cut};

/// Points in a field.
#[derive(Clone, Debug)]
pub(crate) struct Scatter {
    /// The horizontal axis.
    pub x: Axis,
    /// The vertical axis.
    pub y: Axis,
    /// The points.
    pub spots: Vec<Spot>,
}

/// A point.
#[derive(Clone, Debug)]
pub(crate) struct Spot {
    /// Its name.
    pub name: String,
    /// Horizontal value.
    pub x: f64,
    /// Vertical value.
    pub y: f64,
    /// Interval of the vertical value.
    pub interval: Option<[f64; 2]>,
    /// Whether it is on the Pareto front; where no spot is, the front is unknown.
    pub is_front: bool,
    /// Its tip.
    pub tip: String,
}

/// Most of the width that a name takes.
const NAME: f64 = 190.0;

impl Scatter {
    pub(super) fn draw(&self) -> Svg {
        let (top, bottom) = (ABOVE, ABOVE + 290.0);
        let frame = Frame::new(&self.x, &self.y, top, bottom, 24.0);
        let mut svg = Svg::new(bottom + BELOW);
        frame.draw(&mut svg);
        let spots: Vec<&Spot> = self.spots.iter().filter(|of| of.x.is_finite() && of.y.is_finite()).collect();
        let has_front = spots.iter().any(|of| of.is_front);
        let mut front: Vec<&&Spot> = spots.iter().filter(|of| of.is_front).collect();
        front.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        // The front is a step function: nothing is gained between two points.
        let mut steps: Vec<[f64; 2]> = Vec::new();
        for spot in front {
            let at = frame.at(spot.x, spot.y);
            if let Some(last) = steps.last().copied() {
                steps.push([at[0], last[1]]);
            }
            steps.push(at);
        }
        if steps.len() > 1 {
            svg.polyline("curve way0", &steps, "");
        }
        let mut taken = Taken::default();
        taken.take_steps(&steps);
        for spot in &spots {
            let [x, y] = frame.at(spot.x, spot.y);
            taken.take([x - 5.0, y - 5.0, x + 5.0, y + 5.0]);
        }
        for spot in &spots {
            let at = frame.at(spot.x, spot.y);
            if let Some([low, high]) = spot.interval {
                svg.whisker("whisker", frame.at(spot.x, low), frame.at(spot.x, high));
            }
            let (kind, class) = if spot.is_front || !has_front { (0, "mark way0") } else { (3, "mark open") };
            svg.mark(kind, class, at, &spot.tip);
        }
        for spot in &spots {
            let name = cut(&spot.name, NAME);
            let (foot, anchor) = taken.beside(&name, frame.at(spot.x, spot.y), [frame.left, WIDTH]);
            svg.text("label halo", foot, anchor, &name);
        }
        svg
    }
}
