//! The edge of the program: text in and out, places in files, quantities with units.
//!
//! Nothing here knows what the texts are about.

pub mod amount;
mod check;
pub mod columns;
mod companion;
pub mod diagnostic;
mod document;
mod draw;
#[cfg(feature = "files")]
pub mod file;
pub mod inert;
mod key;
mod list;
pub mod machine;
pub mod place;
pub mod quantity;
mod read;
pub mod stop;
pub mod suggest;
pub mod table;
mod takes;
pub mod touchstone;
mod unit;

pub use amount::Amount;
pub use columns::Columns;
pub use diagnostic::{Diagnostic, Findings, Severity, SourceText, Span, render};
#[cfg(feature = "files")]
pub use file::{Destination, Output, read_text};
pub use inert::inert;
pub(crate) use key::keys;
pub use key::{Accepts, Declared, Key, Keys, Takes, written};
pub use place::{Place, as_toml};
pub use quantity::Dimension;
pub use table::{Check, Document, Table};
pub use takes::{Count, Difference, Flag, List, Nested, Optional, Or, Quantity, Special, Text, Word};
pub use touchstone::TwoPort;
