//! Texts from outside, made harmless to a terminal and to a reader's eye.

use std::borrow::Cow;

/// A text of which no character steers a terminal or turns the order in which it is read: such a one stands as its code, `\u{202e}`.
/// Line ends and tabs stay; the return before a line end goes.
///
/// Source: the control characters are those of Unicode's category Cc; the marks of direction those of its property
/// `Bidi_Control` (Unicode Standard Annex 9); with them the separators of lines and paragraphs, U+2028 and U+2029.
pub(crate) fn inert(text: &str) -> Cow<'_, str> {
    if !text.contains(steers) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        match c {
            '\r' if rest.peek() == Some(&'\n') => {}
            c if steers(c) => out.extend(c.escape_unicode()),
            c => out.push(c),
        }
    }
    Cow::Owned(out)
}

/// The same on one line: line ends and tabs are codes too.
pub(crate) fn inert_line(text: &str) -> Cow<'_, str> {
    let inert = inert(text);
    if !inert.contains(['\n', '\t']) {
        return inert;
    }
    let of = |c: char| if matches!(c, '\n' | '\t') { c.escape_unicode().to_string() } else { c.to_string() };
    Cow::Owned(inert.chars().map(of).collect())
}

/// Whether a character does something else than to stand where it is.
pub(crate) fn steers(c: char) -> bool {
    match c {
        '\n' | '\t' => false,
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => true,
        c => c.is_control(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_stands_as_its_code() {
        for (text, expected) in [
            ("plain, größe 38 µm\n\tand more", "plain, größe 38 µm\n\tand more"),
            ("\u{1b}[31m", "\\u{1b}[31m"),
            ("a\u{9b}2J\u{85}\u{7f}\0", "a\\u{9b}2J\\u{85}\\u{7f}\\u{0}"),
            ("\u{202e}gnp.\u{2066}x\u{2069}", "\\u{202e}gnp.\\u{2066}x\\u{2069}"),
            (
                "\u{61c}\u{200e}\u{200f}\u{202a}\u{2028}\u{2029}",
                "\\u{61c}\\u{200e}\\u{200f}\\u{202a}\\u{2028}\\u{2029}",
            ),
            ("over\rwritten", "over\\u{d}written"),
            ("two\r\nlines\r", "two\nlines\\u{d}"),
        ] {
            assert_eq!(inert(text), expected);
        }
        assert_eq!(inert_line("a\tb\r\nc\u{9c}"), "a\\u{9}b\\u{a}c\\u{9c}");
        // Neighbours of what steers are letters and spaces like any other.
        for c in ['\u{a0}', '\u{61b}', '\u{200d}', '\u{2010}', '\u{2027}', '\u{202f}', '\u{2065}', '\u{206a}']
        {
            assert!(!steers(c), "{c:?}");
        }
    }

    #[test]
    fn what_is_inert_stays_so() {
        for text in ["a\u{9b}\r\n\r\u{202e}b", "", "x"] {
            assert_eq!(inert(&inert(text)), inert(text));
        }
    }
}
