//! Elements around a circle.

use super::{Face, MOST_A_SIDE, read_spacing};
use crate::io::Table;
use crate::math::{TAU, scalar};

/// `count` elements at equal distances on a circle, counter-clockwise from the x axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Ring {
    /// Number of elements.
    pub count: usize,
    /// Radius of the circle, m.
    pub radius: f64,
}

impl Ring {
    /// Word for `kind`.
    pub const KIND: &'static str = "ring";

    pub(super) fn read(table: &Table, wavelength: f64) -> Option<Ring> {
        Some(Ring {
            count: table.bounding_count("count", 3..=MOST_A_SIDE) as usize,
            radius: read_spacing(table, "radius", wavelength),
        })
    }

    pub(super) fn channels(&self) -> usize {
        self.count
    }

    pub(super) fn face(&self) -> Face {
        let at = |n: usize| scalar::sin_cos(TAU * n as f64 / self.count as f64);
        let (sines, cosines): (Vec<f64>, Vec<f64>) = (0..self.count).map(at).unzip();
        let on_circle = |of: Vec<f64>| of.into_iter().map(|part| self.radius * part).collect();
        Face { x: on_circle(cosines), y: on_circle(sines), lattice: None }
    }

    /// Distance between neighbours, m.
    pub fn spacing(&self) -> f64 {
        2.0 * self.radius * scalar::sin(TAU / 2.0 / self.count as f64)
    }
}

impl Ring {
    /// For people; see [`Layout::title`](super::Layout::title).
    pub(super) fn title(&self, elements: &str, apart: &dyn Fn(f64) -> String) -> String {
        let radius = crate::io::quantity::format(self.radius, crate::io::Dimension::Length);
        format!("{elements} around a ring of radius {radius}, {} apart", apart(self.spacing()))
    }
}
