//! Folders for outputs.

use std::fs;
use std::io;
use std::path::Path;

use crate::error::{Error, Result};

/// Makes a folder, with those that it is in, unless it is there.
///
/// # Errors
/// [`Error::Output`] when something else has its name or it may not be made; [`Error::File`] when the machine fails.
pub(crate) fn make_folder(path: &Path) -> Result<()> {
    fs::create_dir_all(path).map_err(|source| match source.kind() {
        io::ErrorKind::AlreadyExists
        | io::ErrorKind::NotADirectory
        | io::ErrorKind::PermissionDenied
        | io::ErrorKind::ReadOnlyFilesystem => {
            Error::Output { path: path.to_owned(), reason: source.to_string() }
        }
        _ => Error::File { path: path.to_owned(), doing: "make the folder", source },
    })
}

/// Names in a folder, none where it is not there.
///
/// # Errors
/// [`Error::File`].
pub(crate) fn names_in(path: &Path) -> Result<Vec<String>> {
    let failed = |source| Error::File { path: path.to_owned(), doing: "read the folder", source };
    let entries = match fs::read_dir(path) {
        Err(source) if source.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries.map_err(failed)?,
    };
    let names = entries.map(|entry| entry.map(|of| of.file_name().to_string_lossy().into_owned()));
    names.collect::<io::Result<_>>().map_err(failed)
}
