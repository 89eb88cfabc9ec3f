//! What keys take: texts, flags, counts, quantities, words, lists, tables.

use std::fmt::Debug;
use std::ops::RangeInclusive;

use super::check::{Check, count_stand_in};
use super::diagnostic::Span;
use super::key::{Accepts, Key, Keys, Reads, Takes};
use super::quantity::Dimension;
use super::read::stand_in;
use super::table::Table;

/// A key that may be absent.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Optional<T>(pub T);

impl<T: Takes> Takes for Optional<T> {
    fn accepts(&self) -> Accepts {
        self.0.accepts()
    }

    fn is_required(&self) -> bool {
        false
    }
}

impl<T: Reads> Reads for Optional<T> {
    type Value = Option<T::Value>;

    fn find(&self, table: &Table, key: &Key<()>) -> Option<Self::Value> {
        Some(self.0.find(table, key))
    }

    fn stand_in(&self, _: &Table, _: &Key<()>) -> Self::Value {
        None
    }
}

/// A key whose absence stands for a value.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Or<T, V> {
    pub(super) of: T,
    pub(super) default: V,
}

impl<T: Takes, V: Debug + Sync> Takes for Or<T, V> {
    fn accepts(&self) -> Accepts {
        self.of.accepts()
    }

    fn is_required(&self) -> bool {
        false
    }
}

impl<T: Reads<Value = V>, V: Copy + Debug + Sync> Reads for Or<T, V> {
    type Value = V;

    fn find(&self, table: &Table, key: &Key<()>) -> Option<V> {
        Some(self.of.find(table, key).unwrap_or(self.default))
    }

    fn stand_in(&self, _: &Table, _: &Key<()>) -> V {
        self.default
    }
}

/// A text.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Text;

impl Key<Text> {
    /// A key that takes a text.
    pub(crate) const fn text(name: &'static str, example: &'static str, about: &'static str) -> Self {
        Key { name, takes: Text, example, about }
    }
}

impl Takes for Text {
    fn accepts(&self) -> Accepts {
        Accepts::Text
    }
}

impl Reads for Text {
    type Value = String;

    fn find(&self, table: &Table, key: &Key<()>) -> Option<String> {
        table.optional_text(key.name)
    }

    fn stand_in(&self, _: &Table, _: &Key<()>) -> String {
        String::new()
    }
}

/// `true` or `false`; `false` where it is absent.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Flag;

impl Key<Flag> {
    /// A key that takes a flag.
    pub(crate) const fn flag(name: &'static str, about: &'static str) -> Self {
        Key { name, takes: Flag, example: "true", about }
    }
}

impl Takes for Flag {
    fn accepts(&self) -> Accepts {
        Accepts::Flag
    }

    fn is_required(&self) -> bool {
        false
    }
}

impl Reads for Flag {
    type Value = bool;

    fn find(&self, table: &Table, key: &Key<()>) -> Option<bool> {
        Some(table.flag_or(key.name, false))
    }

    fn stand_in(&self, _: &Table, _: &Key<()>) -> bool {
        false
    }
}

/// A whole number.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Count {
    least: u64,
    most: u64,
    /// Whether other numbers are bounded by it: then its stand-in is the largest, so that nothing else is called too large
    /// after an error.
    bounds: bool,
}

impl Key<Count> {
    /// A key that takes a whole number of a range.
    pub(crate) const fn count(
        name: &'static str,
        range: RangeInclusive<u64>,
        example: &'static str,
        about: &'static str,
    ) -> Self {
        let takes = Count { least: *range.start(), most: *range.end(), bounds: false };
        Key { name, takes, example, about }
    }

    /// The same, for a number that others are bounded by.
    pub(crate) const fn bounding(self) -> Self {
        self.taking(Count { bounds: true, ..self.takes })
    }
}

impl Count {
    /// The same where no more than so many can be.
    pub(crate) const fn up_to(self, most: u64) -> Count {
        Count { most, ..self }
    }
}

impl Takes for Count {
    fn accepts(&self) -> Accepts {
        Accepts::Count(self.least..=self.most)
    }
}

impl Reads for Count {
    type Value = u64;

    fn find(&self, table: &Table, key: &Key<()>) -> Option<u64> {
        let count = table.optional_count(key.name, self.least..=self.most)?;
        Some(if self.bounds && !table.is_sound(key) { self.most } else { count })
    }

    fn stand_in(&self, _: &Table, _: &Key<()>) -> u64 {
        if self.bounds { self.most } else { count_stand_in(&(self.least..=self.most)) }
    }
}

impl Key<Optional<Count>> {
    /// The same where no more than so many can be.
    pub(crate) const fn up_to(self, most: u64) -> Self {
        self.taking(Optional(self.takes.0.up_to(most)))
    }
}

impl Key<Or<Count, u64>> {
    /// The same where no more than so many can be.
    pub(crate) const fn up_to(self, most: u64) -> Self {
        self.taking(Or { of: self.takes.of.up_to(most), ..self.takes })
    }
}

/// A quantity, or a number where it is a ratio. In SI.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Quantity {
    dimension: Dimension,
    check: Check,
}

impl Key<Quantity> {
    /// A key that takes a quantity.
    pub(crate) const fn quantity(
        name: &'static str,
        dimension: Dimension,
        check: Check,
        example: &'static str,
        about: &'static str,
    ) -> Self {
        Key { name, takes: Quantity { dimension, check }, example, about }
    }

    /// A key that takes a number, or a percentage as a text.
    pub(crate) const fn number(
        name: &'static str,
        check: Check,
        example: &'static str,
        about: &'static str,
    ) -> Self {
        Key::quantity(name, Dimension::Ratio, check, example, about)
    }

    /// A key that takes a list of such quantities.
    pub(crate) const fn list(self) -> Key<List<Quantity>> {
        self.taking(List(self.takes))
    }
}

impl Takes for Quantity {
    fn accepts(&self) -> Accepts {
        Accepts::Quantity(self.dimension, self.check)
    }
}

impl Reads for Quantity {
    type Value = f64;

    fn find(&self, table: &Table, key: &Key<()>) -> Option<f64> {
        table.optional_quantity(key.name, self.dimension, self.check)
    }

    fn stand_in(&self, _: &Table, _: &Key<()>) -> f64 {
        stand_in(self.dimension, self.check)
    }
}

/// A list of quantities or of texts, at least one.
#[derive(Clone, Copy, Debug)]
pub(crate) struct List<T>(T);

impl Key<Text> {
    /// A key that takes a list of texts.
    pub(crate) const fn list(self) -> Key<List<Text>> {
        self.taking(List(Text))
    }
}

impl<T: Takes> Takes for List<T> {
    fn accepts(&self) -> Accepts {
        Accepts::List(Box::new(self.0.accepts()))
    }
}

impl Reads for List<Quantity> {
    type Value = Vec<(f64, Span)>;

    fn find(&self, table: &Table, key: &Key<()>) -> Option<Self::Value> {
        table.optional_quantities(key.name, self.0.dimension, self.0.check, key.example)
    }

    fn stand_in(&self, table: &Table, key: &Key<()>) -> Self::Value {
        vec![(stand_in(self.0.dimension, self.0.check), table.span_of(key))]
    }
}

impl Reads for List<Text> {
    type Value = Vec<(String, Span)>;

    fn find(&self, table: &Table, key: &Key<()>) -> Option<Self::Value> {
        table.optional_texts(key.name, key.example)
    }

    fn stand_in(&self, table: &Table, key: &Key<()>) -> Self::Value {
        vec![(String::new(), table.span_of(key))]
    }
}

/// A word with a meaning.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Word<T> {
    /// The kind of word: "rounding".
    what: &'static str,
    words: fn() -> Vec<(&'static str, T)>,
}

impl<T> Key<Word<T>> {
    /// A key that takes a word; its stand-in is the first of them. `what` names the kind of word.
    pub(crate) const fn word(
        name: &'static str,
        what: &'static str,
        words: fn() -> Vec<(&'static str, T)>,
        example: &'static str,
        about: &'static str,
    ) -> Self {
        Key { name, takes: Word { what, words }, example, about }
    }
}

impl<T: Debug> Takes for Word<T> {
    fn accepts(&self) -> Accepts {
        Accepts::Word((self.words)().into_iter().map(|(word, _)| word).collect())
    }
}

impl<T: Clone + Debug> Reads for Word<T> {
    type Value = T;

    fn find(&self, table: &Table, key: &Key<()>) -> Option<T> {
        table.optional_choice(key.name, self.what, &(self.words)())
    }

    fn stand_in(&self, _: &Table, _: &Key<()>) -> T {
        (self.words)().swap_remove(0).1
    }
}

/// A table, or a list of tables.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Nested {
    keys: &'static Keys,
    is_list: bool,
    is_required: bool,
}

impl Key<Nested> {
    /// A key that takes a table and may be absent.
    pub(crate) const fn table(name: &'static str, keys: &'static Keys, example: &'static str) -> Self {
        Key { name, takes: Nested { keys, is_list: false, is_required: false }, example, about: "" }
    }

    /// A key that takes a list of tables, and may be absent.
    pub(crate) const fn tables(name: &'static str, keys: &'static Keys, example: &'static str) -> Self {
        Key { name, takes: Nested { keys, is_list: true, is_required: false }, example, about: "" }
    }

    /// The same key where it must be there; of a list, with one table at least.
    pub(crate) const fn needed(self) -> Self {
        self.taking(Nested { is_required: true, ..self.takes })
    }
}

impl Takes for Nested {
    fn accepts(&self) -> Accepts {
        match self.is_list {
            true => Accepts::Tables(self.keys, u64::from(self.is_required)),
            false => Accepts::Table(self.keys),
        }
    }

    fn is_required(&self) -> bool {
        self.is_required
    }
}

/// What a reader of its own reads.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Special {
    accepts: fn() -> Accepts,
    is_required: bool,
}

impl Key<Special> {
    /// A key that may be absent, and that is read in a way of its own.
    pub(crate) const fn special(
        name: &'static str,
        accepts: fn() -> Accepts,
        example: &'static str,
        about: &'static str,
    ) -> Self {
        Key { name, takes: Special { accepts, is_required: false }, example, about }
    }

    /// The same key where it must be there.
    pub(crate) const fn needed(self) -> Self {
        self.taking(Special { is_required: true, ..self.takes })
    }
}

impl Takes for Special {
    fn accepts(&self) -> Accepts {
        (self.accepts)()
    }

    fn is_required(&self) -> bool {
        self.is_required
    }
}

/// In a table about a quantity: a difference between two values of it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Difference(Check);

impl Key<Difference> {
    /// A key that takes a difference; its example is that of the dimension.
    pub(crate) const fn difference(name: &'static str, check: Check, about: &'static str) -> Self {
        Key { name, takes: Difference(check), example: "", about }
    }
}

impl Key<Difference> {
    /// The same key of a difference of this dimension.
    pub(crate) const fn of(&self, dimension: Dimension) -> Key<Quantity> {
        let takes = Quantity { dimension, check: self.takes.0 };
        Key { example: dimension.example(), ..self.taking(takes) }
    }
}

impl Key<Optional<Difference>> {
    /// The same key of a difference of this dimension.
    pub(crate) const fn of(&self, dimension: Dimension) -> Key<Optional<Quantity>> {
        self.taking(self.takes.0).of(dimension).optional()
    }
}

impl Takes for Difference {
    fn accepts(&self) -> Accepts {
        Accepts::Difference(self.0)
    }
}
