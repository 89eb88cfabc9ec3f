//! Every message of the readers once, and what they answer with.

use super::*;
use crate::io::diagnostic::{Findings, SourceText, render};
use crate::io::table::Document;
use crate::io::{Count, Key, Quantity, Text, Word};

/// What `read` answers with, and the report on the text.
fn read<T>(text: &str, read: impl FnOnce(&Table) -> T) -> (T, String) {
    let document = Document::parse(SourceText { name: "input.toml".into(), text: text.into() });
    let findings = Findings::default();
    let answer = read(&document.root(&findings));
    (answer, render(&document.source, &findings.into_vec(), false))
}

/// What `read` answers with; there must be nothing to report.
fn clean<T>(text: &str, reader: impl FnOnce(&Table) -> T) -> T {
    let (answer, report) = read(text, reader);
    assert_eq!(report, "");
    answer
}

fn report(text: &str, reader: impl FnOnce(&Table)) -> String {
    read(text, reader).1
}

const SHAPES: [(&str, u8); 2] = [("round", 1), ("square", 2)];

/// Keys by what they take alone.
fn text_at(name: &'static str) -> Key<Text> {
    Key::text(name, "...", "")
}

fn count(name: &'static str, range: RangeInclusive<u64>) -> Key<Count> {
    Key::count(name, range, "1", "")
}

fn number(name: &'static str, check: Check) -> Key<Quantity> {
    Key::number(name, check, "3", "")
}

fn quantity(name: &'static str, dimension: Dimension, check: Check) -> Key<Quantity> {
    Key::quantity(name, dimension, check, dimension.example(), "")
}

fn shape(name: &'static str) -> Key<Word<u8>> {
    Key::word(name, "shape", || SHAPES.to_vec(), "round", "")
}

#[test]
fn what_is_right_is_read() {
    let text = r#"
        text = "x"
        flag = true
        count = 16
        hex = 0x10
        whole = 3
        point = 2.5
        grouped = 1_000.5
        percent = "5 %"
        length = "38 mm"
        lengths = ["1 mm", "2 mm"]
        ratios = [1, 0.5]
        texts = ["a", "b"]
        shape = "square"
    "#;
    clean(text, |t| {
        assert_eq!(t.read(&text_at("text")), "x");
        assert!(t.read(&Key::flag("flag", "")));
        assert_eq!(t.read(&count("count", 1..=16)), 16);
        assert_eq!(t.read(&count("hex", 1..=16).or(1)), 16);
        assert_eq!(t.read(&number("whole", Check::Any)), 3.0);
        assert_eq!(t.read(&number("point", Check::Positive).or(1.0)), 2.5);
        assert_eq!(t.read(&number("grouped", Check::Any)), 1000.5);
        assert_eq!(t.optional_number("percent", Check::Any), Some(0.05));
        let check = Check::Within(0.0, 0.038);
        assert_eq!(t.read(&quantity("length", Dimension::Length, check)), 0.038);
        let lengths = t.read(&quantity("lengths", Dimension::Length, Check::Any).list());
        assert_eq!(lengths[1].0, 0.002);
        assert_eq!(&text[lengths[1].1.clone()], "\"2 mm\"");
        let ratios = t.read(&number("ratios", Check::Any).list());
        assert_eq!((ratios[0].0, ratios[1].0), (1.0, 0.5));
        let texts = t.read(&text_at("texts").list());
        assert_eq!((texts[0].0.as_str(), &text[texts[0].1.clone()]), ("a", "\"a\""));
        assert_eq!(t.optional_texts("texts", "[]").map(|texts| texts.len()), Some(2));
        assert_eq!(t.read(&shape("shape")), 2);
    });
}

#[test]
fn what_is_absent_is_the_default() {
    clean("", |t| {
        assert_eq!(t.read(&text_at("a").optional()), None);
        assert!(!t.read(&Key::flag("a", "")));
        assert_eq!(t.read(&count("a", 1..=9).or(4)), 4);
        assert_eq!(t.read(&count("a", 1..=9).optional()), None);
        assert_eq!(t.read(&number("a", Check::Any).or(4.0)), 4.0);
        assert_eq!(t.optional_number("a", Check::Any), None);
        assert_eq!(t.read(&quantity("a", Dimension::Time, Check::Any).or(4.0)), 4.0);
        assert_eq!(t.read(&quantity("a", Dimension::Time, Check::Any).optional()), None);
        assert_eq!(t.optional_texts("a", "[]"), None);
        assert_eq!(t.read(&shape("a").optional()), None);
    });
}

#[test]
fn missing_keys_show_an_example_at_the_header() {
    let text = "# a comment\n[part]\n";
    snapbox::assert_data_eq!(
        report(text, |root| {
            let t = root.table("part").unwrap();
            t.read(&text_at("name"));
            t.read(&count("bits", 1..=12));
            t.read(&number("ratio", Check::Positive));
            t.read(&quantity("length", Dimension::Length, Check::Positive));
            t.read(&quantity("gap", Dimension::Length, Check::Within(1e-6, 3e-6)));
            let frequency =
                Key::quantity("frequencies", Dimension::Frequency, Check::Positive, "[\"26 GHz\"]", "");
            t.read(&frequency.list());
            t.read(&Key::text("files", "[\"...\"]", "").list());
            t.read(&shape("kind"));
            // Said about a table whose values are stand-ins: not recorded.
            t.error(t.span_of("length"), "too long", "", None);
        }),
        snapbox::str![[r#"
error: missing key `name`
 --> input.toml:2:1
  |
2 | [part]
  | ^^^^^^ `name` is expected here
  |
  = help: add, for example, `name = "..."`

error: missing key `bits`
 --> input.toml:2:1
  |
2 | [part]
  | ^^^^^^ `bits` is expected here
  |
  = help: add, for example, `bits = 1`

error: missing key `ratio`
 --> input.toml:2:1
  |
2 | [part]
  | ^^^^^^ `ratio` is expected here
  |
  = help: add, for example, `ratio = 3`

error: missing key `length`
 --> input.toml:2:1
  |
2 | [part]
  | ^^^^^^ `length` is expected here
  |
  = help: add, for example, `length = "38 mm"`

error: missing key `gap`
 --> input.toml:2:1
  |
2 | [part]
  | ^^^^^^ `gap` is expected here
  |
  = help: add, for example, `gap = "38 mm"`

error: missing key `frequencies`
 --> input.toml:2:1
  |
2 | [part]
  | ^^^^^^ `frequencies` is expected here
  |
  = help: add, for example, `frequencies = ["26 GHz"]`

error: missing key `files`
 --> input.toml:2:1
  |
2 | [part]
  | ^^^^^^ `files` is expected here
  |
  = help: add, for example, `files = ["..."]`

error: missing key `kind`
 --> input.toml:2:1
  |
2 | [part]
  | ^^^^^^ `kind` is expected here
  |
  = help: add, for example, `kind = "round"`

8 errors in input.toml

"#]]
    );
}

#[test]
fn wrong_types_say_what_stands_there_and_what_is_expected() {
    let text =
        "a = 1\nb = \"x\"\nc = [1]\nd = 38\ne = true\nf = 2026-01-01\ng = {}\nh = \"5\"\ni = 4.0\nj = 4.5\n";
    snapbox::assert_data_eq!(
        report(text, |t| {
            assert_eq!(t.read(&text_at("a")), "");
            assert!(!t.read(&Key::flag("b", "")));
            assert_eq!(t.optional_number("c", Check::Any), Some(1.0));
            t.read(&quantity("d", Dimension::Length, Check::Positive));
            t.read(&quantity("e", Dimension::Length, Check::Positive));
            t.read(&text_at("f").optional());
            t.read(&shape("g"));
            assert_eq!(t.read(&count("h", 2..=9)), 2);
            t.read(&count("i", 1..=9));
            t.read(&count("j", 1..=9));
        }),
        snapbox::str![[r#"
error: a number where a text is expected
 --> input.toml:1:5
  |
1 | a = 1
  |     ^ `a` takes a text
  |
  = help: write it in quotes, such as `a = "..."`

error: a text where `true` or `false` is expected
 --> input.toml:2:5
  |
2 | b = "x"
  |     ^^^ `b` takes `true` or `false`

error: a list where a number is expected
 --> input.toml:3:5
  |
3 | c = [1]
  |     ^^^ `c` takes a number

error: a bare number where a length with its unit is expected
 --> input.toml:4:5
  |
4 | d = 38
  |     ^^ 38 has no unit
  |
  = help: write a text with its unit, such as "38 mm"

error: `true` where a length with its unit is expected
 --> input.toml:5:5
  |
5 | e = true
  |     ^^^^ `e` takes a length with its unit
  |
  = help: write, for example, `e = "38 mm"`

error: a date where a text is expected
 --> input.toml:6:5
  |
6 | f = 2026-01-01
  |     ^^^^^^^^^^ `f` takes a text
  |
  = help: write it in quotes, such as `f = "..."`

error: a table where a shape as a text is expected
 --> input.toml:7:5
  |
7 | g = {}
  |     ^^ `g` takes a shape as a text
  |
  = help: possible: "round", "square"

error: a text where a whole number is expected
 --> input.toml:8:5
  |
8 | h = "5"
  |     ^^^ `h` takes a whole number

error: `i` is 4.0, but must be a whole number
 --> input.toml:9:5
  |
9 | i = 4.0
  |     ^^^ not a whole number
  |
  = help: write `i = 4`

error: `j` is 4.5, but must be a whole number
  --> input.toml:10:5
   |
10 | j = 4.5
   |     ^^^ not a whole number

10 errors in input.toml

"#]]
    );
}

#[test]
fn quantities_pass_on_what_is_wrong_with_their_text() {
    let text = "x = { \"größe\" = \"26 GHz\", y = \"1,5 mm\", z = \"abc\" }\n";
    snapbox::assert_data_eq!(
        report(text, |root| {
            let t = root.table("x").unwrap();
            t.read(&quantity("größe", Dimension::Length, Check::Positive));
            t.read(&quantity("y", Dimension::Length, Check::Positive));
            t.read(&number("z", Check::Positive));
        }),
        snapbox::str![[r#"
error: `26 GHz` is a frequency, a length is expected here
 --> input.toml:1:17
  |
1 | x = { "größe" = "26 GHz", y = "1,5 mm", z = "abc" }
  |                 ^^^^^^^^ a length with its unit is expected
  |
  = help: write a length with its unit, such as "38 mm"

error: `1,5 mm` has a comma in the number
 --> input.toml:1:31
  |
1 | x = { "größe" = "26 GHz", y = "1,5 mm", z = "abc" }
  |                               ^^^^^^^^ a length with its unit is expected
  |
  = help: use a point for decimals, and nothing between thousands

error: `abc` does not begin with a number
 --> input.toml:1:45
  |
1 | x = { "größe" = "26 GHz", y = "1,5 mm", z = "abc" }
  |                                             ^^^^^ a number is expected
  |
  = help: write a number, such as 0.05 or "5 %"

3 errors in input.toml

"#]]
    );
}

#[test]
fn unknown_words_list_what_is_possible() {
    let text = "a = \"rouns\"\nb = \"pentagon\"\n";
    snapbox::assert_data_eq!(
        report(text, |t| {
            assert_eq!(t.read(&shape("a")), 1);
            assert_eq!(t.read(&shape("b").optional()), Some(1));
        }),
        snapbox::str![[r#"
error: unknown shape `rouns`
 --> input.toml:1:5
  |
1 | a = "rouns"
  |     ^^^^^^^ not a shape
  |
  = help: did you mean "round"? possible: "round", "square"

error: unknown shape `pentagon`
 --> input.toml:2:5
  |
2 | b = "pentagon"
  |     ^^^^^^^^^^ not a shape
  |
  = help: possible: "round", "square"

2 errors in input.toml

"#]]
    );
}

#[test]
fn a_stand_in_meets_its_check_and_provokes_nothing() {
    let text = "a = 1\nb = \"x\"\nc = \"x\"\n";
    let (_, report) = read(text, |t| {
        let check = Check::Within(1e-6, 2e-6);
        assert!(check.holds(t.read(&quantity("a", Dimension::Length, check))));
        assert_eq!(t.read(&count("b", 5..=9)), 5);
        assert_eq!(t.read(&count("c", 5..=9).or(7)), 5);
        t.error(t.span_of("a"), "second", "", None);
        t.read(&count("b", 1..=9));
    });
    assert!(report.ends_with("3 errors in input.toml\n"), "{report}");
}

#[test]
fn a_long_text_is_shortened_everywhere() {
    let long = "y".repeat(10_000);
    let text = format!("a = \"{long}\"\nb = \"5 {long}\"\nc = \"{long}\"\n{long} = 1\n");
    let report = report(&text, |t| {
        t.read(&shape("a"));
        t.read(&quantity("b", Dimension::Length, Check::Any));
        t.read(&count("c", 1..=2));
    });
    let longest = report.lines().map(str::len).max();
    assert!(longest < Some(400), "{longest:?}");
    assert!(report.ends_with("4 errors in input.toml\n"), "{report}");
}
