//! A number over two parameters: a grid of cells, darker for larger values, with lines of equal value.

use crate::report::page::axis::{Axis, Scale};
use crate::report::page::frame::{ABOVE, BELOW, Frame};
use crate::report::page::labels::Taken;
use crate::report::page::palette::TINTS;
use crate::report::page::svg::{Anchor, Svg, cut, width_of};

/// Cells in rows.
#[derive(Clone, Debug)]
pub(crate) struct HeatMap {
    /// Names along, from left to right.
    pub x: Axis,
    /// Names upward, from bottom to top.
    pub y: Axis,
    /// The value of a cell and its text, `[row from the bottom][column]`; `None` where there is no value.
    pub cells: Vec<Vec<Option<(f64, String)>>>,
    /// The range of values of the tints.
    pub range: [f64; 2],
    /// Values with a contour line, with their names.
    pub contours: Vec<(f64, String)>,
}

impl HeatMap {
    pub(super) fn draw(&self) -> Svg {
        let rows = self.cells.len();
        let columns = self.cells.iter().map(Vec::len).max().unwrap_or(0);
        let height = (320.0 / rows.max(1) as f64).clamp(12.0, 44.0) * rows as f64;
        let (top, bottom) = (ABOVE, ABOVE + height.clamp(44.0, 460.0));
        let frame = Frame::new(&self.x, &self.y, top, bottom, 52.0);
        let mut svg = Svg::new(bottom + BELOW);
        let size = [(frame.right - frame.left) / columns.max(1) as f64, (bottom - top) / rows.max(1) as f64];
        let each = || {
            self.cells.iter().enumerate().flat_map(|(row, cells)| {
                cells.iter().enumerate().map(move |(column, cell)| ([column, row], cell.as_ref()))
            })
        };
        for (at, cell) in each() {
            self.draw_cell(&mut svg, &frame, at, size, cell);
        }
        let contours: Vec<Vec<[[f64; 2]; 2]>> =
            self.contours.iter().map(|(value, _)| stretches(&self.cells, *value)).collect();
        for ((_, name), stretches) in self.contours.iter().zip(&contours) {
            for [from, to] in stretches {
                let ends = [*from, *to].map(|[column, row]| frame.at(column, row));
                svg.polyline("contour", &ends, name);
            }
        }
        // Numbers are drawn over the lines, and the lines' names avoid the numbers.
        let mut taken = Taken::default();
        for (at, cell) in each() {
            self.draw_number(&mut svg, &frame, at, size, cell, &mut taken);
        }
        for ((_, name), stretches) in self.contours.iter().zip(&contours) {
            draw_name(&mut svg, &frame, stretches, name, &mut taken);
        }
        draw_rows(&mut svg, &frame, &self.y);
        frame.draw_along(&mut svg);
        svg
    }

    fn draw_cell(
        &self,
        svg: &mut Svg,
        frame: &Frame,
        [column, row]: [usize; 2],
        size: [f64; 2],
        cell: Option<&(f64, String)>,
    ) {
        let corner = [frame.left + size[0] * column as f64, frame.bottom - size[1] * (row + 1) as f64];
        let name = |axis: &Axis, at: usize| match &axis.scale {
            Scale::Names(names) => format!("{} {}", axis.name, names.get(at).map_or("", String::as_str)),
            _ => String::new(),
        };
        let place = format!("{}, {}", name(&self.x, column), name(&self.y, row));
        let Some((value, text)) = cell else {
            svg.rect("cell", corner, size, &format!("{place}: not run"));
            return;
        };
        let class = format!("cell tint{}", self.tint(*value));
        svg.rect(&class, corner, size, &format!("{place}: {text}"));
    }

    fn tint(&self, value: f64) -> usize {
        let part = (value - self.range[0]) / (self.range[1] - self.range[0]);
        let tint = if part.is_finite() { (part.clamp(0.0, 1.0) * TINTS as f64) as usize } else { 0 };
        tint.min(TINTS - 1)
    }

    fn draw_number(
        &self,
        svg: &mut Svg,
        frame: &Frame,
        [column, row]: [usize; 2],
        size: [f64; 2],
        cell: Option<&(f64, String)>,
        taken: &mut Taken,
    ) {
        let Some((value, text)) = cell else { return };
        if width_of(text) + 6.0 < size[0] && size[1] >= 15.0 {
            let at = frame.at(column as f64, row as f64);
            let half = 0.5 * width_of(text);
            taken.take([at[0] - half, at[1] - 8.0, at[0] + half, at[1] + 8.0]);
            let class = format!("label number on{}", self.tint(*value));
            svg.text(&class, [at[0], at[1] + 4.5], Anchor::Middle, text);
        }
    }
}

/// The name of a line of equal value, once, where it covers least; nowhere if it would cover much.
fn draw_name(svg: &mut Svg, frame: &Frame, stretches: &[[[f64; 2]; 2]], name: &str, taken: &mut Taken) {
    const MOST: f64 = 60.0;
    let half = 0.5 * width_of(name);
    let covered = |[x, y]: [f64; 2]| [x - half, y - 7.0, x + half, y + 7.0];
    let places = stretches.iter().flat_map(|[from, to]| {
        let [from, to] = [from, to].map(|[column, row]| frame.at(*column, *row));
        [0.1, 0.5, 0.9].map(|part| [0, 1].map(|along| from[along] + part * (to[along] - from[along])))
    });
    let costs = places.map(|at| (at, taken.overlap(covered(at))));
    let least = costs.reduce(|a, b| if b.1 < a.1 { b } else { a });
    if let Some((at, _)) = least.filter(|(_, cost)| *cost < MOST) {
        taken.take(covered(at));
        svg.text("label halo small", [at[0], at[1] + 4.0], Anchor::Middle, name);
    }
}

/// Names of the rows, each cut to its room.
fn draw_rows(svg: &mut Svg, frame: &Frame, axis: &Axis) {
    for (value, text) in axis.ticks(((frame.bottom - frame.top) / 14.0) as usize) {
        let foot = [frame.left - 6.0, frame.y(value) + 4.0];
        svg.text("tick", foot, Anchor::End, &cut(&text, frame.left - 8.0));
    }
    svg.text("name", [0.0, frame.top - 11.0], Anchor::Start, &axis.title());
}

/// Straight pieces of the contour of a value: each square of four neighbours is two triangles, each with a linear value.
fn stretches(cells: &[Vec<Option<(f64, String)>>], value: f64) -> Vec<[[f64; 2]; 2]> {
    let at = |row: usize, column: usize| -> Option<f64> { Some(cells.get(row)?.get(column)?.as_ref()?.0) };
    let columns = cells.iter().map(Vec::len).max().unwrap_or(0);
    let mut found = Vec::new();
    for row in 1..cells.len() {
        for column in 1..columns {
            let corner = |down: usize, left: usize| {
                let (row, column) = (row - down, column - left);
                at(row, column).map(|value| ([column as f64, row as f64], value))
            };
            let halves = [[(0, 0), (0, 1), (1, 0)], [(1, 1), (0, 1), (1, 0)]];
            for half in halves {
                let [Some(a), Some(b), Some(c)] = half.map(|(down, left)| corner(down, left)) else {
                    continue;
                };
                let crossings: Vec<[f64; 2]> = [(a, b), (b, c), (c, a)]
                    .into_iter()
                    .filter_map(|(from, to)| crossing(from, to, value))
                    .collect();
                if let [from, to] = crossings.as_slice() {
                    found.push([*from, *to]);
                }
            }
        }
    }
    found
}

/// The point between two corners that has a value.
fn crossing(from: ([f64; 2], f64), to: ([f64; 2], f64), value: f64) -> Option<[f64; 2]> {
    // An end that has the value itself counts as above, so that no crossing is counted twice.
    if (from.1 >= value) == (to.1 >= value) {
        return None;
    }
    let part = (value - from.1) / (to.1 - from.1);
    Some([0, 1].map(|along| from.0[along] + part * (to.0[along] - from.0[along])))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_contour_is_where_the_value_is() {
        // The value is 10 times the column: the contour of 15 is upright midway between the columns 1 and 2.
        let cells: Vec<Vec<_>> =
            vec![(0..4).map(|column| Some((10.0 * f64::from(column), String::new()))).collect(); 3];
        let found = stretches(&cells, 15.0);
        assert_eq!(found.len(), 4);
        assert!(found.iter().flatten().all(|at| (at[0] - 1.5).abs() < 1e-12), "{found:?}");
        assert!(stretches(&cells, 35.0).is_empty());
        let mut with_a_hole = cells;
        with_a_hole[1][1] = None;
        assert!(stretches(&with_a_hole, 15.0).len() < 4);
    }
}
