//! Interrupts. Before a run, and in commands without one, a signal ends the program. The first one during a run ends the run with the
//! results so far, the second ends the program.

use crate::error::{Error, Result};
use crate::io::file::{abandon, is_given_up, tell_at_once};
use crate::io::stop;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU64, Ordering};
use std::thread;

/// Phase of the program.
static PHASE: AtomicU8 = AtomicU8::new(PREPARING);
const PREPARING: u8 = 0;
const RUNNING: u8 = 1;
const WRITING: u8 = 2;

/// Units in work at once.
static UNITS: AtomicU64 = AtomicU64::new(0);

/// Whether the run stopped because the reader of standard output has gone.
static LOST_READER: AtomicBool = AtomicBool::new(false);

/// Stack size of a thread that only waits.
const SMALL_STACK: usize = 64 << 10;

/// Listens for signals from here on. Those that were ignored when the program began stay so: `nohup` and shells rely on it.
pub(super) fn listen() {
    #[cfg(unix)]
    unix::listen();
    #[cfg(not(unix))]
    // Where signals cannot be caught, the system's own way of stopping is left in place.
    let _ = ctrlc::set_handler(hear);
}

/// Sets the most units that a run finishes after an interrupt.
pub(super) fn expect_units(units: u64) {
    UNITS.store(units, Ordering::Relaxed);
}

/// From here on an interrupt keeps the results so far.
pub(super) fn under_way() {
    PHASE.store(RUNNING, Ordering::Relaxed);
}

/// The run is over, and its results are written.
pub(super) fn writing() {
    let _ = PHASE.compare_exchange(RUNNING, WRITING, Ordering::Relaxed, Ordering::Relaxed);
}

/// Stops the run when the reader of standard output goes away, as the run has no other output.
pub(super) fn end_with_the_reader() {
    #[cfg(unix)]
    let _ = thread::Builder::new().stack_size(SMALL_STACK).spawn(|| {
        if crate::io::file::wait_for_reader_to_go() && !stop::switch().swap(true, Ordering::Relaxed) {
            LOST_READER.store(true, Ordering::Relaxed);
        }
    });
}

/// Adds why a run stopped without a signal, and that an interrupt cut the writing off.
pub(super) fn explain(result: Result<()>) -> Result<()> {
    match result {
        Err(Error::Interrupted(text)) if LOST_READER.load(Ordering::Relaxed) => {
            Err(Error::Interrupted(format!("the reader of standard output has gone; {text}")))
        }
        Ok(()) if is_given_up() => Err(Error::Interrupted("stopped while the results were written".into())),
        result => result,
    }
}

/// Handles a signal.
fn hear() {
    let phase = PHASE.load(Ordering::Relaxed);
    if phase == PREPARING || stop::switch().swap(true, Ordering::Relaxed) {
        abandon();
        tell_at_once("error: stopped; nothing more is written\n");
        // There is no way back to main from here.
        #[allow(clippy::disallowed_methods)]
        std::process::exit(3);
    }
    let units = UNITS.load(Ordering::Relaxed);
    tell_at_once(&match phase {
        WRITING => "stopping once the results are written\n".to_owned(),
        _ => format!("stopping; finishing at most {units} units\n"),
    });
}

#[cfg(unix)]
mod unix {
    use super::{SMALL_STACK, hear};
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM, SIGXFSZ};
    use signal_hook::flag::{register, register_conditional_shutdown};
    use signal_hook::iterator::Signals;
    use std::sync::Arc;
    use std::sync::atomic::AtomicBool;
    use std::thread;

    pub(super) fn listen() {
        // A write beyond the limit of a file's size fails then, and does not end the program.
        let _ = register(SIGXFSZ, Arc::default());
        let ignored = std::fs::read_to_string("/proc/self/status").map_or(0, |status| ignored(&status));
        let heard = [SIGINT, SIGTERM, SIGHUP].into_iter().filter(|signal| ignored >> (signal - 1) & 1 == 0);
        let heard: Vec<i32> = heard.collect();
        // Where signals cannot be caught, the system's own way of stopping is left in place.
        let Ok(mut signals) = Signals::new(&heard) else { return };
        let listener = thread::Builder::new().stack_size(SMALL_STACK);
        if listener.spawn(move || signals.forever().for_each(|_| hear())).is_err() {
            let always = Arc::new(AtomicBool::new(true));
            for signal in heard {
                let _ = register_conditional_shutdown(signal, 3, always.clone());
            }
        }
    }

    /// The signals that a process ignores, signal n in bit n - 1, by its status. Source: proc(5), `SigIgn`.
    fn ignored(status: &str) -> u64 {
        let of = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
        of.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).unwrap_or(0)
    }

    #[cfg(test)]
    mod tests {
        use super::*;

        #[test]
        fn ignored_signals_are_read_from_the_status() {
            let status =
                "Name:\tx\nSigBlk:\t0000000000000002\nSigIgn:\t0000000000001003\nSigCgt:\t00000001a0004440\n";
            assert_eq!(ignored(status), 0x1003);
            assert_eq!(ignored("Name:\tx\n"), 0);
        }
    }
}
