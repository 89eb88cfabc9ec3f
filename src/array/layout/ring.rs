//! Elements around a circle.

use super::{Face, MOST_A_SIDE, Places, read_spacing, spacing};
use crate::io::{Count, Dimension, Key, Special, Table, keys, quantity};
use crate::math::{TAU, scalar};

/// `count` elements at equal distances on a circle, counter-clockwise from the x axis.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Ring {
    /// Number of elements.
    pub count: usize,
    /// Radius of the circle, m.
    pub radius: f64,
}

keys! {
    pub(super) KEYS: "A ring of elements";
    COUNT: Count = Key::count("count", 3..=MOST_A_SIDE, "12", "Number of elements").bounding();
    RADIUS: Special = spacing("radius", "1.5 wavelengths", "Radius of the ring");
}

impl Ring {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "ring";

    pub(super) fn read(table: &Table, wavelength: f64) -> Option<Ring> {
        Some(Ring { count: table.read(&COUNT) as usize, radius: read_spacing(table, &RADIUS, wavelength) })
    }

    /// Distance between neighbours, m.
    fn spacing(&self) -> f64 {
        2.0 * self.radius * scalar::sin(TAU / 2.0 / self.count as f64)
    }
}

impl Places for Ring {
    fn channels(&self) -> usize {
        self.count
    }

    fn face(&self) -> Face {
        let at = |n: usize| scalar::sin_cos(TAU * n as f64 / self.count as f64);
        let (sines, cosines): (Vec<f64>, Vec<f64>) = (0..self.count).map(at).unzip();
        let on_circle = |of: Vec<f64>| of.into_iter().map(|part| self.radius * part).collect();
        Face { x: on_circle(cosines), y: on_circle(sines), lattice: None }
    }

    fn spacings(&self) -> Vec<f64> {
        vec![self.spacing()]
    }

    fn words(&self, apart: &dyn Fn(f64) -> String) -> String {
        let radius = quantity::format(self.radius, Dimension::Length);
        format!(" around a ring of radius {radius}, {} apart", apart(self.spacing()))
    }
}

impl Ring {}
