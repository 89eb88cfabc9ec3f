//! Parameters of one part that vary together.

use crate::io::{Accepts, Check, Key, List, Quantity, Special, Table, Text, keys, suggest};
use crate::random::{Scope, Tolerance};

/// A parameter that a correlation can name.
pub(crate) struct Parameter<'a> {
    /// Its key in the study file.
    pub key: &'static str,
    /// The tolerance itself.
    pub tolerance: &'a Tolerance,
    /// Independent draws for each channel.
    pub slots: usize,
}

/// Parameters whose normal scores are correlated: a Gaussian copula, so every parameter keeps its own distribution.
///
/// The scores are L e, where L L^T (Cholesky) is the matrix of the coefficients and e are the independent scores of the
/// parameters' own draws. So the first parameter keeps its draws, and the coefficient between two normal parameters is
/// that of their values; between others it is that of the scores.
///
/// Source: Nelsen, An Introduction to Copulas (2006), section 2.3 (from memory).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Correlation {
    /// Keys of the parameters, in the order they are first named.
    pub keys: Vec<&'static str>,
    /// Two parameters, by number, and their coefficient.
    pub pairs: Vec<(usize, usize, f64)>,
    /// L, the rows up to the diagonal.
    pub(in crate::random) factor: Vec<Vec<f64>>,
}

keys! {
    KEYS: "A pair of parameters that vary together";
    BETWEEN: List<Text> =
        Key::text("between", "[\"length\", \"attenuation\"]", "The two parameters, by their keys").list();
    COEFFICIENT: Quantity =
        Key::number("coefficient", Check::Within(-1.0, 1.0), "0.5", "Correlation of their normal scores");
}

/// Key of the correlations of a block.
pub(crate) const CORRELATION: Key<Special> = Key::special(
    "correlation",
    || Accepts::List(Box::new(Accepts::Shared("correlation", &KEYS))),
    "[{ between = [\"length\", \"attenuation\"], coefficient = 0.5 }]",
    "Pairs of parameters of the block that vary together",
);

impl Correlation {
    /// Reads `correlation = [{ between = ["...", "..."], coefficient = 0.6 }]` of a table with these parameters: a
    /// correlation for each set of parameters that hang together.
    pub(crate) fn read(table: &Table, parameters: &[Parameter]) -> Vec<Correlation> {
        let mut pairs: Vec<(usize, usize, f64)> = Vec::new();
        for entry in table.tables(CORRELATION) {
            let coefficient = entry.read(&COEFFICIENT);
            let Some((a, b)) = read_pair(table, &entry, parameters) else { continue };
            if pairs.iter().any(|(c, d, _)| (*c, *d) == (a, b) || (*d, *c) == (a, b)) {
                let help = "leave one of the two out";
                entry.error(
                    entry.span_of(BETWEEN),
                    "a pair stands twice",
                    "listed before",
                    Some(help.into()),
                );
            }
            pairs.push((a, b, coefficient));
        }
        if !table.is_sound(CORRELATION) {
            return Vec::new();
        }
        let sets = sets(&pairs);
        let made = sets.into_iter().filter_map(|set| Correlation::new(&set, &pairs, parameters));
        let made: Vec<Correlation> = made.collect();
        if made.iter().map(|of| of.pairs.len()).sum::<usize>() < pairs.len() {
            table.error(
                table.span_of(CORRELATION),
                "no parts can be correlated like this",
                "the matrix of the coefficients is not positive definite",
                Some("coefficients nearer to zero: what goes with a third thing both ways goes together itself".into()),
            );
        }
        made
    }

    /// `None` when the matrix of the coefficients is not positive definite.
    fn new(set: &[usize], pairs: &[(usize, usize, f64)], parameters: &[Parameter]) -> Option<Correlation> {
        let place = |of: usize| set.iter().position(|member| *member == of);
        let within =
            pairs.iter().filter_map(|(a, b, coefficient)| Some((place(*a)?, place(*b)?, *coefficient)));
        let pairs: Vec<(usize, usize, f64)> = within.collect();
        let mut matrix = vec![vec![0.0; set.len()]; set.len()];
        for (a, b, coefficient) in &pairs {
            matrix[*a.max(b)][*a.min(b)] = *coefficient;
        }
        let keys = set.iter().map(|member| parameters[*member].key).collect();
        Some(Correlation { keys, pairs, factor: cholesky(&matrix)? })
    }
}

/// The two parameters that an entry names; `None` after an error.
fn read_pair(table: &Table, entry: &Table, parameters: &[Parameter]) -> Option<(usize, usize)> {
    let names = entry.read(&BETWEEN);
    if !entry.is_sound(BETWEEN) || !entry.has(BETWEEN) {
        return None;
    }
    let refuse = |message: String, label: &str, help: String| {
        entry.error(entry.span_of(BETWEEN), message, label, Some(help));
        None
    };
    let [(first, _), (second, _)] = names.as_slice() else {
        return refuse(
            format!("`between` names {} parameters", names.len()),
            "expected two",
            "write, for example, `between = [\"length\", \"attenuation\"]`, and an entry for each pair"
                .into(),
        );
    };
    let mut found = Vec::new();
    for (name, span) in &names {
        let Some(number) = parameters.iter().position(|of| of.key == name) else {
            let help = suggest::instead_of(name, parameters.iter().map(|of| of.key));
            entry.error(
                span.clone(),
                format!("this part has no parameter `{name}`"),
                "not a parameter",
                Some(help),
            );
            continue;
        };
        let tolerance = parameters[number].tolerance;
        if !table.is_sound(name) {
            // What was read of it is a stand-in, which says nothing about the distribution that is meant.
            continue;
        }
        if tolerance.spread.is_none() {
            let help = "give it a distribution, or leave the correlation out".into();
            entry.error(span.clone(), format!("`{name}` does not vary"), "nothing to correlate", Some(help));
        } else if tolerance.inspected.is_some() {
            let help = "leave out the inspection, or the correlation".into();
            entry.error(
                span.clone(),
                format!("`{name}` is inspected: parts turned away by it take what goes with it along"),
                "correlated and inspected",
                Some(help),
            );
        } else if tolerance.second.is_some() {
            let help = "correlate parameters that have one distribution each".into();
            entry.error(
                span.clone(),
                format!("`{name}` is drawn on two scopes"),
                "which of the two?",
                Some(help),
            );
        } else {
            found.push(number);
        }
    }
    let [a, b] = found.as_slice() else { return None };
    let of = |number: usize| &parameters[number];
    let scope =
        |number: usize| of(number).tolerance.spread.as_ref().map_or(Scope::Channel, |spread| spread.scope);
    if a == b {
        return refuse(
            format!("`{first}` with itself"),
            "expected two parameters",
            "name another one".into(),
        );
    }
    if scope(*a) != scope(*b) {
        return refuse(
            format!("`{first}` has scope {}, `{second}` has scope {}", scope(*a).name(), scope(*b).name()),
            "drawn for different things",
            "the same scope for both".into(),
        );
    }
    if of(*a).slots != of(*b).slots {
        return refuse(
            format!("`{first}` has {} draws in each channel, `{second}` has {}", of(*a).slots, of(*b).slots),
            "drawn for different things",
            "parameters that are drawn alike: both for each bit, both for each state, or both once".into(),
        );
    }
    Some((*a, *b))
}

/// The sets of parameters that pairs join, each in the order of first naming.
fn sets(pairs: &[(usize, usize, f64)]) -> Vec<Vec<usize>> {
    let mut sets: Vec<Vec<usize>> = Vec::new();
    for (a, b, _) in pairs {
        let (joined, rest): (Vec<_>, Vec<_>) =
            sets.into_iter().partition(|set| set.contains(a) || set.contains(b));
        let mut set: Vec<usize> = joined.concat();
        for member in [*a, *b] {
            if !set.contains(&member) {
                set.push(member);
            }
        }
        sets = rest;
        sets.push(set);
    }
    sets
}

/// What is left of a diagonal element below this is rounding: the parameter follows from those before it.
const NOTHING: f64 = 1e-12;

/// The lower triangular L with L L^T = the matrix of ones on the diagonal and the given elements below it; `None` when there
/// is none. Coefficients of exactly 1 and -1 are fine.
fn cholesky(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let mut factor: Vec<Vec<f64>> = Vec::new();
    for (i, elements) in matrix.iter().enumerate() {
        let mut row = Vec::new();
        for j in 0..i {
            let above: &[f64] = &factor[j];
            let rest = elements[j] - row.iter().zip(above).map(|(a, b): (&f64, &f64)| a * b).sum::<f64>();
            let pivot = above[j];
            if pivot == 0.0 && rest * rest > NOTHING {
                return None;
            }
            row.push(if pivot == 0.0 { 0.0 } else { rest / pivot });
        }
        let rest = 1.0 - row.iter().map(|x| x * x).sum::<f64>();
        if rest < -NOTHING {
            return None;
        }
        row.push(if rest < NOTHING { 0.0 } else { rest.sqrt() });
        factor.push(row);
    }
    Some(factor)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_factor_is_that_of_the_matrix() {
        // NumPy 2.4.6, linalg.cholesky([[1, .6, -.3], [.6, 1, .2], [-.3, .2, 1]]).
        let factor = cholesky(&[vec![], vec![0.6], vec![-0.3, 0.2]]).unwrap();
        let expected = [vec![1.0], vec![0.6, 0.8], vec![-0.3, 0.475, 0.827_269_605_388_714_9]];
        for (found, expected) in factor.iter().flatten().zip(expected.iter().flatten()) {
            assert!((found - expected).abs() < 1e-15, "{found} not {expected}");
        }
    }

    #[test]
    fn full_correlation_is_a_factor_and_contradiction_is_none() {
        assert_eq!(cholesky(&[vec![], vec![-1.0]]), Some(vec![vec![1.0], vec![-1.0, 0.0]]));
        assert_eq!(cholesky(&[vec![], vec![1.0], vec![1.0, 1.0]]).map(|of| of.len()), Some(3));
        // Two that follow a third closely cannot oppose each other.
        assert_eq!(cholesky(&[vec![], vec![0.9], vec![0.9, -0.9]]), None);
        assert_eq!(cholesky(&[vec![], vec![1.0], vec![0.5, -0.5]]), None);
    }

    #[test]
    fn pairs_that_share_a_parameter_are_one_set() {
        assert_eq!(sets(&[(3, 1, 0.1), (0, 2, 0.1), (2, 3, 0.1)]), [vec![3, 1, 0, 2]]);
        assert_eq!(sets(&[(3, 1, 0.1), (0, 2, 0.1)]), [vec![3, 1], vec![0, 2]]);
    }
}
