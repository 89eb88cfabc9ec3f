//! A study as a caller holds it.

use crate::design::{Design, DesignError, StudyError};
use crate::engine::{self, Control, Finish};
use crate::error::Error;
use crate::io::{Diagnostic, SourceText};
use crate::library::Run;
use crate::study::{Change, MOST_TRIALS, Parameter, Trials};
use std::path::Path;

/// A study: an array, its hardware with tolerances, a bench with calibration plans, and limits. It is checked whole when it is read and
/// after every change.
///
/// ```
/// use beamyield::{Control, Study};
///
/// // Two channels whose phases spread by 2 deg: the residual phase is half their difference, normal with 1.414 deg.
/// let text = r#"
/// title = "Pair"
/// seed = 3
/// trials = 300
/// frequencies = ["28 GHz"]
/// figures = ["residual_phase_rms"]
/// array = { layout = { kind = "linear", count = 2, spacing = "0.5 wavelength" } }
/// beam = [{ name = "broadside", theta = "0 deg" }]
/// calibration = [{ name = "none" }]
/// limit = [{ figure = "residual_phase_rms", at_most = "1 deg" }]
///
/// [[block]]
/// name = "amplifier"
/// kind = "amplifier"
/// gain = "0 dB"
/// phase = { nominal = "0 deg", normal = { sd = "2 deg" } }
///
/// [[block]]
/// name = "shifter"
/// kind = "phase_shifter"
/// bits = 6
/// "#;
/// let run = Study::from_text("pair.toml", text)?.run(Control::default())?;
///
/// // erf(1/2) of the units are within 1 deg.
/// let plan = run.plan("none").ok_or("no such plan")?;
/// let share = plan.yield_.as_ref().ok_or("no limits")?;
/// assert_eq!(share.count, 300);
/// assert!(share.low < 0.5205 && 0.5205 < share.high, "{share:?}");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// All errors of a text come at once, each with its place:
///
/// ```
/// let read = beamyield::Study::from_text("wrong.toml", "title = 5\ntrials = \"many\"\n");
/// let wrong = read.err().expect("errors");
/// assert!(wrong.findings.iter().any(|found| found.span == Some(8..9)));
/// assert!(wrong.findings.len() > 2 && wrong.to_string().contains("wrong.toml:2"));
/// ```
#[derive(Clone)]
pub struct Study {
    pub(super) design: Design,
}

impl Study {
    /// Reads the text of a study. `name` stands in errors, and the files that the text names are sought in its folder.
    ///
    /// # Errors
    /// All that is wrong with the text.
    pub fn from_text(name: impl AsRef<Path>, text: &str) -> Result<Study, StudyError> {
        let source = SourceText { name: name.as_ref().to_owned(), text: text.to_owned() };
        Design::read(source).map(|design| Study { design })
    }

    /// Reads a study from its file.
    ///
    /// # Errors
    /// [`DesignError::Run`] when the file cannot be read, [`DesignError::Study`] with all that is wrong with its text.
    #[cfg(feature = "files")]
    pub fn from_file(path: impl AsRef<Path>) -> Result<Study, DesignError> {
        Ok(Study { design: Design::read(crate::io::read_text(path.as_ref())?)? })
    }

    /// The study with one value changed, addressed as by the program's `--set`: `"shifter.bits"` and `"5"`, `"cable.length.sd"` and
    /// `"0.2 mm"`.
    ///
    /// # Errors
    /// When the study has no such value, or cannot have it.
    pub fn with(&self, address: &str, value: &str) -> Result<Study, StudyError> {
        let change = Change { parameter: self.parameter(address)?, value: value.to_owned() };
        Ok(Study { design: self.design.with(&[change])? })
    }

    /// The study with another seed of all draws.
    pub fn with_seed(&self, seed: u64) -> Study {
        let mut design = self.design.clone();
        design.reseed(Some(seed));
        Study { design }
    }

    /// The study with this number of units.
    ///
    /// # Errors
    /// For 0 and for more than 10^12.
    pub fn with_units(&self, units: u64) -> Result<Study, StudyError> {
        if !(1..=MOST_TRIALS).contains(&units) {
            let help = format!("a number from 1 to {MOST_TRIALS}");
            return Err(self.design.refuse(format!("a run cannot build {units} units"), help));
        }
        let mut design = self.design.clone();
        design.keep_trials(Trials::Fixed(units));
        Ok(Study { design })
    }

    /// The study with one of its calibration plans alone.
    ///
    /// # Errors
    /// When it has no plan of that name.
    pub fn with_plan(&self, name: &str) -> Result<Study, StudyError> {
        let mut design = self.design.clone();
        design.keep_calibration(Some(name))?;
        Ok(Study { design })
    }

    /// What to check before the results are trusted.
    pub fn warnings(&self) -> Vec<Diagnostic> {
        self.design.warnings(&self.design.model())
    }

    /// Builds, calibrates, measures and judges the units of the study. The results depend on the study and its seed alone, not on the
    /// number of threads.
    ///
    /// # Errors
    /// [`DesignError::Run`]: too little memory, no threads, a stop before the first units are done.
    pub fn run(&self, control: Control) -> Result<Run, DesignError> {
        let model = self.design.model();
        let Finish { summary, end } = engine::run(&model, control, |_| Ok(()))?;
        summary.map(|summary| Run::new(&model, &summary, end)).ok_or_else(|| stopped().into())
    }

    pub(super) fn parameter(&self, address: &str) -> Result<Parameter, StudyError> {
        Parameter::parse(address).map_err(|wrong| self.design.refuse(wrong.message, wrong.help))
    }
}

/// The error of a run that was stopped before it had a result.
pub(super) fn stopped() -> Error {
    Error::Interrupted("stopped before the first unit was done".to_owned())
}
