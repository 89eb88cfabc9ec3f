//! The edge of the program: text in and out, places in files, quantities with units.
//!
//! Nothing here knows what the texts are about.

pub(crate) mod amount;
mod check;
pub(crate) mod columns;
mod companion;
pub(crate) mod diagnostic;
mod document;
mod draw;
#[cfg(feature = "files")]
pub(crate) mod file;
pub(crate) mod inert;
mod key;
mod list;
pub(crate) mod machine;
pub(crate) mod place;
pub(crate) mod quantity;
mod read;
#[cfg(feature = "program")]
mod shell;
pub(crate) mod stop;
pub(crate) mod suggest;
pub(crate) mod table;
mod takes;
pub(crate) mod touchstone;
mod unit;

pub(crate) use amount::Amount;
pub(crate) use columns::Columns;
pub use diagnostic::Diagnostic;
pub use diagnostic::Severity;
pub use diagnostic::SourceText;
pub(crate) use diagnostic::{Findings, Span, render};
#[cfg(feature = "files")]
pub(crate) use file::{Destination, Output, read_text};
pub(crate) use inert::inert;
pub(crate) use key::keys;
pub(crate) use key::{Accepts, Declared, Key, Keys, Takes, written};
pub(crate) use place::{Place, as_toml};
pub(crate) use quantity::Dimension;
#[cfg(feature = "program")]
pub(crate) use shell::{shell_word, typed};
pub(crate) use table::{Check, Document, Table};
pub(crate) use takes::{Count, Difference, Flag, List, Nested, Optional, Or, Quantity, Special, Text, Word};
pub(crate) use touchstone::TwoPort;
