//! Other parts that could be bought: the study with some of its values changed.

use crate::io::{Accepts, Findings, Key, Nested, SourceText, Span, Special, Table, Text, keys};
use crate::study::read::parse_alone;
use crate::study::{Change, Parameter, change};
use std::sync::Arc;

/// A supplier's offer.
#[derive(Clone, Debug)]
pub(crate) struct Offer {
    /// What it is called.
    pub name: String,
    /// What it makes of the study, in the order of the file.
    pub changes: Vec<Change>,
    /// Where it stands.
    pub span: Span,
}

keys! {
    KEYS: "Other parts that could be bought: the study with some of its values changed";
    NAME: Text = Key::text("name", "tighter jumpers", "What the offer is called, unlike all others");
    CHANGE: Special =
        Key::special("change", || Accepts::Named(Box::new(Accepts::Anything)),
            "{ \"jumper.length.sd\" = \"0.15 mm\", \"cost.channel\" = 88.5 }",
            "What it makes of the study: addresses of values, such as \"jumper.length.sd\", and what each becomes").needed();
}

/// Key of the offers.
pub(super) const OFFERS: Key<Nested> =
    Key::tables("offer", &KEYS, "[{ name = \"tighter jumpers\", change = { \"cost.channel\" = 42 } }]");

impl Offer {
    /// Reads every `[[offer]]` of a study; what is wrong with one is recorded.
    pub(super) fn read_all(root: &Table) -> Vec<Offer> {
        let mut offers: Vec<Offer> = Vec::new();
        for table in root.tables(OFFERS) {
            let offer = Offer::read(&table);
            let span = table.span_of(NAME);
            if offer.name.trim().is_empty() && table.is_text(NAME) || offer.name.chars().any(char::is_control)
            {
                let help = "a name of one line, such as \"jumpers to 0.1 mm\"".to_owned();
                table.error(span, "an offer without a name", "not a name", Some(help));
            } else if offers.iter().any(|other| other.name == offer.name) {
                let help = "a name of its own for each".to_owned();
                let message = format!("two offers are named `{}`", offer.name);
                table.error(span, message, "named so before", Some(help));
            }
            offers.push(offer);
        }
        offers
    }

    fn read(table: &Table) -> Offer {
        let name = table.read(&NAME);
        let changes = table.required_table(CHANGE, CHANGE.example).map(|table| changes(&table));
        if changes.as_ref().is_some_and(Vec::is_empty) && table.is_sound(CHANGE) {
            let help = format!("write, for example, `change = {}`", CHANGE.example);
            table.error(table.span_of(CHANGE), "an offer that changes nothing", "empty", Some(help));
        }
        Offer { name, changes: changes.unwrap_or_default(), span: table.span_of(CHANGE) }
    }

    /// Records an error where the study has nothing of what is changed, or cannot be read with it. Answers with the files that are
    /// read beside the study then.
    pub(super) fn check(&self, source: &SourceText, findings: &Findings) -> Vec<Arc<SourceText>> {
        let refuse = |message, help| {
            findings.error(self.span.clone(), message, "changes the study so", help);
        };
        match change(source, &self.changes) {
            Err(lost) => refuse(format!("offer `{}`: {}", self.name, lost.message), Some(lost.help)),
            Ok(changed) => match parse_alone(&changed) {
                Ok(study) => return study.companions,
                Err(found) => {
                    if let Some(found) = found.into_iter().next() {
                        refuse(format!("with offer `{}`: {}", self.name, found.message), found.help);
                    }
                }
            },
        }
        Vec::new()
    }
}

/// Addresses and the values that they are given, as they are written.
fn changes(table: &Table) -> Vec<Change> {
    let mut changes = Vec::new();
    for key in table.keys() {
        let written = table.written(key).unwrap_or_default();
        let is_inline = !table.is_table(key) || written.starts_with('{');
        if !is_inline || table.is_table(key) && !key.contains('.') {
            let help = "write the whole address in quotes and its value behind it: \"jumper.length.sd\" = \"0.15 mm\"";
            table.error(
                table.span_of(key),
                format!("`{key}` is no address of a value"),
                "a table",
                Some(help.into()),
            );
            continue;
        }
        match Parameter::parse(key) {
            Ok(parameter) => changes.push(Change { parameter, value: written.to_owned() }),
            Err(lost) => table.error(table.span_of(key), lost.message, "not an address", None),
        }
    }
    changes
}
