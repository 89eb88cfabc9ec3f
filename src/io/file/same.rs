//! Whether two paths lead to one file, whatever they are spelled like and by whatever links they go.

use std::fs::{self, Metadata};
use std::io;
use std::path::Path;

/// What a file is, beside its names: the number of its device and its own on it.
#[cfg(unix)]
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Identity(u64, u64);

/// What a file is: the one path that all its names lead to.
#[cfg(not(unix))]
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Identity(std::path::PathBuf);

#[cfg(unix)]
impl Identity {
    /// Of the file that a path leads to.
    pub(super) fn of(path: &Path) -> io::Result<Identity> {
        fs::metadata(path).map(|of| Identity::of_metadata(&of))
    }

    fn of_metadata(of: &Metadata) -> Identity {
        use std::os::unix::fs::MetadataExt;
        Identity(of.dev(), of.ino())
    }

    /// Of what a stream of this process goes to or comes from, with what it is.
    pub(super) fn of_stream(stream: impl std::os::fd::AsFd) -> Option<(Identity, Metadata)> {
        let own = stream.as_fd().try_clone_to_owned().ok()?;
        let metadata = fs::File::from(own).metadata().ok()?;
        Some((Identity::of_metadata(&metadata), metadata))
    }
}

#[cfg(not(unix))]
impl Identity {
    /// Of the file that a path leads to.
    pub fn of(path: &Path) -> io::Result<Identity> {
        fs::canonicalize(path).map(Identity)
    }
}

/// The regular file that an input is, if it is one; "-" is standard input.
pub(super) fn of_input(path: &Path) -> Option<Identity> {
    #[cfg(unix)]
    if path == Path::new(crate::io::diagnostic::STANDARD_INPUT) {
        return Identity::of_stream(io::stdin()).filter(|(_, is)| is.is_file()).map(|(of, _)| of);
    }
    fs::metadata(path).ok().filter(Metadata::is_file)?;
    Identity::of(path).ok()
}
