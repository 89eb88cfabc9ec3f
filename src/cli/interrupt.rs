//! Stopping from outside: the first signal ends the run with what it has, the second ends the program.

use std::sync::atomic::{AtomicBool, Ordering};

static STOPPED: AtomicBool = AtomicBool::new(false);

/// The switch that the first signal to stop turns on.
pub(super) fn switch() -> &'static AtomicBool {
    // Where signals cannot be caught, the system's own way of stopping is left in place.
    let _ = ctrlc::set_handler(|| {
        if STOPPED.swap(true, Ordering::Relaxed) {
            // The first signal was not heard in time; there is no way back to main from here.
            #[allow(clippy::disallowed_methods)]
            std::process::exit(3);
        }
    });
    &STOPPED
}
