//! A price, with the range that it may have.

use crate::io::{Accepts, Check, Dimension, Key, Optional, Quantity, Special, Table, keys};
use crate::study::Cost;
use std::collections::BTreeMap;

/// A number that the cost rests on, and the range that it may have, where that is stated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Price {
    /// The number that is reckoned with.
    pub value: f64,
    /// The lowest and the highest that it may be.
    pub range: Option<(f64, f64)>,
}

keys! {
    PRICE: "A price";
    VALUE: Quantity = Key::number("value", Check::NonNegative, "300", "The price that is used");
    FROM: Optional<Quantity> =
        Key::number("from", Check::NonNegative, "200", "The lowest that it may be").optional();
    TO: Optional<Quantity> =
        Key::number("to", Check::NonNegative, "400", "The highest that it may be").optional();
}

/// A key that takes a price.
pub(super) const fn key(name: &'static str, example: &'static str, about: &'static str) -> Key<Special> {
    Key::special(name, || Accepts::AnyOf(ways(Check::NonNegative)), example, about)
}

/// A key that takes a share of 1, written like a price.
pub(super) const fn share_key(
    name: &'static str,
    example: &'static str,
    about: &'static str,
) -> Key<Special> {
    Key::special(name, || Accepts::AnyOf(ways(Check::Within(0.0, 1.0))), example, about)
}

/// A key that takes one price for everything, or a table of prices by name.
pub(super) const fn named_key(
    name: &'static str,
    example: &'static str,
    about: &'static str,
) -> Key<Special> {
    let accepts = || {
        let mut all = ways(Check::NonNegative);
        all.push(Accepts::Named(Box::new(Accepts::AnyOf(ways(Check::NonNegative)))));
        Accepts::AnyOf(all)
    };
    Key::special(name, accepts, example, about)
}

fn ways(check: Check) -> Vec<Accepts> {
    vec![Accepts::Quantity(Dimension::Ratio, check), Accepts::Shared("price", &PRICE)]
}

impl Default for Price {
    fn default() -> Price {
        Price::of(0.0)
    }
}

impl Price {
    /// Keys of a price that is a table.
    pub(super) const KEYS: [&'static str; 3] = [VALUE.name, FROM.name, TO.name];

    /// A number without a range.
    pub(crate) fn of(value: f64) -> Price {
        Price { value, range: None }
    }

    /// Reads a number, or `{ value = 2.4, from = 1.8, to = 3.2 }`; `None` where the key is absent.
    pub(super) fn read(parent: &Table, key: &str, check: Check) -> Option<Price> {
        if !parent.is_table(key) {
            return parent.optional_number(key, check).map(Price::of);
        }
        let table = parent.table(key)?;
        let value = table.read(&Key::number(VALUE.name, check, VALUE.example, VALUE.about));
        let ends = (table.optional_number(FROM.name, check), table.optional_number(TO.name, check));
        let price = |range| Some(Price { value, range });
        let (Some(from), Some(to)) = ends else {
            if ends != (None, None) {
                let help = "give both `from` and `to`, or neither".to_owned();
                table.error(table.span(), format!("the range of `{key}` has one end"), "one end", Some(help));
            }
            return price(None);
        };
        if !Price::KEYS.iter().all(|key| table.is_sound(key)) {
            return price(None);
        }
        let wrong = match () {
            _ if from >= to => Some(("from", "ends before it begins", "`from` is below `to`".to_owned())),
            _ if value < from || to < value => {
                let help = format!("a value from {from} to {to}, or a range that holds {value}");
                Some(("value", "outside its own range", help))
            }
            _ => None,
        };
        if let Some((at, label, help)) = wrong {
            let message = format!("`{key}` is {value}, from {from} to {to}");
            table.error(table.span_of(at), message, label, Some(help));
        }
        price(Some((from, to)))
    }
}

/// Reads one price for everything, or a table of prices by name; `wrong` says what is wrong with a name and what would be right.
pub(super) fn named(
    parent: &Table,
    key: &Key<Special>,
    wrong: impl Fn(&str, &str) -> Option<(String, String)>,
) -> BTreeMap<String, Price> {
    let key = key.name;
    let is_price = |table: &Table| Price::KEYS.iter().any(|key| table.has(key));
    let for_all = || {
        let price = Price::read(parent, key, Check::NonNegative);
        price.map(|price| (Cost::EVERY.to_owned(), price)).into_iter().collect()
    };
    if !parent.is_table(key) {
        return for_all();
    }
    let Some(table) = parent.table(key) else { return BTreeMap::new() };
    if is_price(&table) {
        table.ignore_unknown();
        return for_all();
    }
    let mut prices = BTreeMap::new();
    for name in table.keys() {
        match (Price::read(&table, name, Check::NonNegative), wrong(name, key)) {
            (_, Some((message, help))) => table.error(table.span_of(name), message, "unknown", Some(help)),
            (Some(price), None) => {
                prices.insert(name.to_owned(), price);
            }
            (None, None) => {}
        }
    }
    prices
}
