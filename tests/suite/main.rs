//! All integration tests in one binary.
// Tests compute what they expect with the system's own functions: another arithmetic than the program's.
#![allow(clippy::disallowed_methods)]

mod accuracy;
mod bad_input;
mod bench;
mod blocks;
mod budget;
mod campaign;
mod check_values;
mod claims;
mod command_line;
mod compare;
mod cost;
mod dead_elements;
mod determinism;
mod expected;
mod failing;
mod inspect;
mod inspected;
mod laws;
mod layering;
mod layouts;
mod limit;
mod lots;
mod memory;
mod outputs;
mod page;
#[cfg(feature = "parquet")]
mod parquet;
mod pointing_shift;
mod program;
mod refused;
mod registries;
mod schema;
mod signals;
mod state_0;
#[cfg(unix)]
mod stops;
mod studies;
mod support;
mod sweep;
mod together;
mod tools;
mod touchstone;
mod w64;
mod warnings;
#[cfg(unix)]
mod watched;
