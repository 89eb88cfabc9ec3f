//! The variable of a search: one value of a study, or a factor on several.

use super::span::significant;
use crate::io::Amount;
use crate::study::{Change, Parameter};

/// The variable of a search.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum SearchVariable {
    /// One parameter; the amount has its unit.
    Value(Parameter, Amount),
    /// Several parameters, each its value in the study times a factor.
    Factor(Vec<(Parameter, Amount)>),
}

impl SearchVariable {
    /// The changes that set the study to a value, or to a factor.
    pub(crate) fn changes(&self, value: f64) -> Vec<Change> {
        self.amounts(value)
            .into_iter()
            .map(|(parameter, amount)| Change { parameter: parameter.clone(), value: amount.to_string() })
            .collect()
    }

    /// Each parameter at a value, or at a factor.
    pub(crate) fn amounts(&self, value: f64) -> Vec<(&Parameter, Amount)> {
        match self {
            SearchVariable::Value(parameter, amount) => vec![(parameter, amount.with(value))],
            SearchVariable::Factor(all) => {
                let at = |amount: &Amount| amount.with(significant(value * amount.number));
                all.iter().map(|(parameter, amount)| (parameter, at(amount))).collect()
            }
        }
    }

    /// A value with its unit, or a factor.
    pub(crate) fn text(&self, value: f64) -> String {
        match self {
            SearchVariable::Value(_, amount) => amount.with(value).to_string(),
            SearchVariable::Factor(_) => Amount { number: value, unit: String::new() }.to_string(),
        }
    }

    /// The unit of the value; empty for a number and for a factor.
    pub(crate) fn unit(&self) -> &str {
        match self {
            SearchVariable::Value(_, amount) => &amount.unit,
            SearchVariable::Factor(_) => "",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(parameter: &str, amount: &str) -> (Parameter, Amount) {
        (Parameter::parse(parameter).unwrap(), Amount::parse(amount).unwrap())
    }

    #[test]
    fn a_value_stands_as_it_is_and_a_factor_on_each() {
        let (parameter, amount) = of("jumper.length.sd", "0.25 mm");
        let value = SearchVariable::Value(parameter, amount);
        assert_eq!(value.changes(0.3)[0].to_string(), "jumper.length.sd=0.3 mm");
        assert_eq!((value.text(0.3).as_str(), value.unit()), ("0.3 mm", "mm"));
        let factor =
            SearchVariable::Factor(vec![of("jumper.length.sd", "0.25 mm"), of("shifter.loss.sd", "0.3 dB")]);
        let changes: Vec<String> = factor.changes(1.23).iter().map(|change| change.to_string()).collect();
        assert_eq!(changes, ["jumper.length.sd=0.3075 mm", "shifter.loss.sd=0.369 dB"]);
        assert_eq!((factor.text(1.23).as_str(), factor.unit()), ("1.23", ""));
    }
}
