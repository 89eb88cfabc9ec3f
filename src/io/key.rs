//! The keys of a document. Each is declared once: its name, what it means, what it takes, an example. A reader asks for it by its
//! declaration, errors name it from there, and the schema is made of the declarations.

use std::fmt::Debug;
use std::ops::RangeInclusive;

use super::check::Check;
use super::quantity::Dimension;
use super::table::Table;
use super::takes::{Optional, Or};

/// A key of a table.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Key<T> {
    /// Its name.
    pub name: &'static str,
    /// What it takes, and whether it may be absent.
    pub takes: T,
    /// A sensible value: a text without its quotes, anything else in TOML.
    pub example: &'static str,
    /// What it means, and what holds where it is absent; empty where it is what its table is.
    pub about: &'static str,
}

/// What a schema says of the value of a key.
#[derive(Clone, Debug)]
pub(crate) enum Accepts {
    /// Any text.
    Text,
    /// `true` or `false`.
    Flag,
    /// A whole number.
    Count(RangeInclusive<u64>),
    /// A quantity with its unit; of a ratio, a number as well.
    Quantity(Dimension, Check),
    /// A text of a number and this word, which is no unit: "0.5 wavelength".
    Multiple(&'static str),
    /// One of these words.
    Word(Vec<&'static str>),
    /// A list of such values, at least one.
    List(Box<Accepts>),
    /// A table.
    Table(&'static Keys),
    /// A list of tables, at least as many as the number says.
    Tables(&'static Keys, u64),
    /// A table of such values under names that the document chooses.
    Named(Box<Accepts>),
    /// Any of these.
    AnyOf(Vec<Accepts>),
    /// A table that stands at many keys alike, under a name of its own.
    Shared(&'static str, &'static Keys),
    /// The same about a quantity, with a definition for each dimension. Its keys take [`Accepts::Own`] and its like.
    About(Dimension, &'static str, &'static Keys),
    /// In a table about a quantity: a value of that dimension.
    Own,
    /// In a table about a quantity: a difference between two values of that dimension.
    Difference(Check),
    /// In a table about a quantity: a table about such a difference.
    AboutDifference(&'static str, &'static Keys),
    /// Any value.
    Anything,
}

impl Accepts {
    /// The table that it is, where it is one.
    pub(crate) fn keys(&self) -> Option<&'static Keys> {
        match self {
            Accepts::Table(keys) | Accepts::Tables(keys, _) | Accepts::AboutDifference(_, keys) => Some(keys),
            _ => None,
        }
    }

    /// Whether examples of it are texts, which a document writes in quotes.
    pub(crate) fn is_text(&self) -> bool {
        match self {
            Accepts::Text | Accepts::Multiple(_) | Accepts::Word(_) | Accepts::Own => true,
            Accepts::Difference(_) => true,
            Accepts::Quantity(dimension, _) => *dimension != Dimension::Ratio,
            Accepts::AnyOf(ways) => ways.first().is_some_and(Accepts::is_text),
            _ => false,
        }
    }
}

/// What a key takes, for a schema.
pub(crate) trait Takes: Debug + Sync {
    /// What may be written there.
    fn accepts(&self) -> Accepts;

    /// Whether it must be there.
    fn is_required(&self) -> bool {
        true
    }
}

/// What a key takes, for a reader.
pub(crate) trait Reads: Takes {
    /// What a reader gets.
    type Value;

    /// The value in a table; `None` where it is absent.
    fn find(&self, table: &Table, key: &Key<()>) -> Option<Self::Value>;

    /// What stands for it once its absence is recorded as an error.
    fn stand_in(&self, table: &Table, key: &Key<()>) -> Self::Value;
}

/// A key whatever it takes.
pub(crate) trait Declared: Debug + Sync {
    /// Its name, meaning and example.
    fn key(&self) -> Key<()>;
    /// What it takes.
    fn takes(&self) -> &dyn Takes;
}

impl<T: Takes> Declared for Key<T> {
    fn key(&self) -> Key<()> {
        self.taking(())
    }

    fn takes(&self) -> &dyn Takes {
        &self.takes
    }
}

/// The keys of a table.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Keys {
    /// What the table is.
    pub about: &'static str,
    /// Its keys.
    pub own: &'static [&'static dyn Declared],
    /// Tables whose keys it has as well.
    pub with: &'static [&'static Keys],
    /// Keys that it has besides, by the word at its key `kind`.
    pub kinds: &'static [(&'static str, &'static Keys)],
}

impl Keys {
    /// All its keys but those of its kinds.
    pub(crate) fn all(&self) -> Vec<&'static dyn Declared> {
        let with = self.with.iter().flat_map(|keys| keys.all());
        self.own.iter().copied().chain(with).collect()
    }
}

/// Declares the keys of a table: a constant for each, and a static for all of them, so that a table can hold one of its own kind.
macro_rules! keys {
    ($(#[$of:meta])* $all_vis:vis $All:ident: $about:literal $(, with $($more:expr),+)?;
     $($(#[$doc:meta])* $vis:vis $KEY:ident: $Takes:ty = $key:expr;)*) => {
        $($(#[$doc])* $vis const $KEY: $crate::io::Key<$Takes> = $key;)*
        $(#[$of])* $all_vis static $All: $crate::io::Keys = $crate::io::Keys {
            about: $about,
            own: &[$(&$KEY),*],
            with: &[$($(&$more),+)?],
            kinds: &[],
        };
    };
}
pub(crate) use keys;

impl<T> Key<T> {
    /// The same key with something else that it takes.
    pub(crate) const fn taking<U>(&self, takes: U) -> Key<U> {
        Key { name: self.name, takes, example: self.example, about: self.about }
    }
}

impl<T: Copy> Key<T> {
    /// The same key, which may be absent.
    pub(crate) const fn optional(self) -> Key<Optional<T>> {
        self.taking(Optional(self.takes))
    }

    /// The same key; a default stands where it is absent.
    pub(crate) const fn or<V>(self, default: V) -> Key<Or<T, V>>
    where
        V: Copy,
    {
        self.taking(Or { of: self.takes, default })
    }
}

impl<T: Copy> Key<Optional<T>> {
    /// The same key where it must be there.
    pub(crate) const fn required(self) -> Key<T> {
        self.taking(self.takes.0)
    }
}

impl<T> AsRef<str> for Key<T> {
    fn as_ref(&self) -> &str {
        self.name
    }
}

impl Table<'_> {
    /// The value of a key: an absent one that is required is recorded as an error, and answered with a stand-in.
    pub(crate) fn read<T: Reads>(&self, key: &Key<T>) -> T::Value {
        let named = key.taking(());
        key.takes.find(self, &named).unwrap_or_else(|| {
            let example = written(&key.takes.accepts(), key.example);
            self.missing(key.name, &example, key.takes.stand_in(self, &named))
        })
    }
}

/// An example as a document writes it.
pub(crate) fn written(accepts: &Accepts, example: &str) -> String {
    if accepts.is_text() { format!("\"{example}\"") } else { example.to_owned() }
}
