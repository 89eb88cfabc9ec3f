//! Elements on a lattice.

/// Rows and columns of elements; a line has one row. Channels are counted along x first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Lattice {
    /// Elements along x.
    pub columns: usize,
    /// Elements along y; 1 for a line.
    pub rows: usize,
    /// Spacing along x, m.
    pub dx: f64,
    /// Spacing along y, m; without meaning for a line.
    pub dy: f64,
    /// True for a triangular lattice, whose odd rows stand half a spacing farther along x.
    pub is_staggered: bool,
}

impl Lattice {
    /// True for a line along x.
    pub(crate) fn is_line(&self) -> bool {
        self.rows == 1
    }

    /// True for a rectangular lattice and for a line.
    pub(crate) fn is_rectangular(&self) -> bool {
        !self.is_staggered
    }

    /// Element positions along x and along y from the middle of the face, m, `[channel]`.
    pub(crate) fn positions(&self) -> (Vec<f64>, Vec<f64>) {
        let (mut x, mut y) = (Vec::new(), Vec::new());
        for row in 0..self.rows {
            for column in 0..self.columns {
                x.push((column as f64 - (self.columns as f64 - 1.0) / 2.0) * self.dx + self.shift(row));
                y.push((row as f64 - (self.rows as f64 - 1.0) / 2.0) * self.dy);
            }
        }
        (x, y)
    }

    /// How far a row stands along x from where it would on a rectangular lattice, m.
    fn shift(&self, row: usize) -> f64 {
        match (self.is_staggered, row % 2) {
            (false, _) => 0.0,
            (true, 0) => -self.dx / 4.0,
            (true, _) => self.dx / 4.0,
        }
    }
}
