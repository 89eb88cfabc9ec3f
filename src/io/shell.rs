//! Words as a shell reads them.

/// A word, quoted for a shell.
pub(crate) fn shell_word(word: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "/._+:@=-".contains(c);
    let is_option = word.starts_with('-') && word != "-";
    let needs_none = !word.is_empty() && !is_option && word.chars().all(is_plain);
    if needs_none { word.to_owned() } else { format!("'{}'", word.replace('\'', r"'\''")) }
}

/// A word of a command line as typed: an option keeps its leading hyphens without quotes.
pub(crate) fn typed(word: &str) -> String {
    let bare = word.trim_start_matches('-');
    let is_option = bare.len() < word.len() && (bare.is_empty() || shell_word(bare) == bare);
    if is_option { word.to_owned() } else { shell_word(word) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_quoted_for_a_shell() {
        for (word, typed) in [
            ("studies/line-64.toml", "studies/line-64.toml"),
            ("shifter.bits=5", "shifter.bits=5"),
            ("my study.toml", "'my study.toml'"),
            ("it's", r"'it'\''s'"),
            ("-x", "'-x'"),
            ("-", "-"),
            ("$HOME", "'$HOME'"),
            ("", "''"),
        ] {
            assert_eq!(shell_word(word), typed);
        }
    }

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
