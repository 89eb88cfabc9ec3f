//! Standard error, and the kind of standard output.

use crate::io::file::{abandon, write_standard_error};
use crate::io::inert;
use crate::report::Paper;
use std::ffi::OsStr;
use std::io::{self, IsTerminal};

/// Writes lines to standard error, with control characters made inert.
pub(super) fn say(text: &str) {
    show(&inert(text));
}

/// Writes finished diagnostics to standard error, with colours or without.
pub(super) fn show(drawn: &str) {
    let end = if drawn.ends_with('\n') { "" } else { "\n" };
    write_standard_error(&format!("{drawn}{end}"));
}

/// True when standard error is a terminal.
pub(super) fn is_terminal() -> bool {
    io::stderr().is_terminal()
}

/// The kind of standard output: a terminal with its width, and blocks where its locale is UTF-8; or a file.
pub(super) fn paper() -> Paper {
    if !io::stdout().is_terminal() {
        return Paper::FILE;
    }
    // A table that has no width of its own takes the terminal's.
    let columns = comfy_table::Table::new().width().unwrap_or(0);
    let set = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().filter_map(std::env::var_os);
    let locale = set.map(|value| value.to_string_lossy().to_uppercase()).find(|value| !value.is_empty());
    let is_dumb = std::env::var_os("TERM").is_none_or(|term| term == OsStr::new("dumb"));
    let has_blocks = locale.is_some_and(|of| of.contains("UTF-8") || of.contains("UTF8")) && !is_dumb;
    Paper::terminal(usize::from(columns), has_blocks)
}

/// True when diagnostics may be coloured: the terminal can, and the user has not set NO_COLOR.
pub(super) fn has_colour() -> bool {
    let is_set = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    let is_dumb = std::env::var_os("TERM").is_none_or(|term| term == OsStr::new("dumb"));
    is_terminal() && !is_set("NO_COLOR") && !is_dumb
}

/// Turns a fault of the program into one plain paragraph and exit code 3.
pub(super) fn announce_faults() {
    std::panic::set_hook(Box::new(|fault| {
        let place =
            fault.location().map_or(String::new(), |place| format!(" at {}:{}", place.file(), place.line()));
        say(&format!(
            "error: the program has a fault{place} and cannot go on. Please report it \
             together with the study and the command."
        ));
        abandon();
        // A fault on any thread has to end the program, not that thread alone.
        #[allow(clippy::disallowed_methods)]
        std::process::exit(3);
    }));
}
