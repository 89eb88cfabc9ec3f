//! All integration tests in one binary.

mod check_values;
mod support;
