//! All tests of the program in one binary. Those of the library from inside are in `tests/inside`.
// Tests compute what they expect with the system's own functions: another arithmetic than the program's.
#![allow(clippy::disallowed_methods)]

mod bad_input;
mod bench;
mod budget;
mod campaign;
mod claims;
mod command_line;
mod compare;
mod cost;
mod dead_elements;
mod failing;
mod folder;
mod inspect;
mod inspected;
#[cfg(unix)]
mod jobs;
mod laws;
mod layering;
mod layouts;
mod limit;
mod line;
mod memory;
mod outputs;
mod page;
#[cfg(feature = "parquet")]
mod parquet;
mod pointing_shift;
mod program;
mod refused;
mod saving;
mod schema;
mod signals;
#[cfg(unix)]
mod stops;
mod sweep;
mod tools;
mod warnings;
#[cfg(unix)]
mod watched;
