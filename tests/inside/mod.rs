//! Tests of the whole job from inside the library: they read compiled models, units and estimates that only the crate itself sees.

mod accuracy;
mod bench;
mod blocks;
mod budget;
mod check_values;
mod dead_elements;
mod determinism;
mod expected;
mod failing;
#[path = "../suite/folder.rs"]
mod folder;
mod inspected;
mod laws;
mod layouts;
mod limit;
mod lots;
mod mutations;
mod pairing;
mod pointing_shift;
mod registries;
mod state_0;
mod studies;
mod support;
mod together;
mod touchstone;
mod touchstone_files;
mod w64;
mod warnings;
