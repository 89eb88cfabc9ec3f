//! The estimates of a run.

use crate::engine::{CalibrationSummary, End, PERCENTILES, Summary};
use crate::model::Model;
use crate::stats::{Estimate, student};
use crate::study::Bound;

/// The estimates of a run.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Run {
    /// Units that were built.
    pub units: u64,
    /// Why there are no more.
    pub end: End,
    /// One for each calibration plan, in the order of the study.
    pub plans: Vec<PlanResults>,
}

/// The estimates for one calibration plan.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct PlanResults {
    /// Name of the plan.
    pub name: String,
    /// Share of the units that meet every limit; `None` without limits.
    pub yield_: Option<Estimate>,
    /// Mean bench time of a unit, s.
    pub bench_seconds: f64,
    /// One for each limit, beam, frequency and temperature.
    pub limits: Vec<LimitResults>,
    /// One for each figure, beam, frequency and temperature.
    pub figures: Vec<FigureResults>,
}

/// A figure of merit at a beam, a frequency and a temperature.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Figure {
    /// Its key in studies: `"pointing_error"`.
    pub name: &'static str,
    /// Unit of its values: `"deg"` or `"dB"`.
    pub unit: &'static str,
    /// Name of the beam.
    pub beam: String,
    /// Frequency, Hz.
    pub frequency: f64,
    /// Temperature, K.
    pub temperature: f64,
}

/// The share of units that meet one limit.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct LimitResults {
    /// What is limited.
    pub figure: Figure,
    /// The bound, in the unit of the figure.
    pub bound: Bound,
    /// Share of the units that meet it.
    pub yield_: Estimate,
}

/// The distribution of one figure over the units.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct FigureResults {
    /// The figure.
    pub figure: Figure,
    /// Its mean; `None` for fewer than two units, which have no spread.
    pub mean: Option<Estimate>,
    /// Percentiles, each with its number: 1, 5, 50, 95, 99.
    pub percentiles: Vec<(u32, Estimate)>,
}

impl Run {
    pub(super) fn new(model: &Model, summary: &Summary, end: End) -> Run {
        let plans = summary.calibrations.iter().map(|of| PlanResults::new(model, of)).collect();
        Run { units: summary.trials, end, plans }
    }

    /// The estimates for the calibration plan of that name.
    pub fn plan(&self, name: &str) -> Option<&PlanResults> {
        self.plans.iter().find(|plan| plan.name == name)
    }
}

impl PlanResults {
    fn new(model: &Model, of: &CalibrationSummary) -> PlanResults {
        let limits = of.limits.iter().map(|of| LimitResults {
            figure: Figure::of(model, of.limit.column),
            bound: of.limit.bound,
            yield_: of.yield_.clone(),
        });
        let figures = of.figures.iter().map(|of| FigureResults {
            figure: Figure::of(model, of.column),
            mean: student::mean(&of.moments, model.confidence),
            percentiles: PERCENTILES.into_iter().zip(of.percentiles.iter().cloned()).collect(),
        });
        PlanResults {
            name: of.name.clone(),
            yield_: of.yield_.clone(),
            bench_seconds: of.bench_seconds.mean,
            limits: limits.collect(),
            figures: figures.collect(),
        }
    }

    /// The estimates for every beam, frequency and temperature of the figure of that name.
    pub fn figure(&self, name: &str) -> impl Iterator<Item = &FigureResults> {
        self.figures.iter().filter(move |of| of.figure.name == name)
    }
}

impl Figure {
    /// The figure of a column of results.
    pub(super) fn of(model: &Model, column: usize) -> Figure {
        let column = model.columns[column];
        let (point, at) = (&model.points[column.point], model.conditions_of(column.point));
        Figure {
            name: column.figure.name(),
            unit: column.figure.unit().symbol(),
            beam: model.beams[point.beam].name.clone(),
            frequency: at.frequency,
            temperature: at.temperature,
        }
    }
}
