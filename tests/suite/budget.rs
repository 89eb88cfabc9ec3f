//! The command that shares out variances and failures.

mod command;
mod gains;
