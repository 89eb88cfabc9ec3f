//! The radiating face: where the elements stand, how strongly each is fed, how one element radiates.
//! Positions in metres, directions as direction cosines, amplitudes linear with the largest at 1.

mod element;
pub mod layout;
mod steering;
pub mod taper;

pub use element::Element;
pub use layout::{Lattice, Layout, MOST_A_SIDE, read_spacing};
pub use steering::Direction;
pub use taper::Taper;

/// Speed of light in vacuum, m/s (exact by the definition of the metre).
pub const SPEED_OF_LIGHT: f64 = 299_792_458.0;

/// An array as laid out and fed, free of errors.
#[derive(Clone, Debug)]
pub struct Array {
    /// Where the elements stand, as a lattice.
    pub lattice: Lattice,
    /// Element positions along x from the array's centre, m, `[channel]`.
    pub x: Vec<f64>,
    /// Element positions along y from the array's centre, m, `[channel]`.
    pub y: Vec<f64>,
    /// Taper amplitudes, linear, largest 1, `[channel]`.
    pub amplitude: Vec<f64>,
    /// Pattern of one element.
    pub element: Element,
}

impl Array {
    /// Lays out an array. A taper over a plane is the product of the tapers of its two lines.
    pub fn new(layout: &Layout, taper: &Taper, element: Element) -> Array {
        let lattice = layout.lattice();
        let along_x = taper.line(lattice.columns);
        let along_y = taper.line(lattice.rows);
        let (mut x, mut y, mut amplitude) = (Vec::new(), Vec::new(), Vec::new());
        for row in 0..lattice.rows {
            for column in 0..lattice.columns {
                x.push((column as f64 - (lattice.columns as f64 - 1.0) / 2.0) * lattice.dx);
                y.push((row as f64 - (lattice.rows as f64 - 1.0) / 2.0) * lattice.dy);
                amplitude.push(along_x[column] * along_y[row]);
            }
        }
        Array { lattice, x, y, amplitude, element }
    }

    /// Number of channels.
    pub fn channels(&self) -> usize {
        self.x.len()
    }

    /// Phase of the error-free excitation of each channel for a beam toward `direction` at
    /// `frequency` (Hz), rad: -k r.u, zero at the array's centre.
    pub fn command(&self, direction: Direction, frequency: f64) -> Vec<f64> {
        let k = wavenumber(frequency);
        self.x.iter().zip(&self.y).map(|(x, y)| -k * (x * direction.u + y * direction.v)).collect()
    }
}

/// Free-space wavenumber at a frequency (Hz), rad/m.
pub fn wavenumber(frequency: f64) -> f64 {
    crate::math::TAU * frequency / SPEED_OF_LIGHT
}
