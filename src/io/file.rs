//! The only reader and writer of files.

mod destination;
mod output;
#[cfg(unix)]
mod patient;
mod read;
mod same;
mod stream;
mod temporary;

pub use destination::{Destination, refuse_same};
pub use output::Output;
#[cfg(unix)]
pub use patient::wait_for_reader_to_go;
pub use read::read_text;
pub(super) use read::{folder_of, regular_text};
pub use stream::{is_given_up, note_streams, tell_at_once, write_standard_error};
pub use temporary::abandon;

#[cfg(test)]
mod tests;
