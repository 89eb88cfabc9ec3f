//! The radiating face: where the elements stand, how strongly each is fed, how one element radiates.
//! Positions in metres, directions as direction cosines, amplitudes linear with the largest at 1.

mod element;
pub(crate) mod layout;
mod steering;
pub(crate) mod taper;

pub(crate) use element::{ELEMENT, Element};
pub(crate) use layout::{Face, LAYOUT, Lattice, Layout, MOST_A_SIDE, NARROWEST};
pub(crate) use steering::Direction;
pub(crate) use taper::{TAPER, Taper, TaperBy};

/// Speed of light in vacuum, m/s (exact by the definition of the metre).
pub(crate) const SPEED_OF_LIGHT: f64 = 299_792_458.0;

/// An array as laid out and fed, free of errors.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Array {
    /// The lattice on which the elements stand, if any.
    pub lattice: Option<Lattice>,
    /// True for a line along x.
    pub is_line: bool,
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
    /// Lays out an array. A taper that does not fit the layout, which a study refuses, counts as uniform.
    pub(crate) fn new(layout: &Layout, taper: &Taper, element: Element) -> Array {
        let Face { x, y, lattice } = layout.face();
        let amplitude = taper.over(lattice.as_ref(), x.len()).unwrap_or_else(|| vec![1.0; x.len()]);
        Array { lattice, is_line: layout.is_line(), x, y, amplitude, element }
    }

    /// The lattice, where it is a rectangular one or a line.
    pub(crate) fn rectangle(&self) -> Option<&Lattice> {
        self.lattice.as_ref().filter(|lattice| lattice.is_rectangular())
    }

    /// Number of channels.
    pub(crate) fn channels(&self) -> usize {
        self.x.len()
    }

    /// Taper efficiency: (sum a)^2/(N sum a^2), 1 when uniform.
    pub(crate) fn taper_efficiency(&self) -> f64 {
        let sum: f64 = self.amplitude.iter().sum();
        let squares: f64 = self.amplitude.iter().map(|a| a * a).sum();
        sum * sum / (self.channels() as f64 * squares)
    }

    /// Phase of the error-free excitation of each channel for a beam toward `direction` at
    /// `frequency` (Hz), rad: -k r.u, zero at the array's centre.
    pub(crate) fn command(&self, direction: Direction, frequency: f64) -> Vec<f64> {
        let k = wavenumber(frequency);
        self.x.iter().zip(&self.y).map(|(x, y)| -k * (x * direction.u + y * direction.v)).collect()
    }
}

/// Free-space wavenumber at a frequency (Hz), rad/m.
pub(crate) fn wavenumber(frequency: f64) -> f64 {
    crate::math::TAU * frequency / SPEED_OF_LIGHT
}
