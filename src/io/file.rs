//! The only reader and writer of files.

mod destination;
#[cfg(feature = "program")]
mod folder;
#[cfg(feature = "program")]
mod log;
mod output;
#[cfg(unix)]
mod patient;
mod read;
mod same;
mod stream;
mod temporary;

pub(crate) use destination::{Destination, refuse_same};
#[cfg(feature = "program")]
pub(crate) use folder::{make_folder, names_in};
#[cfg(feature = "program")]
pub(crate) use log::{Log, hash, read_log};
pub(crate) use output::Output;
#[cfg(unix)]
pub(crate) use patient::wait_for_reader_to_go;
#[cfg(feature = "program")]
pub(crate) use read::read_bytes;
pub(crate) use read::read_text;
pub(super) use read::{folder_of, regular_text};
pub use stream::note_streams;
pub(crate) use stream::{is_given_up, tell_at_once, write_standard_error};
pub(crate) use temporary::abandon;

#[cfg(test)]
mod tests;
