//! Studies compared on the same units.

use crate::decide::{CompareResult, compare_yields};
use crate::design::DesignError;
use crate::engine::Control;
use crate::library::study::stopped;
use crate::library::{Run, Study};
use crate::stats::Estimate;

/// Studies that ran on the same units: unit n of each has the same deviations wherever they have sources of the same name.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// One for each study, the first one first.
    pub runs: Vec<Run>,
    compared: CompareResult,
}

impl Study {
    /// Runs this study and others on the same units, with the seed, the number of units and the confidence of this one.
    ///
    /// ```
    /// use beamyield::{Control, Study};
    ///
    /// # let text = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/pair.toml"));
    /// let wide = Study::from_text("pair.toml", text)?;
    /// let tight = wide.with("amplifier.phase.sd", "1 deg")?;
    /// let compared = wide.compare(&[&tight], Control::default())?;
    ///
    /// // The same units, so the interval of the difference is shorter than that of either yield.
    /// let gain = compared.yield_difference((1, "none"), (0, "none")).ok_or("no such plan")?;
    /// let own = compared.runs[0].plans[0].yield_.as_ref().ok_or("no limits")?;
    /// // erf(1) - erf(1/2)
    /// assert!(gain.low < 0.3222 && 0.3222 < gain.high, "{gain:?}");
    /// assert!(gain.high - gain.low < own.high - own.low);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Study::run`].
    pub fn compare(&self, others: &[&Study], control: Control) -> Result<Comparison, DesignError> {
        let mut models = vec![self.design.model()];
        for other in others {
            let mut design = other.design.clone();
            design.build_as(&self.design);
            models.push(design.model());
        }
        let compared = compare_yields(&models, control, |_| Ok(()))?.ok_or_else(stopped)?;
        let runs = models.iter().zip(&compared.summaries);
        let runs = runs.map(|(model, summary)| Run::new(model, summary, compared.end)).collect();
        Ok(Comparison { runs, compared })
    }
}

impl Comparison {
    /// The yield of one plan minus that of another, unit by unit. A plan is given by the number of its study, 0 for the one that
    /// [`Study::compare`] is called on, and its name. `None` where there is no such plan, and for plans without limits.
    pub fn yield_difference(&self, of: (usize, &str), minus: (usize, &str)) -> Option<Estimate> {
        let number = |(study, name): (usize, &str)| {
            let plan = self.runs.get(study)?.plans.iter().position(|plan| plan.name == name)?;
            let is_it = |of: &crate::decide::Candidate| (of.design, of.calibration) == (study, plan);
            self.compared.candidates.iter().position(is_it)
        };
        Some(self.compared.yield_difference(number(of)?, number(minus)?)?.difference)
    }
}
