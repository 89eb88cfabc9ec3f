//! The error-free curve, the band of most built ones, and the worst of them.

use crate::report::page::axis::Axis;
use crate::report::page::frame::{ABOVE, BELOW, Frame};
use crate::report::page::svg::{Anchor, Svg, cut, width_of};

/// Curves over an axis, all at the same places.
#[derive(Clone, Debug)]
pub(crate) struct Band {
    /// The horizontal axis.
    pub x: Axis,
    /// The vertical axis; values below its beginning are drawn there.
    pub y: Axis,
    /// The places along, rising.
    pub at: Vec<f64>,
    /// The curve without errors.
    pub error_free: Vec<f64>,
    /// The lower end of the band.
    pub low: Vec<f64>,
    /// Its middle.
    pub middle: Vec<f64>,
    /// Its upper end.
    pub high: Vec<f64>,
    /// The worst curve and its name.
    pub worst: Option<(Vec<f64>, String)>,
    /// The band's name: "5 to 95 % of 300 units".
    pub name: String,
    /// Vertical values marked by a line across, with their names.
    pub levels: Vec<(f64, String)>,
}

/// Height of the legend.
const LEGEND: f64 = 20.0;

/// Most of the width that each name in it takes.
const NAMES: f64 = 190.0;

/// Values are shown by tips at about so many places.
const TIPS: usize = 90;

impl Band {
    pub(super) fn draw(&self) -> Svg {
        let (top, bottom) = (LEGEND + ABOVE, LEGEND + ABOVE + 270.0);
        let worst = self.worst.as_ref().map(|(curve, name)| (curve, "curve way3", name.as_str()));
        let named = [Some((&self.error_free, "curve way1", "without errors")), worst];
        let frame = Frame::new(&self.x, &self.y, top, bottom, 14.0);
        let mut svg = Svg::new(bottom + BELOW);
        frame.draw(&mut svg);
        let line = |curve: &[f64]| -> Vec<[f64; 2]> {
            let both = self.at.iter().zip(curve).filter(|(_, y)| !y.is_nan());
            both.map(|(x, y)| frame.at(*x, *y)).collect()
        };
        let mut area = line(&self.high);
        area.extend(line(&self.low).into_iter().rev());
        svg.polygon("band", &area, &self.name);
        svg.polyline("curve way0 thin", &line(&self.middle), "");
        for (curve, class, name) in named.iter().flatten() {
            svg.polyline(class, &line(curve), name);
        }
        self.levels.iter().for_each(|(value, name)| frame.level(&mut svg, *value, name));
        self.draw_tips(&mut svg, &frame);
        // A legend: names at the ends of curves that cross everywhere would mislead.
        let mut left = 0.0;
        let names =
            named.iter().flatten().map(|(_, class, name)| (Some(*class), *name)).chain([(None, &*self.name)]);
        for (class, name) in names {
            let name = cut(name, NAMES);
            match class {
                Some(class) => svg.polyline(class, &[[left, 10.0], [left + 22.0, 10.0]], ""),
                None => {
                    svg.rect("band", [left, 4.0], [22.0, 12.0], "");
                    svg.polyline("curve way0 thin", &[[left, 10.0], [left + 22.0, 10.0]], "");
                }
            }
            svg.text("label", [left + 28.0, 14.0], Anchor::Start, &name);
            left += 28.0 + width_of(&name) + 18.0;
        }
        svg
    }

    fn draw_tips(&self, svg: &mut Svg, frame: &Frame) {
        let every = self.at.len().div_ceil(TIPS).max(1);
        for number in (0..self.at.len()).step_by(every) {
            let of = |curve: &[f64]| curve.get(number).copied().unwrap_or(f64::NAN);
            let [free, low, high] = [&self.error_free, &self.low, &self.high].map(|curve| of(curve));
            let x = self.at[number];
            if ![x, free, low, high].into_iter().all(f64::is_finite) {
                continue;
            }
            let tip = format!(
                "{x:.1} {}: without errors {free:.2}, band {low:.2} to {high:.2} {}",
                self.x.unit, self.y.unit
            );
            let half = 0.5 * (frame.right - frame.left) * every as f64 / self.at.len().max(1) as f64;
            let (from, to) = ((frame.x(x) - half).max(frame.left), (frame.x(x) + half).min(frame.right));
            svg.rect("unseen", [from, frame.top], [to - from, frame.bottom - frame.top], &tip);
        }
    }
}
