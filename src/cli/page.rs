//! The origin of a report's page, which only the command line knows.

use crate::cli::asked::shell_word;
use crate::design::Design;
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

/// A word of a command line as typed: an option keeps its leading hyphens without quotes.
pub(super) fn typed(word: &str) -> String {
    let bare = word.trim_start_matches('-');
    let is_option = bare.len() < word.len() && (bare.is_empty() || shell_word(bare) == bare);
    if is_option { word.to_owned() } else { shell_word(word) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_command_is_shown_as_typed() {
        for (word, expected) in [
            ("--yield", "--yield"),
            ("--set=a.b=1 mm", "'--set=a.b=1 mm'"),
            ("it's", r"'it'\''s'"),
            ("-", "-"),
            ("studies/x.toml", "studies/x.toml"),
        ] {
            assert_eq!(typed(word), expected);
        }
    }
}
