//! The edge of the program: text in and out, places in files, quantities with units.
//!
//! Nothing here knows what the texts are about.

mod check;
pub mod columns;
mod companion;
pub mod diagnostic;
mod document;
mod draw;
pub mod file;
mod list;
pub mod quantity;
mod read;
pub mod suggest;
pub mod table;
pub mod touchstone;
mod unit;

pub use columns::Columns;
pub use diagnostic::{Diagnostic, Findings, Severity, SourceText, Span, render};
pub use file::{Output, read_text};
pub use quantity::{Dimension, QuantityError};
pub use table::{Check, Document, Table};
pub use touchstone::{Scattering, TwoPort};
