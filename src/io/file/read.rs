//! Reading: text of a bounded size, from a file or from a stream that ends.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::error::{Error, Result};
use crate::io::diagnostic::{Diagnostic, STANDARD_INPUT, SourceText, render};

/// The largest input in bytes (16 MiB). Larger ones are a slip, such as a device or a data file.
pub(super) const LARGEST: u64 = 16 << 20;

/// Reads a text file, a pipe that a shell made for it, or standard input, "-". A byte-order mark at its start is dropped.
///
/// # Errors
/// [`Error::Input`] when the file is missing, a folder, a device, unreadable, larger than 16 MiB, or not UTF-8; when nothing
/// comes out of a pipe.
pub(crate) fn read_text(path: &Path) -> Result<SourceText> {
    let is_standard =
        [STANDARD_INPUT, "/dev/stdin", "/dev/fd/0", "/proc/self/fd/0"].map(Path::new).contains(&path);
    let name = PathBuf::from(if is_standard { Path::new(STANDARD_INPUT) } else { path });
    let read =
        if is_standard { standard_input().and_then(text_of) } else { document(path).and_then(text_of) };
    match read {
        Ok(text) => Ok(SourceText { name, text: text.strip_prefix('\u{feff}').unwrap_or(&text).to_owned() }),
        Err(Unreadable { message, help }) => {
            let found = Diagnostic::of_all(message, help.to_owned());
            Err(Error::Input(render(&SourceText { name, text: String::new() }, &[found], false)))
        }
    }
}

/// The bytes of a regular file of any size; `None` where there is none.
///
/// # Errors
/// [`Error::File`] when it cannot be read, [`Error::Part`] when it is no regular file.
#[cfg(feature = "program")]
pub(crate) fn read_bytes(path: &Path) -> Result<Option<Vec<u8>>> {
    match fs::metadata(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Ok(is) if !is.is_file() => {
            return Err(Error::Part { path: path.to_owned(), reason: "it is no regular file".to_owned() });
        }
        _ => {}
    }
    let failed = |source| Error::File { path: path.to_owned(), doing: "read", source };
    fs::read(path).map(Some).map_err(failed)
}

/// The folder that names in a document are relative to: of one that comes from a stream, the current one.
pub(crate) fn folder_of(document: &Path) -> &Path {
    if document == Path::new(STANDARD_INPUT) || is_descriptor(document) {
        return Path::new("");
    }
    document.parent().unwrap_or(Path::new(""))
}

/// Whether a path names a descriptor of this process.
pub(super) fn is_descriptor(path: &Path) -> bool {
    ["/dev/fd", "/proc/self/fd"].iter().any(|folder| path.parent() == Some(Path::new(folder)))
        || ["/dev/stdin", "/dev/stdout", "/dev/stderr"].iter().any(|own| path == Path::new(own))
}

/// Why a file is no text, and what to do.
pub(crate) struct Unreadable {
    pub message: String,
    pub help: &'static str,
}

type Readable<T> = std::result::Result<T, Unreadable>;

/// The text of a regular file as it is; anything else is refused without a touch.
pub(crate) fn regular_text(path: &Path) -> Readable<String> {
    let is = fs::metadata(path).map_err(unreadable)?;
    if !is.is_file() && !is.is_dir() {
        return Err(no_file("name a regular file"));
    }
    read(File::open(path)).and_then(text_of)
}

/// The bytes of a regular file, or of a pipe that something is written to.
fn document(path: &Path) -> Readable<Vec<u8>> {
    let is = fs::metadata(path).map_err(unreadable)?;
    #[cfg(unix)]
    if std::os::unix::fs::FileTypeExt::is_fifo(&is.file_type()) {
        return pipe(path);
    }
    if !is.is_file() && !is.is_dir() {
        return Err(no_file("name a regular file, or `-` for standard input"));
    }
    read(File::open(path))
}

fn standard_input() -> Readable<Vec<u8>> {
    read(Ok(io::stdin()))
}

fn read(from: io::Result<impl Read>) -> Readable<Vec<u8>> {
    let mut bytes = Vec::new();
    // At most one byte more than is allowed, so that an endless stream ends.
    from.and_then(|from| from.take(LARGEST + 1).read_to_end(&mut bytes)).map_err(unreadable)?;
    Ok(bytes)
}

/// What comes out of a pipe, if its writer is there and does not keep silent for too long.
#[cfg(unix)]
fn pipe(path: &Path) -> Readable<Vec<u8>> {
    use super::patient::is_ready;
    use rustix::event::{PollFlags, Timespec};
    use std::os::fd::AsFd;
    use std::os::unix::fs::OpenOptionsExt;

    /// How long a writer may keep silent.
    const SILENCE: Timespec = Timespec { tv_sec: 10, tv_nsec: 0 };

    // Opening a pipe waits for a writer unless it is said not to.
    let flags = rustix::fs::OFlags::NONBLOCK.bits() as i32;
    let mut from = File::options().read(true).custom_flags(flags).open(path).map_err(unreadable)?;
    let mut bytes = Vec::new();
    let mut part = [0; 1 << 16];
    while bytes.len() as u64 <= LARGEST {
        match from.read(&mut part) {
            Ok(0) if bytes.is_empty() => break,
            Ok(0) => return Ok(bytes),
            Ok(count) => bytes.extend_from_slice(&part[..count]),
            Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                if !is_ready(from.as_fd(), PollFlags::IN, &SILENCE).map_err(unreadable)? {
                    break;
                }
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(unreadable(error)),
        }
    }
    if bytes.len() as u64 > LARGEST {
        return Ok(bytes);
    }
    Err(Unreadable {
        message: "this is a pipe, and nothing comes out of it".into(),
        help: "name a regular file, or `-` for standard input",
    })
}

fn text_of(bytes: Vec<u8>) -> Readable<String> {
    if bytes.len() as u64 > LARGEST {
        let help = "name a text file of a smaller size";
        return Err(Unreadable { message: "the file is larger than 16 MiB".into(), help });
    }
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let before = error.as_bytes().iter().take(at);
        let line = 1 + before.filter(|&&byte| byte == b'\n').count();
        Unreadable {
            message: format!("the file is not UTF-8 text: line {line}, byte {at} of the file"),
            help: "save the file in the encoding UTF-8",
        }
    })
}

fn no_file(help: &'static str) -> Unreadable {
    Unreadable { message: "this is no regular file".into(), help }
}

fn unreadable(error: io::Error) -> Unreadable {
    let (message, help) = match error.kind() {
        io::ErrorKind::NotFound => ("the file does not exist".into(), "check its path"),
        io::ErrorKind::IsADirectory => ("this is a folder".into(), "name a file in it"),
        _ => (format!("the file cannot be read: {error}"), "check the file and its permissions"),
    };
    Unreadable { message, help }
}
