//! Places labels so that they do not overlap.

use crate::report::page::svg::{Anchor, TEXT, width_of};

/// Height of a line of text.
pub(super) const LINE: f64 = 15.0;

/// Baselines of labels wanted at some heights: moved as little as needed to keep them apart, within bounds.
pub(super) fn side_by_side(wanted: &[f64], top: f64, bottom: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]));
    let mut feet = wanted.to_vec();
    let mut last = top - LINE;
    for of in &order {
        feet[*of] = feet[*of].max(last + LINE);
        last = feet[*of];
    }
    let mut next = bottom + LINE;
    for of in order.iter().rev() {
        feet[*of] = feet[*of].min(next - LINE);
        next = feet[*of];
    }
    feet
}

/// Boxes that are taken: left, top, right, bottom.
#[derive(Debug, Default)]
pub(super) struct Taken(Vec<[f64; 4]>);

impl Taken {
    /// Takes a box.
    pub(super) fn take(&mut self, of: [f64; 4]) {
        self.0.push(of);
    }

    /// Takes a line of steps: each piece is horizontal or vertical.
    pub(super) fn take_steps(&mut self, points: &[[f64; 2]]) {
        for ends in points.windows(2) {
            let [[x1, y1], [x2, y2]] = [ends[0], ends[1]];
            self.take([x1.min(x2) - 2.0, y1.min(y2) - 2.0, x1.max(x2) + 2.0, y1.max(y2) + 2.0]);
        }
    }

    /// How much of a box is taken.
    pub(super) fn overlap(&self, of: [f64; 4]) -> f64 {
        let along = |a: [f64; 2], b: [f64; 2]| (a[1].min(b[1]) - a[0].max(b[0])).max(0.0);
        let with = |other: &[f64; 4]| {
            along([of[0], of[2]], [other[0], other[2]]) * along([of[1], of[3]], [other[1], other[3]])
        };
        self.0.iter().map(with).sum()
    }

    /// The baseline of a point's label and its anchor: beside the point, above or below, wherever it covers least, and
    /// within `within` from left to right. Takes that place.
    pub(super) fn beside(&mut self, text: &str, [x, y]: [f64; 2], within: [f64; 2]) -> ([f64; 2], Anchor) {
        use Anchor::{End, Middle, Start};
        let width = width_of(text);
        let sides = [
            (8.0, 4.0, Start),
            (-8.0, 4.0, End),
            (0.0, -9.0, Middle),
            (0.0, 19.0, Middle),
            (6.0, -9.0, Start),
            (-6.0, -9.0, End),
            (6.0, 19.0, Start),
            (-6.0, 19.0, End),
            (-6.0, -9.0 - LINE, End),
            (6.0, 19.0 + LINE, Start),
        ];
        let covered = |(along, down, anchor): (f64, f64, Anchor)| {
            let left = match anchor {
                Start => x + along,
                Middle => x - 0.5 * width,
                End => x + along - width,
            };
            [left, y + down - TEXT, left + width, y + down + 3.0]
        };
        let cost = |side| {
            let [left, _, right, _] = covered(side);
            self.overlap(covered(side)) + 20.0 * ((within[0] - left).max(0.0) + (right - within[1]).max(0.0))
        };
        let costs = sides.map(|side| (side, cost(side)));
        let (best, _) =
            costs.into_iter().fold(costs[0], |best, next| if next.1 < best.1 { next } else { best });
        self.take(covered(best));
        ([x + best.0, y + best.1], best.2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_moved_apart_and_stay_in_bounds() {
        assert_eq!(side_by_side(&[10.0, 50.0], 0.0, 100.0), [10.0, 50.0]);
        assert_eq!(side_by_side(&[50.0, 50.0], 0.0, 100.0), [50.0, 65.0]);
        assert_eq!(side_by_side(&[99.0, 98.0], 0.0, 100.0), [100.0, 85.0]);
    }

    #[test]
    fn a_label_avoids_taken_places() {
        let mut taken = Taken::default();
        assert_eq!(taken.beside("one", [50.0, 50.0], [0.0, 400.0]), ([58.0, 54.0], Anchor::Start));
        let (_, second) = taken.beside("two", [52.0, 51.0], [0.0, 400.0]);
        assert_eq!(second, Anchor::End);
        let (_, at_the_edge) = Taken::default().beside("a long name", [395.0, 50.0], [0.0, 400.0]);
        assert_eq!(at_the_edge, Anchor::End);
        let mut with_a_line = Taken::default();
        with_a_line.take_steps(&[[50.0, 50.0], [200.0, 50.0]]);
        assert_eq!(with_a_line.beside("one", [50.0, 50.0], [0.0, 400.0]).1, Anchor::End);
    }
}
