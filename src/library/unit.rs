//! One unit of a study.

use crate::engine::rebuild;
use crate::library::{Figure, Study};

/// One unit, as a run of the study builds it.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Unit {
    /// Its number, from 0.
    pub number: u64,
    /// The unit after each calibration plan.
    pub plans: Vec<UnitPlan>,
}

/// A unit after one calibration plan.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct UnitPlan {
    /// Name of the plan.
    pub name: String,
    /// Whether the unit meets every limit.
    pub passes: bool,
    /// Bench time, s.
    pub bench_seconds: f64,
    /// The figures of the unit with their values.
    pub figures: Vec<(Figure, f64)>,
}

impl Study {
    /// Builds one unit of the study again, the same as a run with this seed builds, by its number from 0.
    ///
    /// ```
    /// use beamyield::{Control, Study};
    ///
    /// # let text = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/pair.toml"));
    /// let study = Study::from_text("pair.toml", text)?.with_seed(7).with_units(100)?;
    /// let run = study.run(Control::default())?;
    ///
    /// let passing = (0..100).filter(|number| study.unit(*number).plans[0].passes).count();
    /// let share = run.plans[0].yield_.as_ref().ok_or("no limits")?;
    /// assert_eq!(share.value, passing as f64 / 100.0);
    ///
    /// let (figure, value) = &study.unit(17).plans[0].figures[0];
    /// assert_eq!((figure.name, figure.unit), ("residual_phase_rms", "deg"));
    /// assert_ne!(*value, study.with_seed(8).unit(17).plans[0].figures[0].1);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn unit(&self, number: u64) -> Unit {
        let model = self.design.model();
        let plans = model.calibrations.iter().zip(rebuild(&model, number).calibrations);
        let plans = plans.map(|(calibration, of)| UnitPlan {
            name: calibration.name.clone(),
            passes: of.passes,
            bench_seconds: of.seconds,
            figures: of
                .values
                .iter()
                .enumerate()
                .map(|(column, value)| (Figure::of(&model, column), *value))
                .collect(),
        });
        Unit { number, plans: plans.collect() }
    }
}
