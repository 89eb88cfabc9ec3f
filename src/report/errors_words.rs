//! Causes of error in words and as names for scripts, shared by both documents of a check.

use crate::chain::NEPERS_A_DB;
use crate::engine::{
    Cause, Contribution, Expected, NoFormula, Variances, expect, leaves_out, nominal_gain_db, propagate,
};
use crate::model::Model;
use crate::report::words::key;

/// The errors of a study by formula, before any unit is built.
pub(crate) struct Errors<'a> {
    pub(super) model: &'a Model,
    /// Temperature at which tolerances are propagated, K: of those in use the farthest from that of the nominal values.
    pub(super) temperature: f64,
    /// The effect of each tolerance on a channel.
    pub(super) contributions: Vec<Contribution>,
    /// The residual errors of each plan.
    pub(super) expected: Vec<Expected>,
    /// Nominal gain of the chain, dB.
    pub(super) nominal_gain_db: f64,
    /// Dead channels, stuck bits, elements that couple.
    pub(super) left_out: [bool; 3],
}

impl<'a> Errors<'a> {
    /// Of a study.
    pub(crate) fn of(model: &'a Model) -> Errors<'a> {
        let reference = model.at_bench.reference_temperature;
        let farther = |a: f64, b: f64| if (b - reference).abs() > (a - reference).abs() { b } else { a };
        let temperature =
            model.conditions.iter().map(|of| of.temperature).reduce(farther).unwrap_or(reference);
        Errors {
            model,
            temperature,
            contributions: propagate(model, temperature),
            expected: expect(model),
            nominal_gain_db: nominal_gain_db(model),
            left_out: leaves_out(model),
        }
    }

    /// The variances between channels, of all tolerances.
    pub(super) fn total(&self) -> Variances {
        let each = self.contributions.iter().map(|of| of.channel.times(of.differs));
        each.fold(Variances::default(), Variances::plus)
    }

    /// The tolerances of the bench itself: numbers of their sources.
    pub(super) fn of_bench(&self) -> Vec<usize> {
        let is_own = |number: &usize| self.model.sources.list()[*number].name.starts_with("bench.");
        (0..self.model.sources.list().len()).filter(is_own).collect()
    }
}

/// Degrees of a variance, rad squared.
pub(super) fn degrees(variance: f64) -> f64 {
    variance.max(0.0).sqrt().to_degrees()
}

/// dB of a variance, nepers squared.
pub(super) fn decibels(variance: f64) -> f64 {
    variance.max(0.0).sqrt() / NEPERS_A_DB
}

/// A part of a whole, from 0 to 1; 0 where the whole is 0.
pub(super) fn share(part: f64, of: f64) -> f64 {
    if of > 0.0 { part / of } else { 0.0 }
}

/// A cause in words.
pub(super) fn cause(model: &Model, of: Cause) -> String {
    let name = |number: usize| key(&model.sources.list()[number].name);
    match of {
        Cause::Source(number) => name(number),
        Cause::Together(a, b) => format!("{} with {}", name(a), name(b)),
        Cause::ShifterOffSteps => "shifter's states on the drawing".to_owned(),
        Cause::AttenuatorOffSteps => "attenuator's states on the drawing".to_owned(),
        Cause::FoundRounding => "rounding of found phases".to_owned(),
        Cause::BeamRounding => "rounding of the beam".to_owned(),
        Cause::LevelSteps => "steps of the attenuators".to_owned(),
        Cause::Readings => "noise and display".to_owned(),
        Cause::Connections => "reconnections".to_owned(),
        Cause::Coupler => "coupler imbalance".to_owned(),
        Cause::Probe => "ways to the probe".to_owned(),
    }
}

/// A cause for scripts.
pub(super) fn cause_name(model: &Model, of: Cause) -> String {
    let name = |number: usize| &model.sources.list()[number].name;
    match of {
        Cause::Source(number) => name(number).clone(),
        Cause::Together(a, b) => format!("{} with {}", name(a), name(b)),
        Cause::ShifterOffSteps => "shifter_states".to_owned(),
        Cause::AttenuatorOffSteps => "attenuator_states".to_owned(),
        Cause::FoundRounding => "rounding_found_phases".to_owned(),
        Cause::BeamRounding => "rounding_beam_phases".to_owned(),
        Cause::LevelSteps => "attenuator_steps".to_owned(),
        Cause::Readings => "readings".to_owned(),
        Cause::Connections => "reconnections".to_owned(),
        Cause::Coupler => "coupler_imbalance".to_owned(),
        Cause::Probe => "probe".to_owned(),
    }
}

/// Errors without a formula, in words and for scripts.
pub(super) fn no_formula(of: NoFormula) -> (&'static str, &'static str) {
    match of {
        NoFormula::Method => ("noise and display with this method", "method"),
        NoFormula::Receiver => ("drift, linearity and saturation of the receiver", "receiver"),
        NoFormula::Characterising => ("uncertainty of the measured states", "characterising"),
        NoFormula::Compression => ("codes that change amplifiers in compression", "compression"),
        NoFormula::Coupling => ("coupling of elements", "coupling"),
        NoFormula::Faults => ("dead channels and stuck bits", "faults"),
        NoFormula::Turn => ("phases that spread over an eighth of a turn or more", "turn"),
    }
}
