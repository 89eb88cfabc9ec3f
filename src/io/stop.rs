//! The switch that a stop from outside turns on. Long work checks it; a wait for a reader ends at it.

use std::sync::atomic::AtomicBool;

static SWITCH: AtomicBool = AtomicBool::new(false);

/// The one of this process.
pub(crate) fn switch() -> &'static AtomicBool {
    &SWITCH
}
