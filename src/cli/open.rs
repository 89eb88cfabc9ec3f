//! From the command line's words to a plan: reading a study, choosing and changing what was asked for.

use crate::bench::Calibration;
use crate::cli::console;
use crate::cli::progress::preparing;
use crate::error::{Error, Result};
use crate::io::{Diagnostic, Severity, SourceText, Span, inert, read_text, render, suggest};
use crate::plan::{self, Plan, compile};
use crate::study::{self, Change, Offer, Study, Trials};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// A study and what was read.
#[derive(Clone)]
pub(super) struct Opened {
    pub source: SourceText,
    pub study: Study,
    kept: Kept,
    /// The files beside the study that were read, with whatever values it had.
    read: Arc<Mutex<BTreeSet<PathBuf>>>,
}

/// What was asked of a study, whatever its values.
#[derive(Clone, Default)]
struct Kept {
    calibration: Option<String>,
    seed: Option<u64>,
    trials: Option<Trials>,
}

/// Values that the reader of a study refuses.
#[derive(Clone, Debug)]
pub(super) struct Refused {
    /// In a line.
    pub reason: String,
    /// All of its errors, each at its place.
    pub report: String,
}

/// What is sound, or why it is not.
pub(super) type Checked<T> = std::result::Result<T, Refused>;

impl Opened {
    /// Reads a study.
    pub fn read(path: &Path) -> Result<Opened> {
        let source = read_text(path)?;
        match study::parse(&source) {
            Ok(study) => {
                let opened = Opened { source, study, kept: Kept::default(), read: Arc::default() };
                opened.note_files();
                Ok(opened)
            }
            Err(findings) => Err(Error::Input(render(&source, &findings, console::has_colour()))),
        }
    }

    /// The same study with values changed; what was asked of it still holds.
    pub fn with(&self, changes: &[Change]) -> Result<Opened> {
        self.with_if_sound(changes)?.map_err(|refused| Error::Input(refused.report))
    }

    /// The same, or why the study cannot have these values. An address that leads nowhere and a value that is no such value (another
    /// kind or unit, an unknown word) are errors all the same: they are slips of whoever wrote the change.
    pub fn with_if_sound(&self, changes: &[Change]) -> Result<Checked<Opened>> {
        if changes.is_empty() {
            return Ok(Ok(self.clone()));
        }
        let source =
            study::change(&self.source, changes).map_err(|lost| self.refuse(lost.message, lost.help))?;
        let study = match study::parse(&source) {
            Ok(study) => study,
            Err(findings) => {
                let report = render(&source, &findings, console::has_colour());
                let all: Vec<String> = changes.iter().map(Change::to_string).collect();
                let report = format!("{}\nas changed by {}\n", report.trim_end(), inert(&all.join(", ")));
                self.note(findings.iter().filter_map(|found| found.other.as_ref()));
                if is_slip(&findings, &study::places(&self.source, &source, changes)) {
                    return Err(Error::Input(report));
                }
                return Ok(Err(Refused { reason: reason(&findings), report }));
            }
        };
        let mut opened = Opened { source, study, kept: Kept::default(), read: self.read.clone() };
        opened.note_files();
        opened.keep_calibration(self.kept.calibration.as_deref())?;
        opened.reseed(self.kept.seed);
        if let Some(trials) = self.kept.trials {
            opened.keep_trials(trials);
        }
        Ok(Ok(opened))
    }

    /// Every file that was read for this study, whatever was changed and offered: what no output may replace.
    pub fn inputs(&self) -> Vec<PathBuf> {
        let read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        std::iter::once(&self.source.name).chain(read.iter()).cloned().collect()
    }

    fn note_files(&self) {
        self.note(self.study.companions.iter().chain(&self.study.of_offers));
    }

    fn note<'a>(&self, files: impl Iterator<Item = &'a Arc<SourceText>>) {
        let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        read.extend(files.map(|of| of.name.clone()));
    }

    /// What an offer makes of the study, built from the same seed in as many units.
    pub fn offered(&self, offer: &Offer) -> Result<Opened> {
        let mut opened = self.with(&offer.changes)?;
        opened.reseed(Some(self.study.seed));
        opened.keep_trials(self.study.trials);
        Ok(opened)
    }

    /// Keeps one calibration plan alone, if one is named.
    pub fn keep_calibration(&mut self, name: Option<&str>) -> Result<()> {
        let Some(name) = name else { return Ok(()) };
        let plans = &mut self.study.calibrations;
        if !plans.iter().any(|plan| plan.name == name) {
            let help = suggest::instead_of(name, plans.iter().map(|plan| plan.name.as_str()));
            return Err(self.refuse(format!("there is no calibration plan `{name}`"), help));
        }
        plans.retain(|plan| plan.name == name);
        self.kept.calibration = Some(name.to_owned());
        Ok(())
    }

    /// Keeps the one plan that `question` is about: the only one, or the only one that does anything.
    pub fn keep_one_calibration(&mut self, question: &str) -> Result<()> {
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

    /// Draws from another seed, if one is given.
    pub fn reseed(&mut self, seed: Option<u64>) {
        self.kept.seed = seed;
        self.study.seed = seed.unwrap_or(self.study.seed);
    }

    /// Builds other numbers of units than the study says.
    pub fn keep_trials(&mut self, trials: Trials) {
        self.kept.trials = Some(trials);
        self.study.trials = trials;
    }

    /// The study compiled.
    pub fn plan(&self) -> Plan {
        let (beams, channels) = (self.study.beams.len(), self.study.layout.channels());
        preparing(&format!("preparing {beams} beams of {channels} channels"), || {
            compile(&self.study, &self.source.text)
        })
    }

    /// What a person should look at before trusting the results.
    pub fn warnings(&self, plan: &Plan) -> Vec<Diagnostic> {
        plan::warnings(&self.study, plan)
    }

    /// An error about the study as a whole.
    pub fn refuse(&self, message: String, help: String) -> Error {
        let found = Diagnostic {
            severity: Severity::Error,
            message,
            other: None,
            span: None,
            label: String::new(),
            help: Some(help),
            is_slip: false,
        };
        Error::Input(render(&self.source, &[found], console::has_colour()))
    }
}

/// Whether what is wrong is how the values at some places are written.
fn is_slip(findings: &[Diagnostic], places: &[Span]) -> bool {
    let is_there =
        |span: &Span| places.iter().any(|place| place.start <= span.start && span.end <= place.end);
    let slips = findings.iter().filter(|found| found.is_slip);
    slips.map(|found| found.span.as_ref()).any(|span| span.is_none_or(is_there))
}

/// The first thing that is wrong, and how many more are.
fn reason(findings: &[Diagnostic]) -> String {
    let first = findings.first().map_or("", |found| &found.message);
    match findings.len() {
        0 | 1 => first.to_owned(),
        count => format!("{first} (and {} more)", count - 1),
    }
}
