//! Where an output is to go: what a path is, judged before anything is opened.

use std::ffi::OsString;
use std::fs::{self, Metadata};
use std::io;
use std::path::{Path, PathBuf};

use super::output::Output;
use super::same::{Identity, of_input};
use crate::error::{Error, Result};

/// A place for an output that can be there, as far as can be seen without touching it.
#[derive(Debug)]
pub(crate) struct Destination {
    asked: PathBuf,
    pub(super) kind: Kind,
}

/// What a path is.
#[derive(Debug)]
pub(super) enum Kind {
    StandardOutput,
    StandardError,
    /// A file that is there and will be replaced.
    Old {
        target: PathBuf,
        identity: Identity,
    },
    /// A file that is not there yet.
    New {
        target: PathBuf,
        folder: Identity,
        name: OsString,
    },
    /// A file that is reached by a descriptor of this process, with what else is written to it.
    Descriptor {
        target: PathBuf,
        identity: Identity,
    },
    /// A pipe or a socket.
    Pipe {
        target: PathBuf,
        identity: Identity,
    },
    /// A device, which keeps nothing: any number of outputs may go there.
    Device {
        target: PathBuf,
    },
}

impl Destination {
    /// The place that `path` is; "-" is standard output, and so is any path that leads to where standard output goes.
    ///
    /// # Errors
    /// [`Error::Output`] when no output can be there: its folder is missing, it is a folder, or a link that leads nowhere.
    pub(crate) fn at(path: &Path) -> Result<Destination> {
        let to = |kind| Ok(Destination { asked: path.to_owned(), kind });
        if path == Path::new("-") {
            return to(Kind::StandardOutput);
        }
        let refuse = |reason: String| Err(Error::Output { path: path.to_owned(), reason });
        let ends_in_slash = path.as_os_str().as_encoded_bytes().ends_with(b"/");
        if path.is_dir() || ends_in_slash {
            return refuse("it is a folder".to_owned());
        }
        let Some(name) = path.file_name() else { return refuse("it names no file".to_owned()) };
        if let Ok(metadata) = fs::metadata(path) {
            return match kind(path, &metadata) {
                Ok(kind) => to(kind),
                Err(error) => refuse(error.to_string()),
            };
        }
        if path.is_symlink() {
            return refuse("it is a link that leads nowhere".to_owned());
        }
        let folder = match path.parent() {
            Some(folder) if folder != Path::new("") => folder,
            _ => Path::new("."),
        };
        match Identity::of(folder) {
            Ok(identity) if folder.is_dir() => {
                to(Kind::New { target: path.to_owned(), folder: identity, name: name.to_owned() })
            }
            _ => refuse(format!("the folder {} does not exist", folder.display())),
        }
    }

    /// Standard output.
    pub(crate) fn standard_output() -> Destination {
        Destination { asked: PathBuf::from("standard output"), kind: Kind::StandardOutput }
    }

    /// Whether that is standard output.
    pub(crate) fn is_standard_output(&self) -> bool {
        matches!(self.kind, Kind::StandardOutput)
    }

    /// Refuses a place that is one of the files that were read.
    ///
    /// # Errors
    /// [`Error::Output`].
    pub(crate) fn keep_off(&self, inputs: &[impl AsRef<Path>]) -> Result<()> {
        let own = self.identity();
        // One that is not there yet is known by its folder and name.
        let is_new =
            |input: &Path| !input.exists() && Destination::at(input).is_ok_and(|of| self.is_same(&of));
        let is_own = |input: &Path| match &self.kind {
            Kind::New { .. } => is_new(input),
            _ => own.is_some() && of_input(input) == own,
        };
        if inputs.iter().any(|input| is_own(input.as_ref())) {
            let reason = "it is an input of this very run".to_owned();
            return Err(Error::Output { path: self.asked.clone(), reason });
        }
        Ok(())
    }

    /// Whether two outputs would take each other's place.
    pub(crate) fn is_same(&self, other: &Destination) -> bool {
        match (&self.kind, &other.kind) {
            (Kind::StandardOutput, Kind::StandardOutput) | (Kind::StandardError, Kind::StandardError) => true,
            (Kind::New { folder, name, .. }, Kind::New { folder: of, name: called, .. }) => {
                (folder, name) == (of, called)
            }
            _ => self.identity().is_some_and(|own| other.identity() == Some(own)),
        }
    }

    /// What is there already, if more than a device.
    fn identity(&self) -> Option<Identity> {
        match &self.kind {
            #[cfg(unix)]
            Kind::StandardOutput => stream_identity(io::stdout()),
            #[cfg(unix)]
            Kind::StandardError => stream_identity(io::stderr()),
            Kind::Old { identity, .. } | Kind::Descriptor { identity, .. } | Kind::Pipe { identity, .. } => {
                Some(identity.clone())
            }
            _ => None,
        }
    }

    /// Opens it.
    ///
    /// # Errors
    /// [`Error::Output`] when it may not be written; [`Error::File`] when the machine fails.
    pub(crate) fn open(self) -> Result<Output> {
        let Destination { asked, kind } = self;
        Output::open(&asked, kind).map_err(|source| match source.kind() {
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
                Error::Output { path: asked, reason: source.to_string() }
            }
            _ => Error::File { path: asked, doing: "open", source },
        })
    }
}

/// Refuses two outputs that would go to one place; each has a name.
///
/// # Errors
/// [`Error::Output`].
pub(crate) fn refuse_same(wanted: &[(&str, &Destination)]) -> Result<()> {
    for (number, (name, place)) in wanted.iter().enumerate() {
        if let Some((other, _)) = wanted[..number].iter().find(|(_, other)| other.is_same(place)) {
            let reason = format!("the {other} and the {name} would both go there");
            return Err(Error::Output { path: place.asked.clone(), reason });
        }
    }
    Ok(())
}

/// What something that is there is.
#[cfg(unix)]
fn kind(path: &Path, metadata: &Metadata) -> io::Result<Kind> {
    use std::os::unix::fs::FileTypeExt;
    let identity = Identity::of(path)?;
    if is_stream(&identity, io::stdout()) {
        return Ok(Kind::StandardOutput);
    }
    if is_stream(&identity, io::stderr()) {
        return Ok(Kind::StandardError);
    }
    let target = path.to_owned();
    let is = metadata.file_type();
    if is.is_file() && super::read::is_descriptor(path) {
        return Ok(Kind::Descriptor { target, identity });
    }
    if is.is_fifo() || is.is_socket() {
        return Ok(Kind::Pipe { target, identity });
    }
    if !is.is_file() {
        return Ok(Kind::Device { target });
    }
    // A link is followed: the file it leads to is the one to replace.
    Ok(Kind::Old { target: fs::canonicalize(path)?, identity })
}

#[cfg(not(unix))]
fn kind(path: &Path, metadata: &Metadata) -> io::Result<Kind> {
    if !metadata.is_file() {
        return Ok(Kind::Device { target: path.to_owned() });
    }
    Ok(Kind::Old { target: fs::canonicalize(path)?, identity: Identity::of(path)? })
}

/// Whether a stream goes there. A device that is no terminal keeps nothing, so it does not matter what else goes there.
#[cfg(unix)]
fn is_stream(identity: &Identity, stream: impl std::os::fd::AsFd + io::IsTerminal) -> bool {
    use std::os::unix::fs::FileTypeExt;
    let is_terminal = stream.is_terminal();
    Identity::of_stream(stream)
        .is_some_and(|(of, is)| of == *identity && (is_terminal || !is.file_type().is_char_device()))
}

/// The file that a stream goes to, if it is one.
#[cfg(unix)]
fn stream_identity(stream: impl std::os::fd::AsFd) -> Option<Identity> {
    Identity::of_stream(stream).filter(|(_, is)| is.is_file()).map(|(of, _)| of)
}
