//! What parts and minutes cost.

use crate::io::{
    Check, Count, Dimension, Key, List, Nested, Optional, Or, Quantity, Special, Table, Text, keys, suggest,
};
use crate::study::price::{self, Price, named};
use std::collections::BTreeMap;

/// Prices, in the study's currency, and what is done with units that fail.
#[derive(Clone, Debug)]
pub(crate) struct Cost {
    /// What prices are in: a label, nothing is converted.
    pub currency: String,
    /// Good units that are expected in a year.
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
pub(crate) struct Rework {
    /// How the share that is mended is known.
    pub success: Success,
    /// Bench time of an attempt, but for that of a calibration, s.
    pub seconds: f64,
    /// Parts that an attempt takes.
    pub parts: Price,
}

/// How the share of the failing units that is mended is known.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Success {
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
pub(crate) struct Replacing {
    /// Names of blocks, or [`Replacing::DEAD_CHANNEL`].
    pub names: Vec<String>,
    /// Most attempts for a unit.
    pub attempts: u32,
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

keys! {
    KEYS: "What parts and minutes cost";
    CURRENCY: Text = Key::text("currency", "EUR", "What prices are in; a label, nothing is converted");
    UNITS_A_YEAR: Count = Key::count("units_a_year", 1..=MOST_UNITS, "300", "Good units that are needed in a year");
    CHANNEL: Special = price::key("channel", "40", "Parts of one channel, as they are built in").needed();
    UNIT: Special =
        price::key("unit", "300", "Parts of a unit beside those of its channels; 0 where it is left out");
    REJECTED_PART: Special =
        price::named_key("rejected_part", "3", "What one part that is turned away costs: one price, or one for each source that is inspected");
    GAUGE_MINUTE: Special =
        price::key("gauge_minute", "1", "A minute at the gauge of an inspection; 0 where it is left out");
    BENCH_MINUTE: Special = price::key("bench_minute", "2", "A minute on the bench").needed();
    SET_UP: Special =
        price::named_key("set_up", "500", "What it takes once to have a calibration plan: one price, or one for each plan");
    BENCH_DAY: Or<Quantity, f64> =
        Key::quantity("bench_day", Dimension::Time, Check::Within(DAY.0, DAY.1), "8 h",
            "Time that a bench works in a day; 8 h where it is left out").or(8.0 * 3600.0);
    DAYS_A_YEAR: Or<Quantity, f64> =
        Key::number("days_a_year", Check::Within(1.0, 366.0), "220", "Days that it works in a year; 220 where it is left out").or(220.0);
    SCRAP: Nested = Key::table("scrap", &SCRAPPED, "{ recovered = 60 }");
    REWORK: Nested = Key::table("rework", &REWORKED, "{ success = 0.5, time = \"25 min\", parts = 60 }");
}

/// Key of it in the study.
pub(super) const COST: Key<Nested> =
    Key::table("cost", &KEYS, "{ currency = \"EUR\", units_a_year = 300, channel = 40, bench_minute = 2 }");

keys! {
    SCRAPPED: "What becomes of a unit that fails for good";
    RECOVERED: Special =
        price::key("recovered", "60", "What a unit that is scrapped still brings; 0 where it is left out");
}

keys! {
    REWORKED: "What is done to mend a unit that fails; nothing where it is left out";
    REPLACES: Optional<List<Text>> =
        Key::text("replaces", "[\"jumper\", \"dead_channel\"]",
            "Blocks whose parts an attempt replaces, and whether channels are dead; the unit is then calibrated and judged again").list().optional();
    ATTEMPTS: Optional<Count> =
        Key::count("attempts", 1..=MOST_ATTEMPTS, "2", "Most attempts for a unit, with replaces; 1 where it is left out").optional();
    SUCCESS: Special =
        price::share_key("success", "0.5", "The share of the attempts that end with a good unit, stated in place of replaces");
    TIME: Quantity =
        Key::quantity("time", Dimension::Time, Check::NonNegative, "25 min", "Bench time of an attempt, but for that of a calibration");
    PARTS: Special = price::key("parts", "60", "Parts that an attempt takes; 0 where it is left out");
}

impl Cost {
    /// Key of what is not named.
    pub(crate) const EVERY: &'static str = "";

    /// Keys of prices that may be absent.
    pub(super) const PRICES: [&'static str; 4] =
        [UNIT.name, GAUGE_MINUTE.name, REJECTED_PART.name, SET_UP.name];

    /// Reads `[cost]` of a unit of `channels`; what is wrong with it is recorded.
    pub(super) fn read(table: &Table, channels: usize, names: Names) -> Cost {
        let Names { plans, inspected, parts } = names;
        let required = |key: &Key<Special>| {
            let number = || table.read(&Key::number(key.name, Check::NonNegative, key.example, key.about));
            Price::read(table, key.name, Check::NonNegative).unwrap_or_else(|| Price::of(number()))
        };
        let or_none = |table: &Table, key: &Key<Special>| {
            Price::read(table, key.name, Check::NonNegative).unwrap_or_default()
        };
        let currency = table.read(&CURRENCY);
        if currency.trim().is_empty() && table.is_text(CURRENCY) || currency.chars().any(char::is_control) {
            let help = "a short label, such as \"EUR\" or \"thousand JPY\"".to_owned();
            table.error(table.span_of(CURRENCY), "no currency is named", "empty", Some(help));
        }
        let scrap = table.table(SCRAP);
        let cost = Cost {
            currency,
            units_a_year: table.read(&UNITS_A_YEAR) as f64,
            channel: required(&CHANNEL),
            unit: or_none(table, &UNIT),
            rejected_part: named(table, &REJECTED_PART, |key, at| match inspected {
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
            gauge_minute: or_none(table, &GAUGE_MINUTE),
            bench_minute: required(&BENCH_MINUTE),
            set_up: named(table, &SET_UP, |key, _| {
                let unknown = !plans.iter().any(|of| of == key);
                unknown.then(|| {
                    let help = suggest::instead_of(key, plans.iter().map(String::as_str));
                    (format!("there is no calibration plan `{key}`"), help)
                })
            }),
            recovered: scrap.as_ref().map_or_else(Price::default, |scrap| or_none(scrap, &RECOVERED)),
            rework: table.table(REWORK).map(|table| Rework::read(&table, parts)),
            bench_day: table.read(&BENCH_DAY),
            days_a_year: table.read(&DAYS_A_YEAR),
        };
        let built = channels as f64 * cost.channel.value + cost.unit.value;
        let is_sound = [CHANNEL.name, UNIT.name, SCRAP.name].iter().all(|key| table.is_sound(key));
        if let (Some(scrap), true) = (scrap, is_sound && cost.recovered.value > built) {
            scrap.error(
                scrap.span_of(RECOVERED),
                format!("a scrapped unit brings {}, but its parts cost {built}", cost.recovered.value),
                "more than it is worth new",
                Some(format!("at most {built}, what the parts of a unit cost")),
            );
        }
        cost
    }

    /// What one part of a source costs that is turned away.
    pub(crate) fn rejected_part(&self, source: &str) -> f64 {
        of_name(&self.rejected_part, source).map_or(0.0, |price| price.value)
    }

    /// What it takes once to have a calibration plan; one that does nothing is paid for only where it is named.
    pub(crate) fn set_up(&self, plan: &str, calibrates: bool) -> f64 {
        let price = if calibrates { of_name(&self.set_up, plan) } else { self.set_up.get(plan) };
        price.map_or(0.0, |price| price.value)
    }

    /// Every number that the cost rests on and that can have a range, with its key.
    pub(crate) fn prices_mut(&mut self) -> Vec<(String, &mut Price)> {
        let mut all = vec![
            (CHANNEL.name.to_owned(), &mut self.channel),
            (UNIT.name.to_owned(), &mut self.unit),
            (GAUGE_MINUTE.name.to_owned(), &mut self.gauge_minute),
            (BENCH_MINUTE.name.to_owned(), &mut self.bench_minute),
            ("scrap.recovered".to_owned(), &mut self.recovered),
        ];
        for (key, of) in [(REJECTED_PART.name, &mut self.rejected_part), (SET_UP.name, &mut self.set_up)] {
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
        let stated = Price::read(table, SUCCESS.name, Check::Within(0.0, 1.0));
        let replacing = Replacing::read(table, parts);
        let success = match (stated, replacing) {
            (Some(share), None) => Success::Stated(share),
            (Some(_), Some(replacing)) => {
                let help = "leave `success` out: it is found by building the units again".to_owned();
                let message = "both `success` and `replaces` say how many units are mended";
                table.error(table.span_of(SUCCESS), message, "stated", Some(help));
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
            seconds: table.read(&TIME),
            parts: Price::read(table, PARTS.name, Check::NonNegative).unwrap_or_default(),
        }
    }

    /// What an attempt replaces, where the share that is mended is not stated.
    pub(crate) fn replacing(&self) -> Option<&Replacing> {
        match &self.success {
            Success::Replacing(replacing) => Some(replacing),
            Success::Stated(_) => None,
        }
    }
}

impl Replacing {
    /// Name of what befalls a channel as a whole: replaced with it is whether each channel is dead.
    pub(crate) const DEAD_CHANNEL: &'static str = "dead_channel";

    fn read(table: &Table, parts: Option<&[String]>) -> Option<Replacing> {
        let listed = table.read(&REPLACES);
        let attempts = table.read(&ATTEMPTS);
        let Some(listed) = listed else {
            if attempts.is_some() {
                let help = "add `replaces = [\"...\"]`, or leave `attempts` out".to_owned();
                let message = "attempts are counted where parts are replaced";
                table.error(table.span_of(ATTEMPTS), message, "replace what?", Some(help));
            }
            return None;
        };
        let mut names: Vec<String> = Vec::new();
        for (name, span) in listed {
            let known = parts.filter(|_| table.is_sound(REPLACES));
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

/// What stands under a name, or else for all that are not named.
fn of_name<'p>(prices: &'p BTreeMap<String, Price>, name: &str) -> Option<&'p Price> {
    prices.get(name).or(prices.get(Cost::EVERY))
}
