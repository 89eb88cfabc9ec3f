//! A cosine that does not fall to zero.

use super::{Feeds, of_lines};
use crate::array::Lattice;
use crate::io::{Check, Dimension, Key, Quantity, Table, keys, quantity};
use crate::math::{PI, scalar};

/// Cosine on a pedestal, sampled at the element centres.
///
/// Formula: a_n = p + (1 - p) cos(pi x_n), x_n = (n - (N-1)/2)/N; p = 1 is uniform, p = 0 a plain cosine with its first
/// side lobe 23 dB below the peak. Source: the cosine apertures of antenna handbooks (from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct CosinePedestal {
    /// Amplitude of the pedestal over that at the middle, 0 to 1.
    pub pedestal: f64,
}

keys! {
    pub(super) KEYS: "A cosine on a pedestal";
    PEDESTAL: Quantity = Key::number("pedestal", Check::Within(0.0, 1.0), "0.4", "Amplitude at the edge over that in the middle");
}

impl CosinePedestal {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "cosine_pedestal";

    pub(super) fn read(table: &Table) -> Option<CosinePedestal> {
        Some(CosinePedestal { pedestal: table.read(&PEDESTAL) })
    }

    fn line(&self, count: usize) -> Vec<f64> {
        let position = |n: usize| (n as f64 - (count as f64 - 1.0) / 2.0) / count as f64;
        let amplitude = |n| self.pedestal + (1.0 - self.pedestal) * scalar::cos(PI * position(n));
        (0..count).map(amplitude).collect()
    }
}

impl Feeds for CosinePedestal {
    fn over(&self, lattice: Option<&Lattice>, _: usize) -> Option<Vec<f64>> {
        Some(of_lines(lattice?, |count| self.line(count)))
    }

    fn words(&self) -> String {
        let pedestal = quantity::format(self.pedestal, Dimension::Ratio);
        format!("cosine taper on a pedestal of {pedestal}")
    }
}
