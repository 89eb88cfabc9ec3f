//! Writing: whole or not at all.

use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

#[cfg(test)]
use super::destination::Destination;
use super::destination::Kind;
use super::stream::Stream;
use super::temporary::Temporary;
use crate::error::{Error, Result};

/// An output that appears under its name only when it is finished.
///
/// Dropped unfinished it leaves nothing behind. Writes are buffered.
pub(crate) struct Output {
    path: PathBuf,
    is_standard_output: bool,
    sink: BufWriter<Sink>,
}

enum Sink {
    /// Beside the final file, whose path goes with it.
    Temporary(Temporary, PathBuf),
    /// What cannot be replaced by another file. Empty after its reader has gone.
    Stream(Stream),
}

impl Output {
    /// Opens an output at `path`, as [`Destination::at`] has it. `inputs` are the files that must not be overwritten.
    ///
    /// # Errors
    /// [`Error::Output`] when the output cannot be there: its folder is missing or refuses new
    /// files, it is a folder, it may not be written, or it is one of the inputs. [`Error::File`]
    /// when the machine fails.
    #[cfg(test)]
    pub(crate) fn create(path: &Path, inputs: &[&Path]) -> Result<Output> {
        let destination = Destination::at(path)?;
        destination.keep_off(inputs)?;
        destination.open()
    }

    /// Standard output. When its reader goes away, the rest is dropped quietly.
    pub(crate) fn stdout() -> Output {
        Output::new(Path::new("standard output"), true, Sink::Stream(Stream::standard_output()))
    }

    fn new(path: &Path, is_standard_output: bool, sink: Sink) -> Output {
        Output { path: path.to_owned(), is_standard_output, sink: BufWriter::new(sink) }
    }

    pub(super) fn open(asked: &Path, kind: Kind) -> io::Result<Output> {
        let of = |sink| Ok(Output::new(asked, false, sink));
        let in_place = |file| of(Sink::Stream(Stream::file(file)));
        match kind {
            Kind::StandardOutput if asked == Path::new("-") => Ok(Output::stdout()),
            Kind::StandardOutput => Ok(Output::new(asked, true, Sink::Stream(Stream::standard_output()))),
            #[cfg(unix)]
            Kind::StandardError => {
                in_place(File::from(std::os::fd::AsFd::as_fd(&io::stderr()).try_clone_to_owned()?))
            }
            #[cfg(not(unix))]
            Kind::StandardError => Err(io::ErrorKind::Unsupported.into()),
            Kind::Old { target, .. } => {
                // Opening leaves a file as it is and shows whether it may be written.
                OpenOptions::new().write(true).open(&target)?;
                temporary(&target).and_then(of)
            }
            Kind::New { target, .. } => temporary(&target).and_then(of),
            Kind::Descriptor { target, .. } => in_place(OpenOptions::new().append(true).open(target)?),
            Kind::Pipe { target, .. } | Kind::Device { target } => {
                in_place(OpenOptions::new().write(true).open(target)?)
            }
        }
    }

    /// Where it goes.
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// Whether that is standard output.
    pub(crate) fn is_standard_output(&self) -> bool {
        self.is_standard_output
    }

    /// Writes a whole text.
    ///
    /// # Errors
    /// [`Error::File`] when the machine fails.
    pub(crate) fn write_text(&mut self, text: &str) -> Result<()> {
        let written = self.sink.write_all(text.as_bytes());
        written.map_err(|source| self.failure(source))
    }

    /// The error of a write to this output that failed.
    pub(crate) fn failure(&self, source: impl Into<io::Error>) -> Error {
        Error::File { path: self.path.clone(), doing: "write", source: source.into() }
    }

    /// Writes what is left and lets the file appear under its name.
    ///
    /// # Errors
    /// [`Error::File`] when the machine fails; the file is then as it was before.
    pub(crate) fn finish(self) -> Result<()> {
        let Output { path, sink, .. } = self;
        let failed = |source| Error::File { path, doing: "write", source };
        match sink.into_inner() {
            Ok(Sink::Temporary(file, target)) => file.keep(&target).map_err(failed),
            Ok(Sink::Stream(_)) => Ok(()),
            Err(error) => {
                let (error, unwritten) = error.into_parts();
                // What is left would be written once more when it is dropped.
                let _ = unwritten.into_parts();
                Err(failed(error))
            }
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
            Sink::Stream(stream) => stream.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Sink::Temporary(file, _) => file.flush(),
            Sink::Stream(stream) => stream.flush(),
        }
    }
}

/// A file in the making beside a target.
fn temporary(target: &Path) -> io::Result<Sink> {
    let folder = match target.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    };
    Ok(Sink::Temporary(Temporary::create(folder)?, target.to_owned()))
}
