//! All elements fed alike.

use super::Feeds;
use crate::array::{Lattice, Layout};
use crate::io::{Table, keys};

/// Every amplitude 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Uniform;

keys! {
    pub(super) KEYS: "All elements fed alike";
}

impl Uniform {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "uniform";

    pub(super) fn read(_: &Table) -> Option<Uniform> {
        Some(Uniform)
    }
}

impl Feeds for Uniform {
    fn over(&self, _: Option<&Lattice>, channels: usize) -> Option<Vec<f64>> {
        Some(vec![1.0; channels])
    }

    fn words(&self) -> String {
        "uniform taper".to_owned()
    }

    fn check(&self, _: &Table, _: &Layout) {}

    fn is_uniform(&self) -> bool {
        true
    }
}

impl Uniform {}
