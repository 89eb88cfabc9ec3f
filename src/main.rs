//! The program: reads the command line, does what it asks, and ends with its exit code.

use beamyield::cli::{Arguments, announce_faults, listen, say, show};
use beamyield::error::Error;
use beamyield::io::file::note_streams;
use std::process::ExitCode;

ctor::declarative::ctor! {
    /// Runs before the standard library looks at the streams.
    #[ctor(unsafe)]
    fn before_main() {
        note_streams();
    }
}

fn main() -> ExitCode {
    listen();
    announce_faults();
    let done = Arguments::read().and_then(|asked| asked.map_or(Ok(()), Arguments::run));
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            match &error {
                // A report of diagnostics stands by itself.
                Error::Input(report) => show(report),
                other => say(&format!("error: {other}")),
            }
            ExitCode::from(error.exit_code())
        }
    }
}
