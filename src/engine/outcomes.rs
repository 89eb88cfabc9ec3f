//! What is kept of every trial, in trial order.

use crate::plan::Plan;

/// Why a unit counts as failed without being measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Failure {
    /// A figure came out as no number.
    NoFigure,
}

impl Failure {
    /// In plain words.
    pub fn reason(self) -> &'static str {
        match self {
            Failure::NoFigure => "a figure could not be computed",
        }
    }
}

/// Outcomes of a run of trials for every calibration plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcomes {
    /// The first trial.
    pub first_trial: u64,
    /// Trials held.
    pub trials: u64,
    /// One for each calibration plan.
    pub plans: Vec<PlanOutcomes>,
}

/// Outcomes for one calibration plan, `[trial]`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlanOutcomes {
    /// Value of each column of the plan, `[trial][column]`.
    pub values: Vec<f64>,
    /// For each limit of the plan, whether it is met, `[trial][limit]`.
    pub met: Vec<bool>,
    /// Number of the first limit in the study's order that is missed; `None` for a unit that passes.
    pub first_missed: Vec<Option<u32>>,
    /// Why the unit counts as failed besides its limits.
    pub failure: Vec<Option<Failure>>,
    /// Bench time, s.
    pub seconds: Vec<f64>,
}

impl Outcomes {
    /// None yet, from a trial on.
    pub fn new(plan: &Plan, first_trial: u64) -> Outcomes {
        let plans = vec![PlanOutcomes::default(); plan.calibrations.len()];
        Outcomes { first_trial, trials: 0, plans }
    }
}

impl PlanOutcomes {
    /// Appends one unit.
    pub(super) fn push(&mut self, plan: &Plan, value: impl Fn(usize) -> f64, seconds: f64) {
        let from = self.values.len();
        self.values.extend((0..plan.columns.len()).map(value));
        let values = &self.values[from..];
        let from = self.met.len();
        self.met.extend(plan.limits.iter().map(|limit| limit.is_met_by(values[limit.column])));
        let missed = self.met[from..].iter().position(|met| !met);
        self.first_missed.push(missed.map(|limit| limit as u32));
        let is_measured = values.iter().all(|value| value.is_finite());
        self.failure.push(if is_measured { None } else { Some(Failure::NoFigure) });
        self.seconds.push(seconds);
    }

    /// Whether a unit of this run passes.
    pub fn passes(&self, unit: usize) -> bool {
        self.failure[unit].is_none() && self.first_missed[unit].is_none()
    }
}
