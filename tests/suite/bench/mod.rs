//! The bench in the reports of the program.

mod dead_channels;
mod minutes;
