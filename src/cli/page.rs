//! The origin of a report's page, which only the command line knows.

use crate::design::Design;
use crate::io::typed;
use crate::report::page::Origin;

/// The words of this command line, as typed.
pub(super) fn words() -> Vec<String> {
    std::env::args_os().skip(1).map(|word| typed(&word.to_string_lossy())).collect()
}

/// The origin of a page: the words of the command, and the studies with their changed values.
pub(super) fn origin<'a>(words: &[String], studies: impl IntoIterator<Item = &'a Design>) -> Origin {
    let command = format!("beamyield {}", words.join(" "));
    let studies = studies.into_iter().map(|of| (of.source.title(), of.source.text.clone()));
    Origin { command, studies: studies.collect() }
}
