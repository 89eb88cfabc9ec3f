//! A tolerance as written on a drawing: a nominal value, the distribution of its deviation, and what shares one draw; or two distributions,
//! on two scopes, whose deviations add up.

use crate::io::{Accepts, Key, Nested, Or, Quantity, Span, Special, Table, Word, keys};
use crate::math::scalar;
use crate::random::{DISTRIBUTIONS, Distribution, Inspected, Scope, Stated, Toleranced};

/// How a value deviates from its nominal.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Spread {
    /// Distribution of the deviation, in the unit of the value (SI).
    pub distribution: Distribution,
    /// What shares one draw.
    pub scope: Scope,
}

/// A nominal value and, if it varies, its spread, as a study states them; what units have is a [`Value`](crate::random::Value). SI, or dB for
/// levels.
#[derive(Clone, Debug)]
pub(crate) struct Tolerance {
    /// The value on the drawing.
    pub nominal: f64,
    /// Its spread; `None` where it does not vary.
    pub spread: Option<Spread>,
    /// What adds to that on another scope: from lot to lot, say.
    pub second: Option<Spread>,
    /// What stands between the delivered parts and these, where it is stated.
    pub inspected: Option<Box<Inspected>>,
    /// Place of that in the study file.
    pub inspected_at: Option<Span>,
    /// Places of the two scopes in the study file.
    pub(in crate::random) scopes: [Span; 2],
}

keys! {
    /// Keys of a tolerance but its nominal value and its inspection.
    pub(crate) SPREAD: "", with DISTRIBUTIONS;
    SCOPE: Or<Word<Scope>, Scope> =
        Key::word("scope", "scope", || Scope::KINDS.to_vec(), "channel",
            "What shares one draw: every channel has its own where it is left out").or(Scope::Channel);
    AND: Nested = Key::table("and", &SECOND, "{ normal = { sd = \"0.1 mm\" }, scope = \"lot\" }");
}

keys! {
    SECOND: "A second distribution, on another scope, whose deviations add to the first", with DISTRIBUTIONS;
    SECOND_SCOPE: Word<Scope> =
        Key::word("scope", "scope", || Scope::KINDS.to_vec(), "lot", "What shares one draw of the second distribution");
}

/// Key of the nominal value of a tolerance.
pub(crate) const NOMINAL: Key<Special> =
    Key::special("nominal", || Accepts::Own, "38 mm", "The value on the drawing");

impl Tolerance {
    /// A value without spread.
    pub(crate) fn exact(nominal: f64) -> Tolerance {
        Tolerance {
            nominal,
            spread: None,
            second: None,
            inspected: None,
            inspected_at: None,
            scopes: [0..0, 0..0],
        }
    }

    /// Something that befalls a channel with a probability from 0 to 1, or not: 0 where it does not, see [`Distribution::bernoulli`].
    pub(crate) fn by_chance(probability: f64) -> Tolerance {
        let distribution = Distribution::bernoulli(probability).ok().filter(|_| probability > 0.0);
        let spread = distribution.map(|distribution| Spread { distribution, scope: Scope::Channel });
        Tolerance { spread, ..Tolerance::exact(0.0) }
    }

    /// Reads a tolerance as its parts are delivered: a quantity alone, or `{ nominal = ..., normal = { sd = ... }, scope = "..." }`, to
    /// which `and = { normal = { sd = ... }, scope = "..." }` may add a second distribution. The table comes along, where there is one, as
    /// more may stand in it: how the parts are inspected.
    pub(crate) fn read_delivered<'a>(
        parent: &Table<'a>,
        key: &Key<Toleranced>,
    ) -> (Tolerance, Option<Table<'a>>) {
        let (exact, table) = read_nominal(parent, key);
        let Some(table) = table else { return (exact, None) };
        let of = Stated { dimension: key.takes.dimension.difference(), nominal: exact.nominal };
        let distribution = Distribution::read(&table, &of);
        let scope = table.read(&SCOPE);
        let (second, second_scope) = match read_second(&table, &of, scope) {
            Some((spread, scope)) => (Some(spread), scope),
            None => (None, table.span_of(AND)),
        };
        let scopes = [table.span_of(SCOPE), second_scope];
        let spread = distribution.map(|distribution| Spread { distribution, scope });
        (Tolerance { spread, second, scopes, ..exact }, Some(table))
    }

    /// Reads a tolerance whose scope is not for the study to choose ([`Toleranced::scope`], of a channel unless stated): one distribution, of
    /// parts without an inspection.
    pub(crate) fn read_in_scope(parent: &Table, key: &Key<Toleranced>) -> Tolerance {
        let (exact, table) = read_nominal(parent, key);
        let scope = key.takes.scope.unwrap_or(Scope::Channel);
        let Some(table) = table else { return exact };
        let of = Stated { dimension: key.takes.dimension.difference(), nominal: exact.nominal };
        let spread = Distribution::read(&table, &of).map(|distribution| Spread { distribution, scope });
        Tolerance { spread, ..exact }
    }

    /// True for a tolerance that is exactly zero.
    pub(crate) fn is_zero(&self) -> bool {
        self.spread.is_none() && self.nominal == 0.0
    }

    /// Its spreads, none to two, with the places of their scopes in the study file.
    pub(crate) fn spreads(&self) -> impl Iterator<Item = (&Spread, &Span)> {
        [&self.spread, &self.second]
            .into_iter()
            .zip(&self.scopes)
            .filter_map(|(of, at)| Some((of.as_ref()?, at)))
    }

    /// Standard deviation of the value, 0 where it does not vary.
    pub(crate) fn sd(&self) -> f64 {
        match (&self.spread, &self.second) {
            (None, _) => 0.0,
            (Some(only), None) => only.distribution.sd(),
            (Some(first), Some(second)) => scalar::hypot(first.distribution.sd(), second.distribution.sd()),
        }
    }
}

/// The nominal value of a tolerance, and the table that states more of it, if one does.
fn read_nominal<'a>(parent: &Table<'a>, key: &Key<Toleranced>) -> (Tolerance, Option<Table<'a>>) {
    let Toleranced { dimension, check, nominal, .. } = key.takes;
    let value = |table: &Table, key: &Key<Quantity>| match nominal {
        Some(default) => table.read(&key.or(default)),
        None => table.read(key),
    };
    if !parent.is_table(key) {
        let alone = Key::quantity(key.name, dimension, check, key.example, key.about);
        let is_missing = key.takes.is_required && !parent.has(key);
        let value = if is_missing { parent.read(&alone) } else { value(parent, &alone) };
        return (Tolerance::exact(value), None);
    }
    let Some(table) = parent.table(key) else { return (Tolerance::exact(nominal.unwrap_or(1.0)), None) };
    let of_table = Key::quantity(NOMINAL.name, dimension, check, key.example, NOMINAL.about);
    (Tolerance::exact(value(&table, &of_table)), Some(table))
}

/// Reads `and`, the second distribution of a tolerance whose first has a scope of its own, with the place of its scope.
fn read_second(tolerance: &Table, of: &Stated, first: Scope) -> Option<(Spread, Span)> {
    let table = tolerance.table(AND)?;
    let distribution = Distribution::required(&table, of);
    let scope = table.read(&SECOND_SCOPE);
    if !Distribution::keys().any(|key| tolerance.has(key)) {
        tolerance.error(
            tolerance.span_of(AND),
            "a second distribution without a first",
            "nothing to add to",
            Some("state its distribution and its scope outside of `and`".into()),
        );
    } else if scope == first && table.has(SCOPE) && table.is_sound(SCOPE) && tolerance.is_sound(SCOPE) {
        tolerance.error(
            table.span_of(SCOPE),
            format!("both distributions have scope {}", scope.name()),
            "expected a scope of its own",
            Some("two distributions on one scope are one: add their variances".into()),
        );
    }
    Some((Spread { distribution: distribution?, scope }, table.span_of(SCOPE)))
}
