//! The switch that a stop from outside turns on. Who works for long looks at it; who waits for a reader gives up by it.

use std::sync::atomic::AtomicBool;

static SWITCH: AtomicBool = AtomicBool::new(false);

/// The one of this process.
pub fn switch() -> &'static AtomicBool {
    &SWITCH
}
