//! A beam point under its conditions.

use crate::figure::BeamPoint;
use std::ops::Deref;
use std::sync::Arc;

/// A beam at a frequency and a temperature. Temperatures share a beam point, which depends on none of them.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct OperatingPoint {
    /// What does not depend on the temperature.
    pub point: Arc<BeamPoint>,
    /// Number of its conditions among those in use.
    pub conditions: usize,
    /// Number of its frequency among the study's.
    pub frequency_number: usize,
    /// Number of its temperature among the study's.
    pub temperature_number: usize,
}

impl OperatingPoint {
    /// Numbers of its beam, its frequency and its temperature among the study's.
    pub(crate) fn numbers(&self) -> [usize; 3] {
        [self.point.beam, self.frequency_number, self.temperature_number]
    }
}

impl Deref for OperatingPoint {
    type Target = BeamPoint;

    #[inline(always)]
    fn deref(&self) -> &BeamPoint {
        &self.point
    }
}
