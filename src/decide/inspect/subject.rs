//! The study of one setting: a supplier's parts and a gauge, with the tried acceptance written into it.

use super::{Form, GaugeAs, Parts, Setting, reach::reach};
use crate::decide::{Span, significant};
use crate::design::{Checked, Design, StudyError};
use crate::io::quantity::{format, parse};
use crate::io::{Amount, Dimension, suggest};
use crate::model::Model;
use crate::random::{Gauge, Inspected, Source, Window};
use crate::study::{Change, Parameter};
use std::fmt;

/// A study of one setting.
#[derive(Clone)]
pub(super) struct Subject {
    pub setting: Setting,
    pub design: Design,
}

/// Standard deviations that include every part.
const FAR: f64 = 1e3;

/// The notation of a source's acceptance in the study.
#[derive(Clone, Debug)]
pub(crate) struct Notation {
    /// The source.
    pub source: String,
    /// The kind of its deviations.
    pub dimension: Dimension,
    /// The form of the acceptance, for every size.
    pub form: Form,
    /// The unit of its sizes; the number has no meaning.
    pub unit: Amount,
    /// That unit in SI.
    pub one: f64,
    /// Whether the study writes the acceptance as a table.
    is_table: bool,
}

/// A source of a model by its name.
fn find<'p>(model: &'p Model, name: &str) -> Option<&'p Source> {
    model.sources.list().iter().find(|source| source.name == name)
}

/// A source of a study that an inspection can apply to.
///
/// # Errors
/// When the study has no such source.
pub(super) fn source(design: &Design, name: &str) -> Checked<Source> {
    let model = design.model();
    if let Some(source) = find(&model, name) {
        return Ok(source.clone());
    }
    // The second distribution of a tolerance is no part's own.
    let names =
        model.sources.list().iter().map(|source| source.name.as_str()).filter(|name| !name.contains(", "));
    let names: Vec<&str> = names.collect();
    if names.is_empty() {
        return Err(design.refuse(
            format!("there is no source `{name}`: nothing in the study varies"),
            "give a tolerance a distribution, such as `length = { nominal = \"60 mm\", normal = { sd = \"0.1 mm\" } }`",
        ));
    }
    let help = suggest::instead_of(name, names.iter().copied());
    Err(design.refuse(format!("there is no source `{name}` that varies"), help))
}

impl Notation {
    /// Of a source: from the given acceptance, else from the study, else two-sided about 0 in a unit that suits the parts.
    pub(super) fn of(design: &Design, source: &Source, given: Option<&Acceptance>) -> Notation {
        let dimension = source.dimension.difference();
        let at = |key: &str| value_at(design, &format!("{}.{key}", source.name));
        let stated = ["inspection.accept", "inspection.tolerance", "inspection.gauge.sd", "sd", "half_width"];
        let stated = stated.into_iter().filter_map(at).filter_map(|text| Amount::parse(&text));
        let given_amount = given.map(|of| of.amount().clone());
        let fitting = |amount: &Amount| parse(&amount.with(1.0).to_string(), dimension).is_ok();
        let suiting = Amount::parse(&format(source.distribution.sd(), dimension));
        let unit = given_amount.into_iter().chain(stated).find(fitting).or(suiting);
        let unit = unit.unwrap_or(Amount { number: 1.0, unit: String::new() }).with(1.0);
        let one = parse(&unit.to_string(), dimension).unwrap_or(1.0);
        let inspection = source.inspected.as_ref().map(|of| &of.inspection);
        let window = inspection.and_then(|of| of.accept.or(of.tolerance));
        let form = window.map_or(Form::Around(0.0), |window| Form::of(window, one));
        let is_table = at("inspection.accept.from").or(at("inspection.accept.to")).is_some();
        Notation { source: source.name.clone(), dimension, form, unit, one, is_table }
    }

    /// A size with its unit.
    pub(super) fn amount(&self, size: f64) -> Amount {
        self.unit.with(size)
    }

    /// The acceptance of a size as TOML.
    pub(super) fn written(&self, size: f64) -> String {
        self.written_as(self.form, &self.amount(size))
    }

    /// The same for any form and unit.
    fn written_as(&self, form: Form, size: &Amount) -> String {
        let written = form.written(size);
        if self.is_table && !written.starts_with('{') {
            return format!("{{ from = \"{}\", to = {written} }}", size.with(-size.number));
        }
        written
    }

    /// The study with an acceptance, given as TOML.
    pub(super) fn with(&self, design: &Design, written: &str) -> Checked<Design> {
        self.changed(design, self.accepting(design, written))
    }

    /// The change that writes an acceptance into a study.
    fn accepting(&self, design: &Design, written: &str) -> Change {
        let is_there = find(&design.model(), &self.source).is_some_and(|source| source.inspected.is_some());
        if is_there {
            self.change("inspection.accept", written.to_owned())
        } else {
            self.change("inspection", format!("{{ accept = {written} }}"))
        }
    }

    /// The study with another spread of the gauge.
    pub(super) fn with_gauge_sd(&self, design: &Design, sd: &str) -> Checked<Design> {
        let is_there = find(&design.model(), &self.source).is_some_and(|source| source.inspected.is_some());
        let has_gauge = self.parameter("inspection.gauge.sd").value(&design.source).is_ok();
        let change = match (is_there, has_gauge) {
            (false, _) => self.change("inspection", format!("{{ gauge = {{ sd = \"{sd}\" }} }}")),
            (true, false) => self.change("inspection.gauge", format!("{{ sd = \"{sd}\" }}")),
            (true, true) => self.change("inspection.gauge.sd", sd.to_owned()),
        };
        self.changed(design, change)
    }

    /// The study with bias and spread of the gauge times a factor.
    pub(super) fn with_gauge_times(&self, design: &Design, factor: f64) -> Checked<Design> {
        let mut design = design.clone();
        for key in ["inspection.gauge.sd", "inspection.gauge.bias"] {
            let own = value_at(&design, &format!("{}.{key}", self.source));
            if let Some(own) = own.and_then(|text| Amount::parse(&text)) {
                let change = self.change(key, own.with(factor * own.number).to_string());
                design = self.changed(&design, change)?;
            }
        }
        Ok(design)
    }

    fn parameter(&self, key: &str) -> Parameter {
        // A source's name has no empty step.
        Parameter::parse(&format!("{}.{key}", self.source))
            .unwrap_or_else(|_| unreachable!("steps of a name"))
    }

    fn change(&self, key: &str, value: String) -> Change {
        Change { parameter: self.parameter(key), value }
    }

    fn changed(&self, design: &Design, change: Change) -> Checked<Design> {
        design.with(std::slice::from_ref(&change))
    }
}

/// The value at an address of a study, if it is a single value.
fn value_at(design: &Design, address: &str) -> Option<String> {
    Parameter::parse(address).ok()?.value(&design.source).ok()?
}

impl Subject {
    /// The inspection of its parts, and the number of values of each; where the study states none, an inspection that takes all parts.
    pub(super) fn inspected(&self, notation: &Notation) -> Checked<(Inspected, usize)> {
        let own = source(&self.design, &notation.source)?;
        let far = FAR * (own.distribution.sd() + own.distribution.mean().abs()) / notation.one;
        let all =
            notation.written_as(Form::Around(0.0), &notation.amount(significant(far).max(f64::MIN_POSITIVE)));
        let own = match own.inspected {
            Some(_) => own,
            None => source(&notation.with(&self.design, &all)?, &notation.source)?,
        };
        let slots = own.slots;
        own.inspected.map(|inspected| (*inspected, slots)).ok_or_else(|| self.hardly_varies(notation))
    }

    fn hardly_varies(&self, notation: &Notation) -> StudyError {
        self.design.refuse(
            format!("the parts of `{}` hardly vary: there is no limit to seek", notation.source),
            "give its distribution a spread, or give a limit by --accept",
        )
    }

    /// The range of acceptances for a search.
    pub(super) fn reach(&self, notation: &Notation) -> Checked<Span> {
        let (inspected, values) = self.inspected(notation)?;
        reach(&inspected, values, notation.form, notation.one).ok_or_else(|| self.hardly_varies(notation))
    }

    /// The model with its parts as delivered.
    pub(super) fn without(&self, notation: &Notation) -> Model {
        let mut design = self.design.clone();
        design.take_as_delivered(&notation.source);
        design.model()
    }

    /// The model with an acceptance of a size; as stated without one.
    pub(super) fn model(&self, notation: &Notation, size: Option<f64>) -> Checked<Model> {
        match size {
            Some(size) => Ok(notation.with(&self.design, &notation.written(size))?.model()),
            None => Ok(self.design.model()),
        }
    }

    /// The same, or why the study cannot have an acceptance of this size.
    pub(super) fn model_if_sound(&self, notation: &Notation, size: Option<f64>) -> Checked<Checked<Model>> {
        let Some(size) = size else { return Ok(Ok(self.design.model())) };
        let change = notation.accepting(&self.design, &notation.written(size));
        Ok(self.design.with_if_sound(std::slice::from_ref(&change))?.map(|design| design.model()))
    }

    /// The effect on its parts, where the inspection has one.
    pub(super) fn parts(&self, notation: &Notation, model: &Model) -> Option<Parts> {
        Parts::of(model, &notation.source).filter(|parts| parts.inspected.inspection.is_in_place())
    }
}

/// An acceptance on the command line.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Acceptance {
    /// Two-sided, or on the one side that the study limits.
    Size(Amount),
    /// From one deviation to another.
    Between(Amount, Amount),
}

impl Acceptance {
    fn amount(&self) -> &Amount {
        match self {
            Acceptance::Size(amount) => amount,
            Acceptance::Between(_, to) => to,
        }
    }

    /// The acceptance as TOML.
    pub(super) fn written(&self, notation: &Notation) -> String {
        match self {
            Acceptance::Size(size) => {
                // A given size is two-sided about 0, whatever the study's middle is.
                let form =
                    if let Form::Around(_) = notation.form { Form::Around(0.0) } else { notation.form };
                notation.written_as(form, size)
            }
            Acceptance::Between(from, to) => format!("{{ from = \"{from}\", to = \"{to}\" }}"),
        }
    }
}

impl fmt::Display for Acceptance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Acceptance::Size(size) => write!(f, "{size}"),
            Acceptance::Between(from, to) => write!(f, "{from}..{to}"),
        }
    }
}

/// All settings of a study: its own parts and gauge first.
pub(super) fn settings(own: Design, notation: &Notation) -> Checked<Vec<Subject>> {
    let of = |supplier: Option<&str>, gauge, design| Subject {
        setting: Setting { supplier: supplier.map(str::to_owned), gauge },
        design,
    };
    let inspected = source(&own, &notation.source)?.inspected;
    let is_exact = inspected.is_none_or(|of| of.inspection.gauge == Gauge::default());
    let mut all = vec![of(None, GaugeAs::Stated, own.clone())];
    if !is_exact {
        // A guard band that depends on the gauge's error may vanish or leave no acceptance with such a gauge: then the study refuses it.
        for (gauge, factor) in [(GaugeAs::Exact, 0.0), (GaugeAs::TwiceAsBad, 2.0)] {
            all.extend(notation.with_gauge_times(&own, factor).ok().map(|design| of(None, gauge, design)));
        }
    }
    for offer in &own.study.offers {
        let design = own.offered(offer)?;
        source(&design, &notation.source)?;
        all.push(of(Some(&offer.name), GaugeAs::Stated, design));
    }
    Ok(all)
}

/// The acceptance of a source, if any.
pub(super) fn acceptance(design: &Design, source: &str) -> Option<Window> {
    find(&design.model(), source)?.inspected.as_ref()?.inspection.accept
}
