//! Progress of a run: a bar on a terminal, a line now and then elsewhere.

use crate::cli::{console, interrupt};
use crate::decide::ProgressSink;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};
use std::fmt;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::{Duration, Instant};

/// Time between two lines where there is no terminal.
const EVERY: Duration = Duration::from_secs(30);

/// Shorter preparations are not reported.
const LONG: Duration = Duration::from_secs(2);

const BAR: &str = "{bar:30} {pos} of {len} units, {rate} a second, {eta} left";

/// Shows the progress of a run, stage by stage.
pub(super) struct Progress {
    is_quiet: bool,
    shown: Shown,
}

/// The display of a stage.
enum Shown {
    Nothing,
    Bar(ProgressBar),
    Lines { most: u64, start: Instant, next: Instant },
}

impl Progress {
    pub(super) fn new(is_quiet: bool) -> Progress {
        Progress { is_quiet, shown: Shown::Nothing }
    }
}

impl ProgressSink for Progress {
    fn begin(&mut self, most: u64) {
        interrupt::under_way();
        self.shown = if self.is_quiet {
            Shown::Nothing
        } else if console::is_terminal() {
            let bar = ProgressBar::with_draw_target(Some(most), ProgressDrawTarget::stderr());
            Shown::Bar(match ProgressStyle::with_template(BAR) {
                Ok(style) => bar.with_style(style.progress_chars("=> ").with_key("rate", rate)),
                Err(_) => bar,
            })
        } else {
            let start = Instant::now();
            Shown::Lines { most, start, next: start + EVERY }
        };
    }

    fn at(&mut self, done: u64) {
        match &mut self.shown {
            Shown::Nothing => {}
            Shown::Bar(bar) => bar.set_position(done),
            Shown::Lines { most, start, next } => {
                let now = Instant::now();
                if now >= *next && done > 0 {
                    *next = now + EVERY;
                    console::say(&line(done, *most, now - *start));
                }
            }
        }
    }

    /// Removes the bar.
    fn end(&mut self) {
        if let Shown::Bar(bar) = std::mem::replace(&mut self.shown, Shown::Nothing) {
            bar.finish_and_clear();
        }
    }
}

/// Prepares a run; on a terminal it reports `what` when that takes long.
pub(super) fn preparing<T>(what: &str, work: impl FnOnce() -> T) -> T {
    if !console::is_terminal() {
        return work();
    }
    let (done, is_done) = mpsc::channel::<()>();
    thread::scope(|scope| {
        // Without a thread there is no report.
        let _ = thread::Builder::new().spawn_scoped(scope, move || {
            if is_done.recv_timeout(LONG) == Err(RecvTimeoutError::Timeout) {
                console::say(what);
            }
        });
        let result = work();
        drop(done);
        result
    })
}

fn rate(state: &ProgressState, text: &mut dyn fmt::Write) {
    // A rate that cannot be written is not worth ending a run for.
    let _ = write!(text, "{:.0}", state.per_sec());
}

fn line(done: u64, most: u64, spent: Duration) -> String {
    let rate = done as f64 / spent.as_secs_f64();
    let left = most.saturating_sub(done) as f64 / rate;
    format!("{done} of {most} units, {rate:.0} a second, about {left:.0} s left")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_shows_rate_and_time_left() {
        let text = line(3000, 12_000, Duration::from_secs(30));
        assert_eq!(text, "3000 of 12000 units, 100 a second, about 90 s left");
    }
}
