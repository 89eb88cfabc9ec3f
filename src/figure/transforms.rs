//! The levels of an array on a rectangular lattice over visible space, by transforms along its rows and columns.

use crate::array::Lattice;
use crate::figure::OVERSAMPLING;
use crate::figure::visible::Visible;
use crate::math::Complex;
use crate::math::transform::{Order, Samples, Transform};

/// Transforms along x and y, and their room.
#[derive(Clone, Debug)]
pub(super) struct Transforms<const W: usize> {
    columns: Transform,
    rows: Transform,
    room: Vec<Complex<W>>,
    /// Field along x for each row of elements, `[row][column sample]`.
    row_re: Vec<[f32; W]>,
    row_im: Vec<[f32; W]>,
}

impl<const W: usize> Transforms<W> {
    pub(super) fn new(lattice: &Lattice) -> Transforms<W> {
        Transforms {
            columns: Transform::new(lattice.columns, OVERSAMPLING),
            rows: Transform::new(lattice.rows, OVERSAMPLING),
            room: Vec::new(),
            row_re: Vec::new(),
            row_im: Vec::new(),
        }
    }

    /// Computes the levels of the channels' contributions without the element, `[row][column]`.
    pub(super) fn take(
        &mut self,
        visible: &Visible,
        re: &[[f32; W]],
        im: &[[f32; W]],
        level: &mut [[f32; W]],
    ) {
        let count = visible.columns.transformed();
        let along_x = Order { first: visible.columns.first_bin(), stride: 1, count };
        if visible.rows.count == 1 {
            let samples = Samples { re, im, stride: 1 };
            self.columns.power(samples, &mut self.room, along_x, level);
        } else {
            self.take_plane(visible, along_x, re, im, level);
        }
        repeat_periods(visible, level);
    }

    fn take_plane(
        &mut self,
        visible: &Visible,
        along_x: Order,
        re: &[[f32; W]],
        im: &[[f32; W]],
        level: &mut [[f32; W]],
    ) {
        let elements = self.columns.samples();
        // An odd distance between rows, so that the samples of a column do not meet in the cache.
        let between = along_x.count | 1;
        self.row_re.resize(between * self.rows.samples(), [0.0; W]);
        self.row_im.resize(between * self.rows.samples(), [0.0; W]);
        for row in 0..self.rows.samples() {
            let of = row * elements..(row + 1) * elements;
            let samples = Samples { re: &re[of.clone()], im: &im[of], stride: 1 };
            let (to_re, to_im) = (&mut self.row_re[row * between..], &mut self.row_im[row * between..]);
            self.columns.field(samples, &mut self.room, along_x, to_re, to_im);
        }
        let stride = visible.columns.count;
        let along_y = Order { first: visible.rows.first_bin(), stride, count: visible.rows.transformed() };
        for column in 0..along_x.count {
            let (re, im) = (&self.row_re[column..], &self.row_im[column..]);
            let samples = Samples { re, im, stride: between };
            self.rows.power(samples, &mut self.room, along_y, &mut level[column..]);
        }
    }
}

/// Copies the transform of one period to the samples beyond it.
fn repeat_periods<const W: usize>(visible: &Visible, level: &mut [[f32; W]]) {
    let (columns, rows) = (&visible.columns, &visible.rows);
    if columns.count > columns.bins {
        for row in level.chunks_exact_mut(columns.count).take(rows.transformed()) {
            for column in columns.bins..columns.count {
                row[column] = row[column - columns.bins];
            }
        }
    }
    for row in rows.transformed()..rows.count {
        let from = (row - rows.bins) * columns.count;
        level.copy_within(from..from + columns.count, row * columns.count);
    }
}
