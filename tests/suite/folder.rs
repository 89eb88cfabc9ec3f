//! Studies as texts, and temporary folders with them.

use std::path::Path;
use tempfile::TempDir;

/// A study of every table, small enough to run in a blink.
pub(crate) const SMALL: &str = include_str!("../data/small.toml");

/// A temporary folder.
pub(crate) struct Folder(TempDir);

impl Folder {
    /// A folder with one study, `study.toml`.
    pub(crate) fn with(study: impl AsRef<[u8]>) -> Folder {
        let folder = Folder(tempfile::tempdir().expect("a temporary folder"));
        folder.put("study.toml", study);
        folder
    }

    // Tests put files where the program will look for them; nothing is at stake when one is half written.
    #[allow(clippy::disallowed_methods)]
    pub(crate) fn put(&self, name: &str, content: impl AsRef<[u8]>) {
        std::fs::write(self.path().join(name), content).expect("a file");
    }

    pub(crate) fn path(&self) -> &Path {
        self.0.path()
    }
}

/// A study with some parts replaced, each of which must be there.
pub(crate) fn edited(study: &str, edits: &[(&str, &str)]) -> String {
    edits.iter().fold(study.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    })
}
