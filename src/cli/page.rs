//! The page of a report: where it goes, and what only the command line knows of it.

use crate::cli::asked::shell_word;
use crate::cli::open::Opened;
use crate::cli::outputs::{is_stdout, write};
use crate::error::{Error, Result};
use crate::io::Output;
use crate::report::page::{Origin, Page, page_html};
use std::path::Path;

/// Opens the place of a page, if one is wanted. It must be none of the inputs, nor the place of another document.
pub(super) fn open_page(
    path: Option<&Path>,
    inputs: &[&Path],
    others: &[Option<&Path>],
) -> Result<Option<Output>> {
    let Some(path) = path else { return Ok(None) };
    let refuse = |reason: &str| Err(Error::Output { path: path.to_owned(), reason: reason.to_owned() });
    if others.contains(&Some(path)) {
        return refuse("the report and another document would both go there");
    }
    if !is_page(path) && !is_stdout(Some(path)) {
        return refuse("a report is a page: let its name end in .html");
    }
    Ok(Some(Output::create(path, inputs)?))
}

/// Whether a file's name is that of a page.
pub(super) fn is_page(path: &Path) -> bool {
    path.extension().is_some_and(|of| of.eq_ignore_ascii_case("html"))
}

/// Writes a page, if one is wanted; it is made only then.
pub(super) fn write_page(output: Option<Output>, page: impl FnOnce() -> Page) -> Result<()> {
    output.map_or(Ok(()), |output| write(output, &page_html(&page())))
}

/// Where a page comes from: the command as it was typed, and the studies with the values that it changed.
pub(super) fn origin<'a>(studies: impl IntoIterator<Item = &'a Opened>) -> Origin {
    let words = std::env::args_os().skip(1).map(|word| typed(&word.to_string_lossy()));
    let command = std::iter::once("beamyield".to_owned()).chain(words).collect::<Vec<_>>().join(" ");
    let studies = studies.into_iter().map(|of| (of.source.name.clone(), of.source.text.clone()));
    Origin { command, studies: studies.collect() }
}

/// A word of a command line as it was typed; options are no words that have to be kept from being taken for one.
fn typed(word: &str) -> String {
    let bare = word.trim_start_matches('-');
    let is_option = bare.len() < word.len() && (bare.is_empty() || shell_word(bare) == bare);
    if is_option { word.to_owned() } else { shell_word(word) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_command_is_told_as_it_was_typed() {
        for (word, told) in [
            ("--yield", "--yield"),
            ("--set=a.b=1 mm", "'--set=a.b=1 mm'"),
            ("it's", r"'it'\''s'"),
            ("-", "-"),
            ("studies/x.toml", "studies/x.toml"),
        ] {
            assert_eq!(typed(word), told);
        }
    }
}
