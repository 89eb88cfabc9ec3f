//! A run in several pieces.

use crate::design::DesignError;
use crate::engine::{self, CannotMerge, Control, End, Partial};
use crate::library::{Run, Study};
use crate::model::Model;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// The results of some units of a study. Serde writes it down, so that the units of one run can be built on several machines.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Part {
    plans: Vec<String>,
    partial: Partial,
}

impl Study {
    /// Builds some of the units, by their numbers, whatever stopping rule the study has. Fewer are built when the run is stopped.
    ///
    /// ```
    /// use beamyield::{Control, Study};
    ///
    /// # let text = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/pair.toml"));
    /// let study = Study::from_text("pair.toml", text)?;
    /// let mut all = study.build(200..300, Control::default())?;
    /// study.join(&mut all, study.build(0..200, Control::default())?)?;
    ///
    /// let (joined, whole) = (study.results(all)?.ok_or("no units")?, study.run(Control::default())?);
    /// assert_eq!(joined.units, 300);
    /// assert_eq!(joined.plans[0].yield_, whole.plans[0].yield_);
    /// assert_eq!(joined.plans[0].figures[0].mean, whole.plans[0].figures[0].mean);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Study::run`].
    pub fn build(&self, units: Range<u64>, control: Control) -> Result<Part, DesignError> {
        let model = self.design.model();
        let (partial, _) = engine::accumulate(&model, units, control, |_| Ok(()))?;
        Ok(Part { plans: plans(&model), partial })
    }

    /// Adds the results of other units of this study.
    ///
    /// # Errors
    /// When they are of another study, other plans or another seed, or when some units are in both; `part` is then as it was.
    pub fn join(&self, part: &mut Part, other: Part) -> Result<(), CannotMerge> {
        let model = self.design.model();
        if plans(&model) != part.plans || part.plans != other.plans {
            return Err(CannotMerge::OtherUnits);
        }
        part.partial.merge(&model, other.partial)
    }

    /// The estimates of a part; `None` without units, or where units that share lots are missing between others.
    ///
    /// # Errors
    /// When it is of another study, other plans or another seed.
    pub fn results(&self, part: Part) -> Result<Option<Run>, CannotMerge> {
        let model = self.design.model();
        let mut all = Part { plans: plans(&model), partial: Partial::new(&model) };
        self.join(&mut all, part)?;
        let units = all.partial.trials();
        let end = if units < model.trials.most() { End::Interrupted } else { End::Done };
        Ok(all.partial.summary(&model).map(|summary| Run::new(&model, &summary, end)))
    }
}

fn plans(model: &Model) -> Vec<String> {
    model.calibrations.iter().map(|of| of.name.clone()).collect()
}

impl Part {
    /// The numbers of the units, as ranges in ascending order that do not touch.
    pub fn units(&self) -> Vec<Range<u64>> {
        self.partial.ranges()
    }
}
