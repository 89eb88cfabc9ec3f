//! What a cursor reports about its table.

use super::*;
use crate::io::Key;
use crate::io::diagnostic::{SourceText, render};

/// The report on a text, read by `read`.
fn report(text: &str, read: impl FnOnce(&Table)) -> String {
    let document = Document::parse(SourceText { name: "input.toml".into(), text: text.into() });
    let findings = Findings::default();
    read(&document.root(&findings));
    render(&document.source, &findings.into_vec(), false)
}

#[test]
fn unknown_keys_are_reported_where_they_stand() {
    let text = "title = \"x\"\n\n[[part]]\nlenght = 1\n[[part]]\nlength = 2\ncolour = 3\n";
    snapbox::assert_data_eq!(
        report(text, |root| {
            root.read(&Key::text("title", "...", ""));
            for part in root.tables("part") {
                part.optional_number("length", Check::Any);
                part.optional_number("loss", Check::Any);
            }
        }),
        snapbox::str![[r#"
error: unknown key `lenght`
 --> input.toml:4:1
  |
4 | lenght = 1
  | ^^^^^^ nothing reads this
  |
  = help: did you mean `length`?

error: unknown key `colour`
 --> input.toml:7:1
  |
7 | colour = 3
  | ^^^^^^ nothing reads this
  |
  = help: this table takes `length`, `loss`

2 errors in input.toml

"#]]
    );
}

#[test]
fn a_table_that_takes_nothing_says_so() {
    snapbox::assert_data_eq!(
        report("a = 1", |_| {}),
        snapbox::str![[r#"
error: unknown key `a`
 --> input.toml:1:1
  |
1 | a = 1
  | ^ nothing reads this
  |
  = help: this table takes no keys

1 error in input.toml

"#]]
    );
}

#[test]
fn silence_keeps_unknown_keys_quiet() {
    assert_eq!(report("a = 1", |t| t.ignore_unknown()), "");
}

#[test]
fn nested_tables_report_at_their_own_headers() {
    let text = "[frame]\nshape = { kind = \"line\", inner = { x = 1 } }\n\n[frame.sub]\n";
    snapbox::assert_data_eq!(
        report(text, |root| {
            let frame = root.table("frame").unwrap();
            let shape = frame.table("shape").unwrap();
            shape.read(&Key::text("kind", "...", ""));
            shape.read(&Key::count("count", 1..=9, "1", ""));
            let inner = shape.table("inner").unwrap();
            inner.read(&Key::number("x", Check::Any, "1", ""));
            inner.read(&Key::number("y", Check::Any, "1", ""));
            frame.table("sub").unwrap().read(&Key::text("name", "...", ""));
            frame.required_table("edge", "{ kind = \"soft\" }");
            root.required_table("stand", "{ ... }");
        }),
        snapbox::str![[r#"
error: missing key `edge`
 --> input.toml:1:1
  |
1 | [frame]
  | ^^^^^^^ `edge` is expected here
  |
  = help: add, for example, `edge = { kind = "soft" }`

error: missing key `stand`
--> input.toml
 = help: add, for example, `stand = { ... }`

error: missing key `count`
 --> input.toml:2:9
  |
2 | shape = { kind = "line", inner = { x = 1 } }
  |         ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ `count` is expected here
  |
  = help: add, for example, `count = 1`

error: missing key `y`
 --> input.toml:2:34
  |
2 | shape = { kind = "line", inner = { x = 1 } }
  |                                  ^^^^^^^^^ `y` is expected here
  |
  = help: add, for example, `y = 1`

error: missing key `name`
 --> input.toml:4:1
  |
4 | [frame.sub]
  | ^^^^^^^^^^^ `name` is expected here
  |
  = help: add, for example, `name = "..."`

5 errors in input.toml

"#]]
    );
}

#[test]
fn what_is_no_table_is_an_error_and_reading_goes_on() {
    let text = "a = 1\nb = [{}, 2]\n[c]\nx = 1\n";
    snapbox::assert_data_eq!(
        report(text, |root| {
            assert!(root.table("a").is_none());
            assert!(root.required_table("a", "{}").is_none());
            assert_eq!(root.tables("b").len(), 1);
            assert!(root.tables("c").is_empty());
            assert!(root.tables("d").is_empty());
        }),
        snapbox::str![[r#"
error: a number where a table is expected
 --> input.toml:1:5
  |
1 | a = 1
  |     ^ `a` takes a table
  |
  = help: write `a = { ... }`

error: a number where a table is expected
 --> input.toml:2:10
  |
2 | b = [{}, 2]
  |          ^ `b` takes a table

error: a table where a list of tables is expected
 --> input.toml:3:1
  |
3 | [c]
  | ^^^ `c` takes a list of tables
  |
  = help: write a header `[[c]]` for each

3 errors in input.toml

"#]]
    );
}

#[test]
fn what_stands_there_can_be_asked() {
    let text = "a = \"x\"\nb = { c = 1 }\nd = 1\n";
    let report = report(text, |root| {
        assert_eq!(root.span(), 0..0);
        assert!(root.has("a") && root.has("d") && !root.has("e"));
        assert!(root.is_text("a") && !root.is_text("b") && !root.is_text("e"));
        assert!(root.is_table("b") && !root.is_table("d") && !root.is_table("e"));
        assert_eq!(&text[root.span_of("a")], "\"x\"");
        assert_eq!(root.span_of("e"), 0..0);
        let b = root.table("b").unwrap();
        assert_eq!(&text[b.span()], "{ c = 1 }");
        assert_eq!(b.span_of("e"), b.span());
        b.ignore_unknown();
    });
    assert_eq!(report, "");
}

#[test]
fn all_syntax_errors_come_at_once_and_nothing_else() {
    let text = "= 3\r\na = 1,5\r\nb = \"open\r\nc = 1\r\nc = 2\r\nunread = 1\r\n";
    snapbox::assert_data_eq!(
        report(text, |root| {
            root.read(&Key::text("missing", "...", ""));
            root.error(root.span(), "guesswork", "", None);
        }),
        snapbox::str![[r#"
error: unquoted keys cannot be empty, expected letters, numbers, `-`, `_`
 --> input.toml:1:1
  |
1 | = 3
  | ^

error: unexpected key or value, expected newline, `#`
 --> input.toml:2:6
  |
2 | a = 1,5
  |      ^

error: invalid basic string, expected `"`
 --> input.toml:3:10
  |
3 | b = "open
  |          ^

error: duplicate key
 --> input.toml:5:1
  |
5 | c = 2
  | ^

4 errors in input.toml

"#]]
    );
}

#[test]
fn a_deeply_nested_text_is_refused() {
    let report = report(&format!("a = {}", "[".repeat(100_000)), |_| {});
    assert!(report.contains("recursion"), "{report}");
    assert!(report.len() < 2_000);
}

#[test]
fn an_empty_text_misses_its_keys() {
    snapbox::assert_data_eq!(
        report("", |root| {
            root.read(&Key::text("title", "...", ""));
            root.read(&Key::count("draws", 100..=1000, "100", ""));
        }),
        snapbox::str![[r#"
error: missing key `title`
--> input.toml
 = help: add, for example, `title = "..."`

error: missing key `draws`
--> input.toml
 = help: add, for example, `draws = 100`

2 errors in input.toml

"#]]
    );
}

#[test]
fn windows_line_ends_keep_their_places() {
    snapbox::assert_data_eq!(
        report("a = 1\r\n[b]\r\nc = 2\r\n", |t| {
            t.ignore_unknown();
            t.table("b").unwrap().read(&Key::text("c", "...", ""));
        }),
        snapbox::str![[r#"
error: a number where a text is expected
 --> input.toml:3:5
  |
3 | c = 2
  |     ^ `c` takes a text
  |
  = help: write it in quotes, such as `c = "..."`

1 error in input.toml

"#]]
    );
}
