//! Where labels go, so that none lies on another.

use crate::report::page::svg::{TEXT, width_of};

/// Height of a line of text.
pub const LINE: f64 = 15.0;

/// Feet of labels that should stand at some heights: each at its own where there is room, else moved as little as it takes, within bounds.
pub fn side_by_side(wanted: &[f64], top: f64, bottom: f64) -> Vec<f64> {
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
pub struct Taken(Vec<[f64; 4]>);

impl Taken {
    /// Takes a box.
    pub fn take(&mut self, of: [f64; 4]) {
        self.0.push(of);
    }

    fn overlap(&self, of: [f64; 4]) -> f64 {
        let along = |a: [f64; 2], b: [f64; 2]| (a[1].min(b[1]) - a[0].max(b[0])).max(0.0);
        let with = |other: &[f64; 4]| {
            along([of[0], of[2]], [other[0], other[2]]) * along([of[1], of[3]], [other[1], other[3]])
        };
        self.0.iter().map(with).sum()
    }

    /// Where the left foot of a label of a point goes: beside it, above or below, wherever it covers least, and within `within` from left to
    /// right. The place is taken.
    pub fn beside(&mut self, text: &str, [x, y]: [f64; 2], within: [f64; 2]) -> [f64; 2] {
        let width = width_of(text);
        let sides = [
            [x + 8.0, y + 4.0],
            [x - 8.0 - width, y + 4.0],
            [x - 0.5 * width, y - 9.0],
            [x - 0.5 * width, y + 19.0],
            [x + 6.0, y - 9.0],
            [x - 6.0 - width, y - 9.0],
            [x + 6.0, y + 19.0],
            [x - 6.0 - width, y + 19.0],
        ];
        let covered = |[left, foot]: [f64; 2]| [left, foot - TEXT, left + width, foot + 3.0];
        let cost = |at: [f64; 2]| {
            let beyond = (within[0] - at[0]).max(0.0) + (at[0] + width - within[1]).max(0.0);
            self.overlap(covered(at)) + 20.0 * beyond
        };
        let least = sides.into_iter().fold((sides[0], f64::INFINITY), |best, at| {
            let cost = cost(at);
            if cost < best.1 { (at, cost) } else { best }
        });
        self.take(covered(least.0));
        least.0
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
    fn a_label_keeps_off_what_is_there() {
        let mut taken = Taken::default();
        let first = taken.beside("one", [50.0, 50.0], [0.0, 400.0]);
        assert_eq!(first, [58.0, 54.0]);
        let second = taken.beside("two", [52.0, 51.0], [0.0, 400.0]);
        assert!(second[0] < 50.0, "{second:?}");
        let at_the_edge = Taken::default().beside("a long name", [395.0, 50.0], [0.0, 400.0]);
        assert!(at_the_edge[0] + width_of("a long name") <= 400.0);
    }
}
