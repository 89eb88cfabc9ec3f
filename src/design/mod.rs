//! A design: the text of a study with changes and options, read again after every change, and compiled when its model is needed.
//!
//! Nothing here is printed: errors are data.

mod error;

pub use error::DesignError;
pub use error::NoSoundValue;
pub use error::StudyError;
pub(crate) use error::{Checked, Result};

use crate::bench::Calibration;
use crate::figure::Figure;
use crate::io::{Diagnostic, SourceText, Span, suggest};
use crate::model::{self, Model, compile};
use crate::study::{self, Change, Offer, Study, Trials};
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

/// Compiles a model, and may show meanwhile what is done.
pub(crate) type ShowCompiling = fn(what: &str, compile: &dyn Fn() -> Model) -> Model;

/// A study with changes and options.
#[derive(Clone)]
pub(crate) struct Design {
    /// The text with all changes.
    pub source: SourceText,
    /// The study of that text, with the options.
    pub study: Study,
    options: Options,
    /// The files beside the study that were read, with any of its values.
    read: Arc<Mutex<BTreeSet<PathBuf>>>,
    show_compiling: ShowCompiling,
}

/// Options that hold through all changes of values.
#[derive(Clone, Default)]
struct Options {
    as_built: bool,
    calibration: Option<String>,
    seed: Option<u64>,
    trials: Option<Trials>,
    confidence: Option<f64>,
    figure: Option<Figure>,
    delivered: Option<String>,
}

impl Design {
    /// Reads a text.
    ///
    /// # Errors
    /// All that is wrong with it.
    pub(crate) fn read(source: SourceText) -> Checked<Design> {
        match study::parse(&source) {
            Ok(study) => Ok(Design::new(source, study, Arc::default(), |_, compile| compile())),
            Err(findings) => Err(StudyError { source, findings, changes: Vec::new() }),
        }
    }

    fn new(
        source: SourceText,
        study: Study,
        read: Arc<Mutex<BTreeSet<PathBuf>>>,
        show_compiling: ShowCompiling,
    ) -> Design {
        let design = Design { source, study, options: Options::default(), read, show_compiling };
        design.note(design.study.companions.iter().chain(&design.study.of_offers));
        design
    }

    /// The same design, which shows when it compiles a model.
    pub(crate) fn showing(self, show_compiling: ShowCompiling) -> Design {
        Design { show_compiling, ..self }
    }

    /// The same study with values changed, and with the same options.
    ///
    /// # Errors
    /// When it cannot have these values.
    pub(crate) fn with(&self, changes: &[Change]) -> Checked<Design> {
        self.with_if_sound(changes)?
    }

    /// The same, or why the study cannot have these values.
    ///
    /// # Errors
    /// An address that leads nowhere and a value of another kind or unit, or an unknown word: errors in how the change is written.
    pub(crate) fn with_if_sound(&self, changes: &[Change]) -> Checked<Checked<Design>> {
        if changes.is_empty() {
            return Ok(Ok(self.clone()));
        }
        let source =
            study::change(&self.source, changes).map_err(|lost| self.refuse(lost.message, lost.help))?;
        let study = match study::parse(&source) {
            Ok(study) => study,
            Err(findings) => {
                self.note(findings.iter().filter_map(|found| found.other.as_ref()));
                let is_slip = is_slip(&findings, &study::places(&self.source, &source, changes));
                let refused = StudyError { source, findings, changes: changes.to_vec() };
                return if is_slip { Err(refused) } else { Ok(Err(refused)) };
            }
        };
        let mut design = Design::new(source, study, self.read.clone(), self.show_compiling);
        let Options { as_built, calibration, seed, trials, confidence, figure, delivered } = &self.options;
        if *as_built {
            design.add_as_built();
        }
        design.keep_calibration(calibration.as_deref())?;
        design.reseed(*seed);
        trials.iter().for_each(|trials| design.keep_trials(*trials));
        confidence.iter().for_each(|confidence| design.keep_confidence(*confidence));
        figure.iter().for_each(|figure| design.add_figure(*figure));
        design.options.delivered.clone_from(delivered);
        Ok(Ok(design))
    }

    /// Every file that was read for this study, its changes and its offers: no output may replace one of them.
    pub(crate) fn inputs(&self) -> Vec<PathBuf> {
        let read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        std::iter::once(&self.source.name).chain(read.iter()).cloned().collect()
    }

    fn note<'a>(&self, files: impl Iterator<Item = &'a Arc<SourceText>>) {
        let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        read.extend(files.map(|of| of.name.clone()));
    }

    /// The study with an offer's parts, with the same seed and number of units.
    ///
    /// # Errors
    /// As [`Design::with`].
    pub(crate) fn offered(&self, offer: &Offer) -> Checked<Design> {
        let mut design = self.with(&offer.changes)?;
        design.build_as(self);
        Ok(design)
    }

    /// Takes the seed and the number of units of another design.
    pub(crate) fn build_as(&mut self, other: &Design) {
        self.reseed(Some(other.study.seed));
        self.keep_trials(other.study.trials);
    }

    /// Adds the plan that leaves units as built, where there is none.
    pub(crate) fn add_as_built(&mut self) {
        self.options.as_built = true;
        let plans = &mut self.study.calibrations;
        let is_free = |name: &&str| plans.iter().all(|of| of.name != *name);
        let name = ["none", "as built"].into_iter().find(is_free);
        if let (Some(name), false) = (name, plans.iter().any(Calibration::is_none)) {
            plans.insert(0, Calibration::none(name));
        }
    }

    /// Keeps one calibration plan alone, if one is named.
    ///
    /// # Errors
    /// When the study has none of that name.
    pub(crate) fn keep_calibration(&mut self, name: Option<&str>) -> Checked<()> {
        let Some(name) = name else { return Ok(()) };
        let plans = &mut self.study.calibrations;
        if !plans.iter().any(|plan| plan.name == name) {
            let help = suggest::instead_of(name, plans.iter().map(|plan| plan.name.as_str()));
            return Err(self.refuse(format!("there is no calibration plan `{name}`"), help));
        }
        plans.retain(|plan| plan.name == name);
        self.options.calibration = Some(name.to_owned());
        Ok(())
    }

    /// Keeps the one plan that `question` is about: the only one, or the only one that does anything.
    ///
    /// # Errors
    /// When there are several.
    pub(crate) fn keep_one_calibration(&mut self, question: &str) -> Checked<()> {
        let all = &self.study.calibrations;
        let names = |of: &mut dyn Iterator<Item = &Calibration>| {
            of.map(|plan| plan.name.clone()).collect::<Vec<String>>()
        };
        let those = names(&mut all.iter().filter(|plan| !plan.is_none() || all.len() == 1));
        if let [only] = those.as_slice() {
            return self.keep_calibration(Some(only));
        }
        let listed = if those.is_empty() { names(&mut all.iter()) } else { those };
        Err(self.refuse(
            format!("{question} is that of one calibration plan"),
            format!("add `--calibration` and one of: {}", listed.join(", ")),
        ))
    }

    /// Takes another seed, if one is given.
    pub(crate) fn reseed(&mut self, seed: Option<u64>) {
        self.options.seed = seed;
        self.study.seed = seed.unwrap_or(self.study.seed);
    }

    /// Takes another number of units than the study states.
    pub(crate) fn keep_trials(&mut self, trials: Trials) {
        self.options.trials = Some(trials);
        self.study.trials = trials;
    }

    /// Builds all units that the study allows, without its stopping rule.
    pub(crate) fn build_all(&mut self) {
        self.keep_trials(Trials::Fixed(self.study.trials.most()));
    }

    /// Takes the parts of a source as delivered, without the study's inspection.
    pub(crate) fn take_as_delivered(&mut self, source: &str) {
        self.options.delivered = Some(source.to_owned());
    }

    /// Takes this confidence for all intervals, in place of the study's.
    pub(crate) fn keep_confidence(&mut self, confidence: f64) {
        self.options.confidence = Some(confidence);
        self.study.confidence = confidence;
    }

    /// Adds a figure to those of the study.
    pub(crate) fn add_figure(&mut self, figure: Figure) {
        self.options.figure = Some(figure);
        if !self.study.figures.contains(&figure) {
            self.study.figures.push(figure);
        }
    }

    /// The study compiled.
    pub(crate) fn model(&self) -> Model {
        let (beams, channels) = (self.study.beams.len(), self.study.layout.channels());
        (self.show_compiling)(&format!("preparing {beams} beams of {channels} channels"), &|| {
            let model = compile(&self.study, &self.source.text);
            match &self.options.delivered {
                Some(source) => model.delivering(source),
                None => model,
            }
        })
    }

    /// What to check before the results are trusted.
    pub(crate) fn warnings(&self, model: &Model) -> Vec<Diagnostic> {
        model::warnings(&self.study, model)
    }

    /// An error about the study as a whole.
    pub(crate) fn refuse(&self, message: impl Into<String>, help: impl Into<String>) -> StudyError {
        StudyError::whole(self.source.clone(), message.into(), help.into())
    }
}

/// Whether what is wrong is how the values at some places are written.
fn is_slip(findings: &[Diagnostic], places: &[Span]) -> bool {
    let is_there =
        |span: &Span| places.iter().any(|place| place.start <= span.start && span.end <= place.end);
    let slips = findings.iter().filter(|found| found.is_slip);
    slips.map(|found| found.span.as_ref()).any(|span| span.is_none_or(is_there))
}
