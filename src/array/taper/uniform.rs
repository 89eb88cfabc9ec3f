//! All elements fed alike.

use crate::io::Table;

/// Every amplitude 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Uniform;

impl Uniform {
    /// Word for `kind`.
    pub const KIND: &'static str = "uniform";

    pub(super) fn read(_: &Table) -> Uniform {
        Uniform
    }

    pub(super) fn line(&self, count: usize) -> Vec<f64> {
        vec![1.0; count]
    }
}
