//! Files that a document names: measured parts, tables of states.

use std::sync::Arc;

use super::diagnostic::{SourceText, shown};
use super::document::Document;
#[cfg(feature = "files")]
use super::file::{folder_of, regular_text};
use super::table::Table;

impl Table<'_> {
    /// The file of that name, relative to the document's folder. An error is recorded at the value of `key`, which
    /// names the file or a pattern for it.
    #[cfg(feature = "files")]
    pub(crate) fn companion(&self, key: &str, name: &str) -> Option<Arc<SourceText>> {
        let path = folder_of(&self.document.source.name).join(name);
        let known = |of: &&Arc<SourceText>| of.name == path;
        if let Some(known) = self.document.companions.borrow().iter().find(known) {
            return Some(known.clone());
        }
        match regular_text(&path) {
            Ok(text) => {
                let source = Arc::new(SourceText { name: path, text });
                self.document.companions.borrow_mut().push(source.clone());
                Some(source)
            }
            Err(unreadable) => {
                self.findings.slip(
                    self.span_of(key),
                    format!("`{}`: {}", shown(&path.to_string_lossy()), unreadable.message),
                    "names this file, relative to the study",
                    Some(unreadable.help.to_owned()),
                );
                None
            }
        }
    }

    /// Refuses a file at the value of `key`: this build reads none.
    #[cfg(not(feature = "files"))]
    pub fn companion(&self, key: &str, name: &str) -> Option<Arc<SourceText>> {
        self.findings.error(
            self.span_of(key),
            format!("`{}` cannot be read: this build reads no files", shown(name)),
            "names a file beside the study",
            Some("build with the feature `files`".to_owned()),
        );
        None
    }
}

impl Document {
    /// The files that were read beside the document, in the order they were first named.
    pub(crate) fn companions(&self) -> Vec<Arc<SourceText>> {
        self.companions.borrow().clone()
    }
}
