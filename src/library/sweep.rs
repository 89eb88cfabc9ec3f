//! A study at several values of one parameter.

use crate::decide::{self, Points, Vary};
use crate::design::DesignError;
use crate::engine::Control;
use crate::library::study::stopped;
use crate::library::{Run, Study};
use crate::stats::Estimate;

/// A study at several values of one parameter, on the same units.
#[derive(Clone, Debug)]
pub struct Sweep {
    /// One for each value.
    pub points: Vec<SweepPoint>,
    swept: decide::Sweep,
}

/// A study at one value.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct SweepPoint {
    /// The value, as it was given.
    pub value: String,
    /// The estimates; `None` where the study cannot have the value, and where the run was stopped before.
    pub run: Option<Run>,
    /// Why the study cannot have the value.
    pub refused: Option<String>,
}

impl Study {
    /// Runs the study at several values of one parameter, addressed as in [`Study::with`], on the same units.
    ///
    /// ```
    /// use beamyield::{Control, Study};
    ///
    /// # let text = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/pair.toml"));
    /// let study = Study::from_text("pair.toml", text)?;
    /// let sweep = study.sweep("amplifier.phase.sd", &["0.5 deg", "1 deg", "2 deg"], Control::default())?;
    ///
    /// // A spread of s deg gives a yield of erf(1/s).
    /// for (point, expected) in sweep.points.iter().zip([0.9953, 0.8427, 0.5205]) {
    ///     let share = point.run.as_ref().and_then(|run| run.plans[0].yield_.as_ref()).ok_or("no yield")?;
    ///     assert!(share.low < expected && expected < share.high, "{}: {share:?}", point.value);
    /// }
    /// let loss = sweep.yield_difference("none", 2, 1).ok_or("no such point")?;
    /// assert!(loss.high < 0.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// [`DesignError::Study`] for an address that leads nowhere and a value of another kind, [`DesignError::NoSoundValue`] when the study
    /// can have none of the values, else as [`Study::run`].
    pub fn sweep(&self, address: &str, values: &[&str], control: Control) -> Result<Sweep, DesignError> {
        let values: Vec<String> = values.iter().map(|value| (*value).to_owned()).collect();
        let vary = Vary { parameter: self.parameter(address)?, values: values.clone() };
        let points = Points::of(&self.design, &[vary])?;
        let swept = points.run(control, &mut ())?.ok_or_else(stopped)?;
        let mut models = points.models.iter();
        let point = |(number, value): (usize, String)| {
            let refused = swept.refused.get(&number).cloned();
            let model = if refused.is_none() { models.next() } else { None };
            let run = model.zip(swept.points[number].as_ref());
            let run = run.map(|(model, ran)| Run::new(model, &ran.summary, swept.end));
            SweepPoint { value, run, refused }
        };
        let points = values.into_iter().enumerate().map(point).collect();
        Ok(Sweep { points, swept })
    }
}

impl Sweep {
    /// The yield of one calibration plan at one point minus that at another, unit by unit; points are given by their numbers. `None`
    /// where there is no such plan or point.
    pub fn yield_difference(&self, plan: &str, of: usize, minus: usize) -> Option<Estimate> {
        let run = self.points.get(of)?.run.as_ref()?;
        let number = run.plans.iter().position(|of| of.name == plan && of.yield_.is_some())?;
        self.points.get(minus)?;
        let (first, second) = (self.swept.passes(of, number)?, self.swept.passes(minus, number)?);
        Some(first.beside(second).difference(self.swept.confidence))
    }
}
