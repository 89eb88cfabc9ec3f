//! Elements at places of their own.

use super::{Face, MOST_A_SIDE, NARROWEST, Places};
use crate::io::{Columns, Dimension, Key, Table, Text, keys};

/// Elements where a file says; channels in the order of the file, places from their centroid.
///
/// A file whose elements all have one y is a line along x. Elements in any other line are refused: their beam is a fan that
/// points nowhere along its own plane.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Positions {
    /// Places along x from the centroid, m, `[channel]`.
    pub x: Vec<f64>,
    /// Places along y from the centroid, m, `[channel]`; exactly 0 for a line.
    pub y: Vec<f64>,
}

/// Places this close, m, are one.
const SAME: f64 = 1e-9;

keys! {
    pub(super) KEYS: "Elements where a file says";
    CSV: Text = Key::text("csv", "elements.csv", "A file with the columns x_mm and y_mm, a row for each element");
}

impl Positions {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "positions";

    pub(super) fn read(table: &Table, wavelength: f64) -> Option<Positions> {
        let columns = table.columns(&CSV)?;
        let (x, y) = (columns.quantity("x", Dimension::Length), columns.quantity("y", Dimension::Length));
        let (mut x, mut y) = (x?, y?);
        let refuse = |message: &str, label: String, help: &str| {
            table.error(table.span_of(CSV), message, label, Some(help.into()));
        };
        if x.len() < 2 || x.len() as u64 > MOST_A_SIDE {
            let label = format!("{} rows", columns.rows());
            refuse("an array of as many elements cannot be", label, &format!("2 to {MOST_A_SIDE} elements"));
            return None;
        }
        if has_repeats(&columns, &x, &y) {
            return None;
        }
        let is_line = y.iter().all(|of| (of - y[0]).abs() <= SAME);
        centre(&mut x);
        centre(&mut y);
        if is_line {
            y.fill(0.0);
        } else if width(&x, &y) < NARROWEST * wavelength {
            let help = "let a line run along x, its y all alike, or let the elements fill a plane";
            refuse("the elements stand in a line askew to the x axis", "such a line".into(), help);
            return None;
        }
        Some(Positions { x, y })
    }

    /// Distance of the closest two elements, m.
    fn spacing(&self) -> f64 {
        let apart = |i: usize, j: usize| (self.x[i] - self.x[j]).powi(2) + (self.y[i] - self.y[j]).powi(2);
        let pairs = (0..self.x.len()).flat_map(|i| (0..i).map(move |j| apart(i, j)));
        pairs.fold(f64::INFINITY, f64::min).sqrt()
    }
}

impl Places for Positions {
    fn channels(&self) -> usize {
        self.x.len()
    }

    fn face(&self) -> Face {
        Face { x: self.x.clone(), y: self.y.clone(), lattice: None }
    }

    fn is_line(&self) -> bool {
        self.y.iter().all(|y| *y == 0.0)
    }

    fn spacings(&self) -> Vec<f64> {
        vec![self.spacing()]
    }

    fn words(&self, apart: &dyn Fn(f64) -> String) -> String {
        format!(" at places of their own, the closest {}", apart(self.spacing()))
    }
}

/// Records the rows that repeat a place.
fn has_repeats(columns: &Columns, x: &[f64], y: &[f64]) -> bool {
    let mut order: Vec<usize> = (0..x.len()).collect();
    order.sort_by(|a, b| x[*a].total_cmp(&x[*b]));
    let mut repeats = Vec::new();
    for (at, first) in order.iter().enumerate() {
        let near = order[at + 1..].iter().take_while(|other| x[**other] - x[*first] <= SAME);
        let same = near.filter(|other| (y[**other] - y[*first]).abs() <= SAME);
        repeats.extend(same.map(|other| (*first.max(other), *first.min(other))));
    }
    repeats.sort_unstable();
    repeats.dedup_by_key(|(later, _)| *later);
    for (later, earlier) in &repeats {
        let message = format!("two elements stand at one place: rows {} and {}", earlier + 1, later + 1);
        columns.error(*later, "x", message, "taken already", "a place of its own for each element");
    }
    !repeats.is_empty()
}

fn centre(position: &mut [f64]) {
    let mean = position.iter().sum::<f64>() / position.len() as f64;
    position.iter_mut().for_each(|x| *x -= mean);
}

/// Root mean square of the distances from the straight line that the elements are closest to, m.
fn width(x: &[f64], y: &[f64]) -> f64 {
    let mean = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>() / a.len() as f64;
    let (xx, xy, yy) = (mean(x, x), mean(x, y), mean(y, y));
    let (half, skew) = ((xx + yy) / 2.0, (xx - yy) / 2.0);
    // Determinant over the larger eigenvalue: the smaller one without cancellation.
    let larger = half + (skew * skew + xy * xy).sqrt();
    ((xx * yy - xy * xy).max(0.0) / larger).sqrt()
}

impl Positions {}
