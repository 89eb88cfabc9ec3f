//! The program: reads the command line, does what it asks, and ends with its exit code.

use beamyield::cli::{Arguments, announce_faults, say};
use beamyield::error::Error;
use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    announce_faults();
    match Arguments::parse().run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            match &error {
                // A report of diagnostics stands by itself.
                Error::Input(report) => say(report),
                other => say(&format!("error: {other}")),
            }
            ExitCode::from(error.exit_code())
        }
    }
}
