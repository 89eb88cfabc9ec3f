//! Writes JSON: indented for people, and inert.

use crate::error::Result;
use crate::io::Output;
use crate::io::inert::steers;
use serde::Serialize;
use serde_json::Serializer;
use serde_json::ser::{Formatter, PrettyFormatter};
use std::io::{self, Write};

/// Writes a document as JSON and finishes its output. Characters that would steer a terminal are escaped, which is the same data.
///
/// # Errors
/// [`Error::File`](crate::error::Error::File) when the output cannot be written.
pub(crate) fn write_json(mut output: Output, document: &impl Serialize) -> Result<()> {
    let written = write(&mut output, document);
    written.map_err(|error| output.failure(error))?;
    output.write_text("\n")?;
    output.finish()
}

fn write(to: &mut impl Write, document: &impl Serialize) -> serde_json::Result<()> {
    document.serialize(&mut Serializer::with_formatter(to, Inert(PrettyFormatter::new())))
}

struct Inert(PrettyFormatter<'static>);

/// Formatter methods that are passed through unchanged.
macro_rules! as_they_are {
    ($($name:ident($($is_first:ident)?)),*) => {
        $(fn $name<W: ?Sized + Write>(&mut self, to: &mut W $(, $is_first: bool)?) -> io::Result<()> {
            self.0.$name(to $(, $is_first)?)
        })*
    };
}

impl Formatter for Inert {
    as_they_are!(begin_array(), end_array(), begin_array_value(is_first), end_array_value());
    as_they_are!(begin_object(), end_object(), begin_object_key(is_first), end_object_key());
    as_they_are!(begin_object_value(), end_object_value());

    fn write_string_fragment<W: ?Sized + Write>(&mut self, to: &mut W, fragment: &str) -> io::Result<()> {
        let mut rest = fragment;
        while let Some((at, c)) = rest.char_indices().find(|(_, c)| steers(*c)) {
            // All of them are in the basic plane: one escape is enough.
            write!(to, "{}\\u{:04x}", &rest[..at], u32::from(c))?;
            rest = &rest[at + c.len_utf8()..];
        }
        to.write_all(rest.as_bytes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    #[test]
    fn characters_that_steer_are_escaped_and_the_data_are_the_same() {
        let name = "a\u{9b}\u{202e}\u{7f}\u{1b}\n\"\\b\u{2028}";
        let document = json!({ name: [name, 1.5, null, {}, []], "b": { "c": true } });
        let mut text = Vec::new();
        write(&mut text, &document).unwrap();
        let text = String::from_utf8(text).unwrap();
        assert_eq!(serde_json::from_str::<Value>(&text).unwrap(), document);
        assert!(!text.contains(steers), "{text:?}");
        let plain = json!({ "a": [1, "\u{e9}\n"], "b": {}, "c": [] });
        let mut text = Vec::new();
        write(&mut text, &plain).unwrap();
        assert_eq!(String::from_utf8(text).unwrap(), serde_json::to_string_pretty(&plain).unwrap());
    }
}
