//! Draws findings under the text they mean.

use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

use super::diagnostic::{Diagnostic, Severity, SourceText, Span, is_whole};
use super::inert::{inert, steers};

/// Draws findings under the text they mean, and counts them at the end.
///
/// A place that spans several lines is drawn on its first; a long line is cut around its place.
/// `colour` adds terminal colours; nothing is said by colour alone. Ends with a line end. Nothing that a text holds reaches a
/// terminal but as what it looks like: see [`inert`].
pub(crate) fn render(source: &SourceText, findings: &[Diagnostic], colour: bool) -> String {
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    let mut out = String::new();
    for found in findings {
        out.push_str(&renderer.render(&[draw(found.other.as_deref().unwrap_or(source), found)]));
        out.push_str("\n\n");
    }
    let count = |severity, noun: &str| {
        let all = findings.iter().filter(|found| found.severity == severity);
        match all.count() {
            0 => None,
            1 => Some(format!("1 {noun}")),
            n => Some(format!("{n} {noun}s")),
        }
    };
    let counts = [count(Severity::Error, "error"), count(Severity::Warning, "warning")];
    let counts: Vec<String> = counts.into_iter().flatten().collect();
    if !counts.is_empty() {
        out.push_str(&format!("{} in {}\n", counts.join(", "), source.title()));
    }
    out
}

/// A text shortened for a message: at most 40 characters, on one line.
pub(super) fn shown(text: &str) -> String {
    const MOST: usize = 40;
    let line = text.lines().next().unwrap_or_default();
    match line.char_indices().nth(MOST) {
        Some((cut, _)) => format!("{}...", &line[..cut]),
        None if line.len() < text.trim_end().len() => format!("{line}..."),
        None => line.to_owned(),
    }
}

fn draw<'a>(source: &'a SourceText, found: &'a Diagnostic) -> Group<'a> {
    let level = match found.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let group = Group::with_title(level.primary_title(inert(&found.message)));
    let group = match &found.span {
        Some(span) if !is_whole(span) => group.element(underlined(source, span, &found.label)),
        _ => group.element(Origin::path(source.title())),
    };
    match &found.help {
        Some(help) => group.element(Level::HELP.message(inert(help))),
        None => group,
    }
}

/// The line of a place with the place underlined. Only this line is handed over: a large text
/// with many findings would otherwise be searched anew for each.
fn underlined<'a>(
    source: &'a SourceText,
    span: &Span,
    label: &'a str,
) -> Snippet<'a, annotate_snippets::Annotation<'a>> {
    let text = source.text.as_str();
    let at = floor(text, span.start);
    let before = &text[..at];
    let first = before.rfind('\n').map_or(0, |end| end + 1);
    let rest = &text[first..];
    let line = rest.split('\n').next().unwrap_or_default();
    let line = line.strip_suffix('\r').unwrap_or(line);
    let start = (at - first).min(line.len());
    let end = floor(text, span.end).saturating_sub(first);
    let end = end.clamp(start, line.len());
    let label = (!label.is_empty()).then(|| inert(label));
    let [before_it, it, behind_it] = [&line[..start], &line[start..end], &line[end..]].map(stood_in);
    let start = before_it.len();
    let place = start..start + it.len();
    Snippet::source(before_it + &it + &behind_it)
        .path(source.title())
        .line_start(1 + before.matches('\n').count())
        .annotation(AnnotationKind::Primary.span(place).label(label))
}

/// A line as it is drawn. Here a character that steers is replaced by one other, so that columns stay those of the file; the
/// renderer does so for those of ASCII.
fn stood_in(line: &str) -> String {
    line.chars().map(|c| if steers(c) && !c.is_ascii() { '\u{fffd}' } else { c }).collect()
}

/// The nearest character boundary at or before `at`.
fn floor(text: &str, at: usize) -> usize {
    (0..=at.min(text.len())).rev().find(|&at| text.is_char_boundary(at)).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::io::diagnostic::Findings;

    fn source(text: &str) -> SourceText {
        SourceText { name: "input.toml".into(), text: text.into() }
    }

    /// One error on the text that is marked by `[[` and `]]`.
    fn drawn(marked: &str) -> String {
        let (before, rest) = marked.split_once("[[").unwrap();
        let (inner, after) = rest.split_once("]]").unwrap();
        let source = source(&format!("{before}{inner}{after}"));
        let findings = Findings::default();
        let place = before.len()..before.len() + inner.len();
        findings.error(place, "too long", "here", Some("cut it".into()));
        render(&source, &findings.into_vec(), false)
    }

    #[test]
    fn an_error_is_drawn_under_its_text() {
        snapbox::assert_data_eq!(
            drawn("title = \"x\"\nlength = [[\"38 mm\"]] # cut\n"),
            snapbox::str![[r#"
error: too long
 --> input.toml:2:10
  |
2 | length = "38 mm" # cut
  |          ^^^^^^^ here
  |
  = help: cut it

1 error in input.toml

"#]]
        );
    }

    #[test]
    fn columns_count_characters() {
        snapbox::assert_data_eq!(
            drawn("größe = { π = \"µ\", x = [[1]] }"),
            snapbox::str![[r#"
error: too long
 --> input.toml:1:24
  |
1 | größe = { π = "µ", x = 1 }
  |                        ^ here
  |
  = help: cut it

1 error in input.toml

"#]]
        );
    }

    #[test]
    fn windows_line_ends_shift_nothing() {
        snapbox::assert_data_eq!(
            drawn("a = 1\r\nb = [[2\r\n]]c = 3\r\n"),
            snapbox::str![[r#"
error: too long
 --> input.toml:2:5
  |
2 | b = 2
  |     ^ here
  |
  = help: cut it

1 error in input.toml

"#]]
        );
    }

    #[test]
    fn a_place_over_several_lines_is_drawn_on_its_first() {
        snapbox::assert_data_eq!(
            drawn("a = [[{\n  b = 1,\n}]]\n"),
            snapbox::str![[r#"
error: too long
 --> input.toml:1:5
  |
1 | a = {
  |     ^ here
  |
  = help: cut it

1 error in input.toml

"#]]
        );
    }

    #[test]
    fn an_empty_place_at_the_end_is_drawn() {
        snapbox::assert_data_eq!(
            drawn("a = 1\nb =[[]]"),
            snapbox::str![[r#"
error: too long
 --> input.toml:2:4
  |
2 | b =
  |    ^ here
  |
  = help: cut it

1 error in input.toml

"#]]
        );
        snapbox::assert_data_eq!(
            drawn("a = 1\n[[]]"),
            snapbox::str![[r#"
error: too long
 --> input.toml:2:1
  |
2 |
  | ^ here
  |
  = help: cut it

1 error in input.toml

"#]]
        );
    }

    #[test]
    fn the_empty_text_has_no_line_to_show() {
        snapbox::assert_data_eq!(
            drawn("[[]]"),
            snapbox::str![[r#"
error: too long
--> input.toml
 = help: cut it

1 error in input.toml

"#]]
        );
    }

    #[test]
    fn a_long_line_does_not_flood_the_screen() {
        let long = "x".repeat(5_000);
        snapbox::assert_data_eq!(
            drawn(&format!("{long}[[abc]]{long}")),
            snapbox::str![[r#"
error: too long
 --> input.toml:1:5001
  |
1 | ...xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxabcxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx...
  |                                                                 ^^^ here
  |
  = help: cut it

1 error in input.toml

"#]]
        );
        let flooded = drawn(&format!("a = [[{long}{long}]]"));
        assert!(flooded.len() < 1_500, "{} bytes", flooded.len());
    }

    #[test]
    fn a_place_outside_the_text_is_brought_inside() {
        let source = source("é");
        for place in [1..2, 1..1, 5..9, 0..100, Span { start: 2, end: 1 }] {
            let findings = Findings::default();
            findings.error(place, "m", "l", None);
            assert!(render(&source, &findings.into_vec(), false).contains("input.toml:1:"));
        }
    }

    #[test]
    fn findings_come_in_the_order_of_their_places_and_are_counted() {
        let findings = Findings::default();
        findings.warning(6..7, "odd", "", None);
        assert!(!findings.has_errors());
        findings.error(0..1, "bad", "", None);
        findings.error(None, "empty", "unseen", None);
        assert!(findings.has_errors());
        snapbox::assert_data_eq!(
            render(&source("a = 1\nb = 2\n"), &findings.into_vec(), false),
            snapbox::str![[r#"
error: empty
--> input.toml

error: bad
 --> input.toml:1:1
  |
1 | a = 1
  | ^

warning: odd
 --> input.toml:2:1
  |
2 | b = 2
  | ^

2 errors, 1 warning in input.toml

"#]]
        );
    }

    #[test]
    fn what_steers_a_terminal_is_not_drawn() {
        let marked = "title = \"\u{9b}2J\u{202e}\u{1b}[0m\u{85}\", x = [[1\u{200f}]]";
        let (before, rest) = marked.split_once("[[").unwrap();
        let source = SourceText {
            name: "in\u{202e}put\u{9b}.toml".into(),
            text: format!("{before}{}", rest.replace("]]", "")),
        };
        let findings = Findings::default();
        let end = source.text.len();
        findings.error(before.len()..end, "m\u{9c}", "l\u{1b}", Some("h\u{2066}".into()));
        // Not by snapshot, which takes the backslash of a code for that of a path.
        let expected = r#"error: m\u{9c}
 --> in\u{202e}put\u{9b}.toml:1:26
  |
1 | title = "�2J�␛[0m�", x = 1�
  |                          ^^ l\u{1b}
  |
  = help: h\u{2066}

1 error in in\u{202e}put\u{9b}.toml
"#;
        assert_eq!(render(&source, &findings.into_vec(), false), expected);
    }

    #[test]
    fn nothing_found_draws_nothing() {
        assert_eq!(render(&source("a"), &[], true), "");
    }

    #[test]
    fn colour_adds_codes_and_changes_no_text() {
        let findings = Findings::default();
        findings.error(0..1, "bad", "here", Some("do".into()));
        let list = findings.into_vec();
        let plain = render(&source("a = 1\n"), &list, false);
        let coloured = render(&source("a = 1\n"), &list, true);
        assert!(coloured.contains('\u{1b}') && !plain.contains('\u{1b}'));
        let mut stripped = String::new();
        for (i, part) in coloured.split('\u{1b}').enumerate() {
            let code = if i == 0 { 0 } else { part.find('m').unwrap() + 1 };
            stripped.push_str(&part[code..]);
        }
        assert_eq!(stripped, plain);
    }

    #[test]
    fn shown_text_is_short_and_on_one_line() {
        assert_eq!(shown("38 mm"), "38 mm");
        assert_eq!(shown("{\n a = 1 }"), "{...");
        assert_eq!(shown(&"é".repeat(50)), format!("{}...", "é".repeat(40)));
    }
}
