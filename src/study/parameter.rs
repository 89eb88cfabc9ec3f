//! A value of a study, addressed by the name of its block and its key, and studies with such values changed.

use crate::inspection;
use crate::io::{Document, Place, SourceText, Span, as_toml, suggest};
use crate::random::Distribution;
use crate::study::{Cost, Price};
use std::fmt;

/// The address of a value: the name of a block, a calibration plan or a beam (or a table of the study, of its array or its bench) and
/// keys, joined by points: "shifter.bits", "level and fit.averages", "receiver.noise".
///
/// The key of a distribution may leave the distribution out: "jumper.length.sd" is "jumper.length.normal.sd". A tolerance alone stands for its nominal
/// value, a price with a range for its value. What several things are called is distinguished by the list in front: "block.shifter.bits". A limit is called by its figure,
/// or by its number, counted from 0: "limit.pointing_error.at_most".
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Parameter {
    steps: Vec<String>,
}

/// A parameter and the value that it is given, as on a drawing: "5", "0.2 mm", "null".
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// What is changed.
    pub parameter: Parameter,
    /// To what.
    pub value: String,
}

/// Why a study has no such parameter.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct Lost {
    /// What is wrong.
    pub message: String,
    /// What would be right.
    pub help: String,
}

/// Lists whose items have names.
const NAMED: [&str; 3] = ["block", "calibration", "beam"];

/// Tables whose own tables may be addressed alone.
const OPEN: [&str; 2] = ["array", "bench"];

impl fmt::Display for Parameter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.steps.join("."))
    }
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}={}", self.parameter, self.value)
    }
}

/// Where an address leads.
enum Found<'a> {
    /// To a value.
    Value(Place<'a>),
    /// To a key that is not there yet, in a table that is.
    Absent(Place<'a>, &'a str),
}

impl Parameter {
    /// Reads an address.
    ///
    /// # Errors
    /// A text without steps, or with an empty one.
    pub fn parse(text: &str) -> Result<Parameter, Lost> {
        let steps: Vec<String> = text.split('.').map(|step| step.trim().to_owned()).collect();
        if steps.iter().any(String::is_empty) {
            return Err(Lost {
                message: format!(
                    "`{text}` addresses nothing: a block and a key are expected, such as shifter.bits"
                ),
                help: "shifter.bits".into(),
            });
        }
        Ok(Parameter { steps })
    }

    /// The address of these steps, which may hold points.
    pub fn of(steps: &[&str]) -> Parameter {
        Parameter { steps: steps.iter().map(|step| (*step).to_owned()).collect() }
    }

    /// What stands there, as a drawing has it: a text without its quotes. `None` for a key that may be given but is not, and for
    /// what is no single value.
    ///
    /// # Errors
    /// When the study has no such thing.
    pub fn value(&self, source: &SourceText) -> Result<Option<String>, Lost> {
        let document = Document::parse(source.clone());
        Ok(match self.find(&document)? {
            Found::Value(place) if place.is_table() => price(place).map(|value| value.written().to_owned()),
            Found::Value(place) => {
                let mut items = place.items();
                let place = match (items.next(), items.next()) {
                    (Some(only), None) => only,
                    (Some(_), Some(_)) => return Ok(None),
                    (None, _) => place,
                };
                Some(place.text().unwrap_or(place.written()).to_owned())
            }
            Found::Absent(..) => None,
        })
    }

    fn find<'a>(&'a self, document: &'a Document) -> Result<Found<'a>, Lost> {
        let (mut place, taken) = self.begin(document.place())?;
        for (number, step) in self.steps.iter().enumerate().skip(taken) {
            let so_far = || self.steps[..number].join(".");
            let next = match place.at(step) {
                None => distribution(place).and_then(|(_, distribution)| distribution.at(step)),
                there => there,
            };
            match next {
                Some(next) => place = next,
                None if number + 1 < self.steps.len() || !place.is_table() => {
                    return Err(nothing_at(place, &so_far(), step));
                }
                None => return absent(place, &so_far(), step),
            }
        }
        if let Some((key, distribution)) = distribution(place) {
            // A tolerance stands for its nominal value.
            return match place.at("nominal") {
                Some(nominal) => Ok(Found::Value(nominal)),
                None if distribution.is_table() => Ok(Found::Absent(place, "nominal")),
                None => Err(nothing_at(place, &self.to_string(), key)),
            };
        }
        Ok(Found::Value(place))
    }

    /// Where the first steps lead, and how many they are.
    fn begin<'a>(&self, top: Place<'a>) -> Result<(Place<'a>, usize), Lost> {
        let first = &self.steps[0];
        if let (true, Some(list)) = (first == "limit" || NAMED.contains(&first.as_str()), top.at(first)) {
            return match self.steps.get(1) {
                Some(name) => Ok((item(list, first, name)?, 2)),
                None => Err(Lost {
                    message: format!("`{first}` is a list"),
                    help: format!("add which of them: {first}.NAME.KEY"),
                }),
            };
        }
        let named = NAMED.iter().filter_map(|list| {
            let found = items_named(top.at(list)?, first).next()?;
            Some((format!("{list}.{first}"), found))
        });
        let own = top.at(first).map(|place| (first.clone(), place));
        let inner = OPEN.iter().filter_map(|table| {
            let found = top.at(table)?.at(first)?;
            Some((format!("{table}.{first}"), found))
        });
        let mut found: Vec<(String, Place)> = named.chain(own).chain(inner).collect();
        match found.len() {
            1 => Ok((found.remove(0).1, 1)),
            0 if self.steps.len() == 1 => Ok((top, 0)),
            0 => Err(Lost {
                message: format!("the study has no `{first}`, which `{self}` begins with"),
                help: suggest::instead_of(first, names(top).iter().copied()),
            }),
            _ => {
                let rest: String = self.steps[1..].iter().map(|step| format!(".{step}")).collect();
                let all: Vec<String> = found.iter().map(|(full, _)| format!("{full}{rest}")).collect();
                Err(Lost {
                    message: format!("several things are called `{first}`"),
                    help: format!("write which: {}", all.join(" or ")),
                })
            }
        }
    }
}

/// Everything that an address may begin with.
fn names<'a>(top: Place<'a>) -> Vec<&'a str> {
    let named = NAMED.iter().filter_map(|list| top.at(list)).flat_map(|list| list.items());
    let named = named.filter_map(|item| item.at("name")?.text());
    let open = OPEN.iter().filter_map(|table| top.at(table)).flat_map(|table| table.keys());
    let own = top.keys().filter(|key| !NAMED.contains(key));
    named.chain(open).chain(own).collect()
}

fn items_named<'a>(list: Place<'a>, name: &str) -> impl Iterator<Item = Place<'a>> {
    list.items().filter(move |item| item.at("name").and_then(|name| name.text()) == Some(name))
}

/// An item of a list by its name; of the limits by its figure or its number.
fn item<'a>(list: Place<'a>, key: &str, name: &str) -> Result<Place<'a>, Lost> {
    let word = if key == "limit" { "figure" } else { "name" };
    let called = |item: &Place<'a>| item.at(word).and_then(|of| of.text());
    let found: Vec<Place> = list.items().filter(|item| called(item) == Some(name)).collect();
    let by_number = || name.parse().ok().and_then(|number: usize| list.items().nth(number));
    match found.as_slice() {
        [only] => Ok(*only),
        [] => by_number().filter(|_| key == "limit").ok_or_else(|| Lost {
            message: format!("the study has no {key} `{name}`"),
            help: suggest::instead_of(
                name,
                list.items().filter_map(|item| called(&item)).collect::<Vec<_>>().iter().copied(),
            ),
        }),
        _ => Err(Lost {
            message: format!("the study has {} of {key} `{name}`", found.len()),
            help: format!("write its number, counted from 0 over all: {key}.0"),
        }),
    }
}

/// The distribution of a tolerance, if one stands at a place.
fn distribution<'a>(place: Place<'a>) -> Option<(&'static str, Place<'a>)> {
    Distribution::keys().find_map(|key| Some((key, place.at(key)?)))
}

/// The value of a price that states its range. A number in its place is one without a range.
fn price(place: Place) -> Option<Place> {
    let is_price = place.keys().all(|key| Price::KEYS.contains(&key));
    place.at("value").filter(|_| is_price)
}

fn absent<'a>(place: Place<'a>, so_far: &str, step: &'a str) -> Result<Found<'a>, Lost> {
    let is_tolerance = distribution(place).is_some() || place.at("nominal").is_some();
    // A tolerance may have an inspection; what looks like a slip is not a key that was left out.
    let is_tolerance = is_tolerance && step != inspection::KEY;
    // `unit` of the prices looks like a slip of `units_a_year`.
    let is_price = so_far == "cost" && Cost::PRICES.contains(&step);
    if is_tolerance || !is_price && suggest::closest(step, place.keys()).is_some() {
        return Err(nothing_at(place, so_far, step));
    }
    Ok(Found::Absent(place, step))
}

fn nothing_at(place: Place, so_far: &str, step: &str) -> Lost {
    if so_far.is_empty() {
        let help = suggest::instead_of(step, names(place).iter().copied());
        return Lost { message: format!("the study has no `{step}`"), help };
    }
    let message = format!("`{so_far}` has no `{step}`");
    let help = match distribution(place) {
        Some((key, distribution)) => {
            let keys: Vec<&str> = place.keys().chain(distribution.keys()).filter(|of| *of != key).collect();
            let instead = suggest::instead_of(step, keys.iter().copied());
            format!("its distribution is {}; {instead}", key.replace('_', " "))
        }
        None if place.is_table() => {
            suggest::instead_of(step, place.keys().collect::<Vec<_>>().iter().copied())
        }
        None => format!(
            "it is {} and does not vary: give it a distribution, such as {{ nominal = {}, normal = {{ sd = ... }} }}",
            place.written(),
            place.written()
        ),
    };
    Lost { message, help }
}

/// A study with values changed, one after the other. The values are not judged: the study's reader does that.
///
/// # Errors
/// When the study has no such parameter, or cannot be written into there.
pub(crate) fn change(source: &SourceText, changes: &[Change]) -> Result<SourceText, Lost> {
    let mut source = source.clone();
    for Change { parameter, value } in changes {
        let document = Document::parse(source.clone());
        if document.is_broken() {
            // The study's reader says what is wrong with it.
            return Ok(source);
        }
        let toml = as_toml(value.trim());
        source = match parameter.find(&document)? {
            Found::Value(place) if place.is_list() && !toml.starts_with('[') => {
                place.over(&format!("[{toml}]"))
            }
            Found::Value(place) if place.is_table() && !toml.starts_with('{') && price(place).is_none() => {
                let keys: Vec<String> = place.keys().map(|key| format!("{parameter}.{key}")).collect();
                return Err(Lost {
                    message: format!("`{parameter}` is no single value"),
                    help: format!("one of {}", keys.join(", ")),
                });
            }
            Found::Value(place) => place.over(&toml),
            Found::Absent(place, key) => place.with(key, &toml).ok_or_else(|| Lost {
                message: format!("nothing can be added where `{parameter}` would stand"),
                help: "write it into the study".into(),
            })?,
        };
    }
    Ok(source)
}

/// Where the values of changes stand in the study that [`change`] made of another, each with its key where that was added. What
/// cannot be found again stands anywhere.
pub(crate) fn places(before: &SourceText, changed: &SourceText, changes: &[Change]) -> Vec<Span> {
    let (before, after) = (Document::parse(before.clone()), Document::parse(changed.clone()));
    let place = |Change { parameter, .. }: &Change| match parameter.find(&after) {
        Ok(Found::Value(place)) if !after.is_broken() => {
            let Span { start, end } = place.span();
            let added = match parameter.find(&before) {
                Ok(Found::Absent(_, key)) => key.len() + " = ".len(),
                _ => 0,
            };
            start.saturating_sub(added)..end
        }
        _ => 0..changed.text.len(),
    };
    changes.iter().map(place).collect()
}

#[cfg(test)]
mod tests;
