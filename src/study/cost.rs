//! What parts and minutes cost.

use crate::io::survey::Due;
use crate::io::{Check, Dimension, Table, suggest};
use std::collections::BTreeMap;

/// Prices, in the study's currency, and what is done with units that fail.
#[derive(Clone, Debug)]
pub struct Cost {
    /// What prices are in: a label, nothing is converted.
    pub currency: String,
    /// Good units that are due in a year.
    pub units_a_year: f64,
    /// Parts of one channel, as they are built in.
    pub channel: Price,
    /// Parts of a unit beside those of its channels.
    pub unit: Price,
    /// What one part that is turned away costs, by the source that is inspected; [`Cost::EVERY`] for those not named.
    pub rejected_part: BTreeMap<String, Price>,
    /// A minute at the gauge.
    pub gauge_minute: Price,
    /// A minute on the bench.
    pub bench_minute: Price,
    /// What it takes once to have a calibration plan, by plan; [`Cost::EVERY`] for those not named that do something.
    pub set_up: BTreeMap<String, Price>,
    /// What a unit that is scrapped still brings.
    pub recovered: Price,
    /// What can be done with a unit that fails, beside scrapping it.
    pub rework: Option<Rework>,
    /// Hours that a bench works in a day, s.
    pub bench_day: f64,
    /// Days that it works in a year.
    pub days_a_year: f64,
}

/// Attempts to mend a unit that fails; one that fails after the last is scrapped.
#[derive(Clone, Debug, PartialEq)]
pub struct Rework {
    /// How the share that is mended is known.
    pub success: Success,
    /// Bench time of an attempt, but for that of a calibration, s.
    pub seconds: f64,
    /// Parts that an attempt takes.
    pub parts: Price,
}

/// How the share of the failing units that is mended is known.
#[derive(Clone, Debug, PartialEq)]
pub enum Success {
    /// It is stated, for one attempt.
    Stated(Price),
    /// Parts are replaced, and the unit is calibrated and judged again.
    Replacing(Replacing),
}

/// What an attempt replaces: all parts of these names in the unit.
///
/// Each attempt draws the parts anew, from the same supply: those that an inspection takes, of the same lot. What stays in the unit is
/// as it was, and so are the bench's coupler and probe; the bench connects, reads and drifts anew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Replacing {
    /// Names of blocks, or [`Replacing::DEAD_CHANNEL`].
    pub names: Vec<String>,
    /// Most attempts for a unit.
    pub attempts: u32,
}

/// A number that the cost rests on, and between which it may lie where that is stated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Price {
    /// The number that is reckoned with.
    pub value: f64,
    /// The lowest and the highest that it may be.
    pub range: Option<(f64, f64)>,
}

/// What a study has that can be replaced and inspected, by name.
#[derive(Clone, Copy, Debug)]
pub(super) struct Names<'n> {
    /// Calibration plans.
    pub plans: &'n [String],
    /// Sources that are inspected.
    pub inspected: &'n [String],
    /// What rework may replace; `None` where that could not be read.
    pub parts: Option<&'n [String]>,
}

/// More attempts than anybody makes.
const MOST_ATTEMPTS: u64 = 20;

/// More units than anybody builds in a year.
const MOST_UNITS: u64 = 1_000_000_000;

/// The shortest and the longest day of a bench, s.
const DAY: (f64, f64) = (60.0, 86_400.0);

impl Cost {
    /// Key of what is not named.
    pub const EVERY: &'static str = "";

    /// Keys of prices that may be absent.
    pub(super) const PRICES: [&'static str; 4] = ["unit", "gauge_minute", "rejected_part", "set_up"];

    /// Reads `[cost]` of a unit of `channels`; what is wrong with it is recorded.
    pub(super) fn read(table: &Table, channels: usize, names: Names) -> Cost {
        let Names { plans, inspected, parts } = names;
        let price = |key| Price::read(table, key, Check::NonNegative);
        let required = |key| price(key).unwrap_or_else(|| Price::of(table.number(key, Check::NonNegative)));
        let currency = table.text("currency");
        if currency.trim().is_empty() && table.is_text("currency") || currency.chars().any(char::is_control) {
            let help = "a short label, such as \"EUR\" or \"thousand JPY\"".to_owned();
            table.error(table.span_of("currency"), "no currency is named", "empty", Some(help));
        }
        let scrap = table.table("scrap");
        let cost = Cost {
            currency,
            units_a_year: table.count("units_a_year", 1..=MOST_UNITS) as f64,
            channel: required("channel"),
            unit: price("unit").unwrap_or_default(),
            rejected_part: named(table, "rejected_part", |key, at| match inspected {
                _ if inspected.iter().any(|of| of == key) => None,
                [] => Some((
                    format!("`{key}` has no inspection that could turn a part away"),
                    format!("add `inspection = {{ accept = ... }}` to `{key}`, or leave `{at}` out"),
                )),
                some => Some((
                    format!("`{key}` is nothing that is inspected"),
                    suggest::instead_of(key, some.iter().map(String::as_str)),
                )),
            }),
            gauge_minute: price("gauge_minute").unwrap_or_default(),
            bench_minute: required("bench_minute"),
            set_up: named(table, "set_up", |key, _| {
                let unknown = !plans.iter().any(|of| of == key);
                unknown.then(|| {
                    let help = suggest::instead_of(key, plans.iter().map(String::as_str));
                    (format!("there is no calibration plan `{key}`"), help)
                })
            }),
            recovered: scrap
                .as_ref()
                .and_then(|scrap| Price::read(scrap, "recovered", Check::NonNegative))
                .unwrap_or_default(),
            rework: table.table("rework").map(|table| Rework::read(&table, parts)),
            bench_day: table.quantity_or(
                "bench_day",
                Dimension::Time,
                Check::Within(DAY.0, DAY.1),
                8.0 * 3600.0,
            ),
            days_a_year: table.number_or("days_a_year", Check::Within(1.0, 366.0), 220.0),
        };
        let built = channels as f64 * cost.channel.value + cost.unit.value;
        let is_sound = ["channel", "unit", "scrap"].iter().all(|key| table.is_sound(key));
        if let (Some(scrap), true) = (scrap, is_sound && cost.recovered.value > built) {
            scrap.error(
                scrap.span_of("recovered"),
                format!("a scrapped unit brings {}, but its parts cost {built}", cost.recovered.value),
                "more than it is worth new",
                Some(format!("at most {built}, what the parts of a unit cost")),
            );
        }
        cost
    }

    /// What one part of a source costs that is turned away.
    pub fn rejected_part(&self, source: &str) -> f64 {
        of_name(&self.rejected_part, source).map_or(0.0, |price| price.value)
    }

    /// What it takes once to have a calibration plan; one that does nothing is paid for only where it is named.
    pub fn set_up(&self, plan: &str, calibrates: bool) -> f64 {
        let price = if calibrates { of_name(&self.set_up, plan) } else { self.set_up.get(plan) };
        price.map_or(0.0, |price| price.value)
    }

    /// Every number that the cost rests on and that can have a range, with its key.
    pub fn prices_mut(&mut self) -> Vec<(String, &mut Price)> {
        let mut all = vec![
            ("channel".to_owned(), &mut self.channel),
            ("unit".to_owned(), &mut self.unit),
            ("gauge_minute".to_owned(), &mut self.gauge_minute),
            ("bench_minute".to_owned(), &mut self.bench_minute),
            ("scrap.recovered".to_owned(), &mut self.recovered),
        ];
        for (key, of) in [("rejected_part", &mut self.rejected_part), ("set_up", &mut self.set_up)] {
            let key = |name: &String| match name.as_str() {
                Cost::EVERY => key.to_owned(),
                name => format!("{key}.{name}"),
            };
            all.extend(of.iter_mut().map(|(name, price)| (key(name), price)));
        }
        if let Some(rework) = &mut self.rework {
            if let Success::Stated(share) = &mut rework.success {
                all.push(("rework.success".to_owned(), share));
            }
            all.push(("rework.parts".to_owned(), &mut rework.parts));
        }
        all
    }
}

impl Rework {
    /// Reads `{ success = 0.6, time = "25 min", parts = 40 }`, or `{ replaces = ["jumper"], attempts = 2, time = "25 min", parts = 40 }`.
    fn read(table: &Table, parts: Option<&[String]>) -> Rework {
        let stated = Price::read(table, "success", Check::Within(0.0, 1.0));
        let replacing = Replacing::read(table, parts);
        let success = match (stated, replacing) {
            (Some(share), None) => Success::Stated(share),
            (Some(_), Some(replacing)) => {
                let help = "leave `success` out: it is found by building the units again".to_owned();
                let message = "both `success` and `replaces` say how many units are mended";
                table.error(table.span_of("success"), message, "stated", Some(help));
                Success::Replacing(replacing)
            }
            (None, Some(replacing)) => Success::Replacing(replacing),
            (None, None) => {
                let help =
                    "add `replaces = [\"...\"]`, names of blocks, or `success = 0.5`, a share".to_owned();
                let message = "neither `replaces` nor `success` says how many units are mended";
                table.error(table.span(), message, "no success", Some(help));
                Success::Stated(Price::default())
            }
        };
        Rework {
            success,
            seconds: table.quantity("time", Dimension::Time, Check::NonNegative),
            parts: Price::read(table, "parts", Check::NonNegative).unwrap_or_default(),
        }
    }

    /// What an attempt replaces, where the share that is mended is not stated.
    pub fn replacing(&self) -> Option<&Replacing> {
        match &self.success {
            Success::Replacing(replacing) => Some(replacing),
            Success::Stated(_) => None,
        }
    }
}

impl Replacing {
    /// Name of what befalls a channel as a whole: replaced with it is whether each channel is dead.
    pub const DEAD_CHANNEL: &'static str = "dead_channel";

    fn read(table: &Table, parts: Option<&[String]>) -> Option<Replacing> {
        let listed = table.optional_texts("replaces");
        let attempts = table.optional_count("attempts", 1..=MOST_ATTEMPTS);
        let Some(listed) = listed else {
            if attempts.is_some() {
                let help = "add `replaces = [\"...\"]`, or leave `attempts` out".to_owned();
                let message = "attempts are counted where parts are replaced";
                table.error(table.span_of("attempts"), message, "replace what?", Some(help));
            }
            return None;
        };
        let mut names: Vec<String> = Vec::new();
        for (name, span) in listed {
            let known = parts.filter(|_| table.is_sound("replaces"));
            if names.contains(&name) {
                let help = "leave one of the two out".to_owned();
                table.error(span, format!("`{name}` is replaced twice"), "listed before", Some(help));
            } else if let Some(parts) = known.filter(|parts| !parts.contains(&name)) {
                let help = suggest::instead_of(&name, parts.iter().map(String::as_str));
                table.error(
                    span,
                    format!("there is no block `{name}` to replace"),
                    "not a block",
                    Some(help),
                );
            }
            names.push(name);
        }
        Some(Replacing { names, attempts: attempts.unwrap_or(1) as u32 })
    }
}

impl Default for Price {
    fn default() -> Price {
        Price::of(0.0)
    }
}

impl Price {
    /// Keys of a price that is a table.
    pub(super) const KEYS: [&'static str; 3] = ["value", "from", "to"];

    /// A number without a range.
    pub fn of(value: f64) -> Price {
        Price { value, range: None }
    }

    /// Reads a number, or `{ value = 2.4, from = 1.8, to = 3.2 }`; `None` where the key is absent.
    fn read(parent: &Table, key: &str, check: Check) -> Option<Price> {
        parent.expects(key, || Due::Shared("price".to_owned()));
        parent.expects(key, || Due::Quantity(Dimension::Ratio, check));
        if !parent.is_table(key) {
            return parent.optional_number(key, check).map(Price::of);
        }
        let table = parent.table(key)?;
        let value = table.number("value", check);
        let ends = (table.optional_number("from", check), table.optional_number("to", check));
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
            _ if from >= to => Some(("from", "ends before it begins", "`from` lies below `to`".to_owned())),
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

/// What stands under a name, or else for all that are not named.
fn of_name<'p>(prices: &'p BTreeMap<String, Price>, name: &str) -> Option<&'p Price> {
    prices.get(name).or(prices.get(Cost::EVERY))
}

/// Reads one price for everything, or a table of prices by name; `wrong` tells what is wrong with a name and what would be right.
fn named(
    parent: &Table,
    key: &str,
    wrong: impl Fn(&str, &str) -> Option<(String, String)>,
) -> BTreeMap<String, Price> {
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
