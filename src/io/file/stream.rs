//! Streams that can make their writer wait, or lose their reader: pipes, sockets, terminals.

use std::fs::File;
use std::io::{self, Write};
use std::sync::atomic::{AtomicBool, Ordering};

#[cfg(unix)]
use super::patient;

/// Whether this process was started without a standard output.
static IS_CLOSED: AtomicBool = AtomicBool::new(false);

/// Whether the reader of standard output has gone, or was given up.
static IS_GONE: AtomicBool = AtomicBool::new(false);

/// Whether a reader was given up, that of standard output or of a pipe.
static IS_GIVEN_UP: AtomicBool = AtomicBool::new(false);

/// Notes whether this process has a standard output. To be called before `main`: on the way there the standard library opens the
/// null device in place of a stream that is closed.
pub fn note_streams() {
    #[cfg(unix)]
    IS_CLOSED.store(rustix::io::fcntl_getfd(rustix::stdio::stdout()).is_err(), Ordering::Relaxed);
}

/// Whether a reader that took nothing was given up after a stop.
pub(crate) fn is_given_up() -> bool {
    IS_GIVEN_UP.load(Ordering::Relaxed)
}

/// Writes to standard error. A failure to write has no reader either, so it is ignored.
pub(crate) fn write_standard_error(text: &str) {
    let mut rest = text.as_bytes();
    while !rest.is_empty() {
        match write_error(rest) {
            Ok(count) if count > 0 => rest = &rest[count..],
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            _ => return,
        }
    }
}

/// The same, unless it would have to wait.
pub(crate) fn tell_at_once(text: &str) {
    #[cfg(unix)]
    if !patient::is_ready_now(rustix::stdio::stderr()) {
        return;
    }
    let _ = write_error(text.as_bytes());
}

/// Something that is written to in place.
pub(super) enum Stream {
    StandardOutput { waits: bool },
    File { file: File, waits: bool, is_gone: bool },
}

impl Stream {
    /// Standard output.
    pub(super) fn standard_output() -> Stream {
        #[cfg(unix)]
        let waits = super::same::Identity::of_stream(io::stdout()).is_none_or(|(_, is)| patient::waits(&is));
        #[cfg(not(unix))]
        let waits = false;
        Stream::StandardOutput { waits }
    }

    /// A file that is open.
    pub(super) fn file(file: File) -> Stream {
        #[cfg(unix)]
        let waits = file.metadata().is_ok_and(|is| patient::waits(&is));
        #[cfg(not(unix))]
        let waits = false;
        Stream::File { file, waits, is_gone: false }
    }
}

impl Write for Stream {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Stream::StandardOutput { .. } if IS_CLOSED.load(Ordering::Relaxed) => {
                Err(io::Error::other("it is closed"))
            }
            Stream::StandardOutput { .. } if IS_GONE.load(Ordering::Relaxed) => Ok(bytes.len()),
            Stream::StandardOutput { waits } => {
                let written = write_standard_output(bytes, *waits);
                match written.as_ref().map_err(io::Error::kind) {
                    // Who no longer reads has what was wanted.
                    Err(kind @ (io::ErrorKind::BrokenPipe | io::ErrorKind::TimedOut)) => {
                        IS_GONE.store(true, Ordering::Relaxed);
                        IS_GIVEN_UP.fetch_or(kind == io::ErrorKind::TimedOut, Ordering::Relaxed);
                        Ok(bytes.len())
                    }
                    _ => written,
                }
            }
            Stream::File { is_gone: true, .. } => Ok(bytes.len()),
            Stream::File { file, waits, is_gone } => match write_file(file, bytes, *waits) {
                Err(error) if error.kind() == io::ErrorKind::TimedOut => {
                    *is_gone = true;
                    IS_GIVEN_UP.store(true, Ordering::Relaxed);
                    Ok(bytes.len())
                }
                written => written,
            },
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(unix)]
fn write_standard_output(bytes: &[u8], waits: bool) -> io::Result<usize> {
    patient::write(rustix::stdio::stdout(), bytes, waits)
}

#[cfg(unix)]
fn write_error(bytes: &[u8]) -> io::Result<usize> {
    patient::write(rustix::stdio::stderr(), bytes, true)
}

#[cfg(not(unix))]
fn write_error(bytes: &[u8]) -> io::Result<usize> {
    io::stderr().lock().write(bytes)
}

#[cfg(unix)]
fn write_file(file: &mut File, bytes: &[u8], waits: bool) -> io::Result<usize> {
    patient::write(file, bytes, waits)
}

#[cfg(not(unix))]
fn write_standard_output(bytes: &[u8], _: bool) -> io::Result<usize> {
    let mut to = io::stdout().lock();
    to.write_all(bytes)?;
    to.flush()?;
    Ok(bytes.len())
}

#[cfg(not(unix))]
fn write_file(file: &mut File, bytes: &[u8], _: bool) -> io::Result<usize> {
    file.write(bytes)
}
