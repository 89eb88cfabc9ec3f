//! All elements fed alike.

use crate::array::Lattice;
use crate::io::Table;

/// Every amplitude 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Uniform;

impl Uniform {
    /// Word for `kind`.
    pub const KIND: &'static str = "uniform";

    pub(super) fn read(_: &Table) -> Option<Uniform> {
        Some(Uniform)
    }

    pub(super) fn over(&self, _: Option<&Lattice>, channels: usize) -> Option<Vec<f64>> {
        Some(vec![1.0; channels])
    }
}

impl Uniform {
    /// For people; see [`Taper::title`](super::Taper::title).
    pub(super) fn title(&self, _: fn(f64) -> String) -> String {
        "uniform taper".to_owned()
    }
}
