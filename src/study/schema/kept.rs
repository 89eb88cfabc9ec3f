//! What a survey of some documents keeps: the tables that were read, and what each takes.

use crate::io::survey::{Asked, Due, Question};
use crate::io::{Check, Place};
use std::collections::BTreeMap;

/// What a key takes.
#[derive(Debug, Default)]
pub(super) struct Key {
    /// What may stand there, one of these.
    pub dues: Vec<Due>,
    /// What it means.
    pub about: Option<String>,
    pub is_required: bool,
}

/// A table of one kind.
#[derive(Debug, Default)]
pub(super) struct Kind {
    /// What it is.
    pub about: Option<String>,
    pub keys: BTreeMap<String, Key>,
    /// Whether its keys are names that the study gives.
    pub is_named: bool,
}

/// The tables that may stand at one place, by the word at `kind`; "" where they have none.
pub(super) type Kinds = BTreeMap<String, Kind>;

/// All tables, by their path: "bench.receiver.drift", "block#cable.phase_step", or by the name that they share.
#[derive(Debug, Default)]
pub(super) struct Tables(pub BTreeMap<String, Kinds>);

impl Tables {
    /// Keeps what was asked of the table at a place, and of all within it.
    pub fn take(&mut self, path: &str, place: Place, questions: &[Question]) {
        if !questions.iter().any(|question| question.table == place.span()) {
            return;
        }
        let word = place.at("kind").and_then(|kind| kind.text()).unwrap_or_default();
        let kind = self.0.entry(path.to_owned()).or_default().entry(word.to_owned()).or_default();
        kind.about = kind.about.take().or_else(|| place.comment().map(str::to_owned));
        let mut here: BTreeMap<&str, Vec<&Due>> = BTreeMap::new();
        for question in questions.iter().filter(|question| question.table == place.span()) {
            match &question.asked {
                Asked::Names => kind.is_named = true,
                Asked::Required(key) => kind.keys.entry(key.clone()).or_default().is_required = true,
                Asked::Key(key, due) => here.entry(key).or_default().extend(due),
            }
        }
        for (key, dues) in &here {
            let kept = kind.keys.entry((*key).to_owned()).or_default();
            let comment = place.at(key).and_then(|at| at.comment());
            kept.about = kept.about.take().or_else(|| comment.map(str::to_owned));
            let is_general = |due: &Due| dues.iter().any(|other| is_narrower(other, due));
            dues.iter().filter(|due| !is_general(due)).for_each(|due| join(&mut kept.dues, due));
        }
        let path = if word.is_empty() { path.to_owned() } else { format!("{path}#{word}") };
        for (key, dues) in here {
            let Some(within) = place.at(key) else { continue };
            let path = shared(&dues).map_or_else(|| format!("{path}.{key}"), str::to_owned);
            let tables = within.items().chain([within]).filter(Place::is_table);
            tables.for_each(|table| self.take(&path, table, questions));
        }
    }
}

/// The name that a value shares with others.
fn shared<'d>(dues: &[&'d Due]) -> Option<&'d str> {
    dues.iter().find_map(|due| match due {
        Due::Shared(name) => Some(name.as_str()),
        Due::List(of) => shared(&[of]),
        _ => None,
    })
}

/// Whether a due says more of the same value than another: a reader states it, and then reads in a general way.
fn is_narrower(this: &Due, other: &Due) -> bool {
    match (this, other) {
        (Due::Shared(_), Due::Table) | (Due::Word(_), Due::Text) => true,
        (Due::List(of), Due::Tables) => matches!(**of, Due::Shared(_)),
        (Due::List(this), Due::List(other)) => is_narrower(this, other),
        _ => false,
    }
}

/// Adds what may stand at a key. Bounds that hang on other values are as wide as they can be.
fn join(dues: &mut Vec<Due>, due: &Due) {
    for known in dues.iter_mut() {
        match (known, due) {
            (Due::Count(known), Due::Count(more)) => {
                *known = *known.start().min(more.start())..=*known.end().max(more.end());
                return;
            }
            (Due::Quantity(known, check), Due::Quantity(dimension, other)) if known == dimension => {
                *check = if check == other { *check } else { Check::Any };
                return;
            }
            (known, due) if known == due => return,
            _ => {}
        }
    }
    dues.push(due.clone());
}
