//! The only reader and writer of files.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::diagnostic::{Diagnostic, Severity, SourceText, render};
use crate::error::{Error, Result};

/// The largest input in bytes (16 MiB). Larger ones are a slip, such as a device or a data file.
const LARGEST: u64 = 16 << 20;

/// Reads a text file. A byte-order mark at its start is dropped.
///
/// # Errors
/// [`Error::Input`] when the file is missing, a folder, unreadable, larger than 16 MiB, or not
/// UTF-8.
pub fn read_text(path: &Path) -> Result<SourceText> {
    let name = path.display().to_string();
    match whole_text(path) {
        Ok(text) => Ok(SourceText { name, text: text.strip_prefix('\u{feff}').unwrap_or(&text).to_owned() }),
        Err(Unreadable { message, help }) => {
            let found = Diagnostic {
                severity: Severity::Error,
                message,
                other: None,
                span: None,
                label: String::new(),
                help: Some(help.to_owned()),
                is_slip: false,
            };
            Err(Error::Input(render(&SourceText { name, text: String::new() }, &[found], false)))
        }
    }
}

/// Why a file is no text, and what to do.
pub(super) struct Unreadable {
    pub message: String,
    pub help: &'static str,
}

/// A file's text as it is.
pub(super) fn whole_text(path: &Path) -> std::result::Result<String, Unreadable> {
    let unreadable = |message: String, help| Unreadable { message, help };
    let bytes = read_bytes(path).map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => unreadable("the file does not exist".into(), "check its path"),
        io::ErrorKind::IsADirectory => unreadable("this is a folder".into(), "name a file in it"),
        _ => unreadable(format!("the file cannot be read: {error}"), "check the file and its permissions"),
    })?;
    if bytes.len() as u64 > LARGEST {
        let help = "name a text file of a smaller size";
        return Err(unreadable("the file is larger than 16 MiB".into(), help));
    }
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let before = error.as_bytes().iter().take(at);
        let line = 1 + before.filter(|&&byte| byte == b'\n').count();
        unreadable(
            format!("the file is not UTF-8 text: line {line}, byte {at} of the file"),
            "save the file in the encoding UTF-8",
        )
    })
}

/// At most one byte more than is allowed, so that an endless device ends.
fn read_bytes(path: &Path) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(path)?.take(LARGEST + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// An output that appears under its name only when it is finished.
///
/// Dropped unfinished it leaves nothing behind. Writes are buffered.
pub struct Output {
    path: PathBuf,
    sink: BufWriter<Sink>,
}

enum Sink {
    /// Beside the final file, whose path goes with it.
    Temporary(NamedTempFile, PathBuf),
    /// A device or a pipe, which cannot be replaced by another file.
    InPlace(File),
    /// Standard output. Empty after the reader has gone.
    Stream(Option<Box<dyn Write + Send>>),
}

impl Output {
    /// Opens an output at `path`; "-" is standard output. `inputs` are the files that must not be
    /// overwritten.
    ///
    /// # Errors
    /// [`Error::Output`] when the output cannot be there: its folder is missing or refuses new
    /// files, it is a folder, it may not be written, or it is one of the inputs. [`Error::File`]
    /// when the machine fails.
    pub fn create(path: &Path, inputs: &[&Path]) -> Result<Output> {
        if path == Path::new("-") {
            return Ok(Output::stdout());
        }
        let refuse = |reason: String| Error::Output { path: path.to_owned(), reason };
        let ends_in_slash = path.as_os_str().as_encoded_bytes().ends_with(b"/");
        if path.is_dir() || ends_in_slash {
            return Err(refuse("it is a folder".to_owned()));
        }
        if path.file_name().is_none() {
            return Err(refuse("it names no file".to_owned()));
        }
        // A link is followed: the file it points to is the one to replace.
        let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
        let same = |input: &&&Path| fs::canonicalize(input).is_ok_and(|input| input == target);
        if inputs.iter().any(|input| same(&input)) {
            return Err(refuse("it is an input of this very run".to_owned()));
        }
        let folder = match target.parent() {
            Some(folder) if folder != Path::new("") => folder,
            _ => Path::new("."),
        };
        if !folder.is_dir() {
            let folder = folder.display();
            return Err(refuse(format!("the folder {folder} does not exist")));
        }
        let opened = open(&target, folder).map_err(|source| match source.kind() {
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => refuse(source.to_string()),
            _ => Error::File { path: path.to_owned(), doing: "open", source },
        });
        Ok(Output::new(path, opened?))
    }

    /// Standard output. When its reader goes away, the rest is dropped quietly.
    pub fn stdout() -> Output {
        let stream: Box<dyn Write + Send> = Box::new(io::stdout());
        Output::new(Path::new("standard output"), Sink::Stream(Some(stream)))
    }

    fn new(path: &Path, sink: Sink) -> Output {
        Output { path: path.to_owned(), sink: BufWriter::new(sink) }
    }

    /// Where it goes.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes a whole text.
    ///
    /// # Errors
    /// [`Error::File`] when the machine fails.
    pub fn write_text(&mut self, text: &str) -> Result<()> {
        let written = self.sink.write_all(text.as_bytes());
        written.map_err(|source| self.failure(source))
    }

    /// The error of a write to this output that failed.
    pub fn failure(&self, source: impl Into<io::Error>) -> Error {
        Error::File { path: self.path.clone(), doing: "write", source: source.into() }
    }

    /// Writes what is left and lets the file appear under its name.
    ///
    /// # Errors
    /// [`Error::File`] when the machine fails; the file is then as it was before.
    pub fn finish(self) -> Result<()> {
        let Output { path, sink } = self;
        let failed = |doing| move |source| Error::File { path, doing, source };
        let mut sink = match sink.into_inner() {
            Ok(sink) => sink,
            Err(error) => return Err(failed("write")(error.into_error())),
        };
        if let Err(source) = sink.flush() {
            return Err(failed("write")(source));
        }
        let Sink::Temporary(file, target) = sink else {
            return Ok(());
        };
        if let Err(source) = file.as_file().sync_all() {
            return Err(failed("write")(source));
        }
        match file.persist(target) {
            Ok(_) => Ok(()),
            Err(error) => Err(failed("rename the finished file to")(error.error)),
        }
    }
}

impl Write for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.sink.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.sink.flush()
    }
}

impl Write for Sink {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Sink::Temporary(file, _) => file.write(bytes),
            Sink::InPlace(file) => file.write(bytes),
            Sink::Stream(None) => Ok(bytes.len()),
            Sink::Stream(Some(stream)) => match stream.write(bytes) {
                Err(error) if error.kind() == io::ErrorKind::BrokenPipe => {
                    *self = Sink::Stream(None);
                    Ok(bytes.len())
                }
                result => result,
            },
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Sink::Temporary(file, _) => file.flush(),
            Sink::InPlace(file) => file.flush(),
            Sink::Stream(None) => Ok(()),
            Sink::Stream(Some(stream)) => match stream.flush() {
                Err(error) if error.kind() == io::ErrorKind::BrokenPipe => {
                    *self = Sink::Stream(None);
                    Ok(())
                }
                result => result,
            },
        }
    }
}

fn open(target: &Path, folder: &Path) -> io::Result<Sink> {
    if target.exists() {
        // Opening leaves a file as it is and shows whether it may be written.
        let file = OpenOptions::new().write(true).open(target)?;
        if !file.metadata()?.is_file() {
            return Ok(Sink::InPlace(file));
        }
    }
    let mut builder = tempfile::Builder::new();
    builder.prefix(".").suffix(".part");
    // A temporary file is closed to others by default; the finished file must not be.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let file = builder.tempfile_in(folder)?;
    Ok(Sink::Temporary(file, target.to_owned()))
}

#[cfg(test)]
mod tests;
