//! The errors of a study by formula, before any run, for scripts. An absent value is an absent key.

use crate::engine::{Contribution, Expected, Forecast, Part, Stands, is_alike};
use crate::io::Dimension;
use crate::report::errors_words::{Errors, cause_name, decibels, degrees, no_formula, share};
use crate::report::json_parts::{Head, celsius};
use serde::Serialize;

/// The document of a check, ready to be serialised.
pub(crate) fn check_json<'a>(
    errors: &Errors<'a>,
    warnings: usize,
    forecast: &Forecast,
) -> impl Serialize + use<'a> {
    let model = errors.model;
    let plans = model.calibrations.iter().enumerate().map(|(number, of)| Plan {
        name: &of.name,
        expected: errors
            .expected
            .iter()
            .filter(|of| of.calibration == number)
            .map(|of| case(errors, of))
            .collect(),
    });
    Document {
        head: Head::of(model),
        warnings,
        command_frequency_hz: model.at_bench.command_frequency,
        temperature_c: celsius(errors.temperature),
        nominal_gain_db: errors.nominal_gain_db,
        tolerances: errors.contributions.iter().map(|of| tolerance(errors, of)).collect(),
        bench: errors.of_bench().into_iter().filter_map(|number| own(errors, number)).collect(),
        shifter_step_deg: model.chain.shifter().step().to_degrees(),
        attenuator_step_db: model.hardware.attenuator.map(|(step_db, _)| step_db),
        calibrations: plans.collect(),
        run: Run {
            units: forecast.units,
            threads: forecast.threads,
            memory_bytes: forecast.bytes,
            seconds: forecast.seconds,
        },
    }
}

/// Time and memory of a run on this machine.
#[derive(Serialize)]
struct Run {
    units: u64,
    threads: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    memory_bytes: Option<u64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    seconds: Option<f64>,
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    warnings: usize,
    command_frequency_hz: f64,
    /// The temperature at which tolerances are propagated.
    temperature_c: f64,
    nominal_gain_db: f64,
    tolerances: Vec<Tolerance<'a>>,
    bench: Vec<Own<'a>>,
    shifter_step_deg: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    attenuator_step_db: Option<f64>,
    calibrations: Vec<Plan<'a>>,
    run: Run,
}

/// Standard deviations of one channel, and the shares of the variances by which channels differ.
#[derive(Serialize)]
struct Tolerance<'a> {
    source: &'a str,
    scope: &'static str,
    /// "before" or "behind" the reference plane.
    reference_plane: &'static str,
    phase_deg: f64,
    gain_db: f64,
    /// Absent where all channels are alike.
    #[serde(skip_serializing_if = "Option::is_none")]
    phase_share: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    gain_share: Option<f64>,
}

/// A tolerance of the bench.
#[derive(Serialize)]
struct Own<'a> {
    source: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    phase_deg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    gain_db: Option<f64>,
}

#[derive(Serialize)]
struct Plan<'a> {
    name: &'a str,
    expected: Vec<Case<'a>>,
}

/// Expected residuals, rms, and their parts.
#[derive(Serialize)]
struct Case<'a> {
    beam: &'a str,
    temperature_c: f64,
    residual_phase_rms_deg: f64,
    residual_amplitude_rms_db: f64,
    removed: Vec<Cause>,
    left: Vec<Cause>,
    without_formula: Vec<&'static str>,
}

/// Mean squares, so that they add up; the joint term of two correlated tolerances may be negative.
#[derive(Serialize)]
struct Cause {
    cause: String,
    phase_deg_squared: f64,
    gain_db_squared: f64,
}

fn tolerance<'a>(errors: &Errors<'a>, of: &Contribution) -> Tolerance<'a> {
    let source = &errors.model.sources.list()[of.source];
    let (total, left) = (errors.total(), of.channel.times(of.differs));
    let differs = !is_alike(source);
    Tolerance {
        source: &source.name,
        scope: source.scope.name(),
        reference_plane: if of.stands == Stands::Before { "before" } else { "behind" },
        phase_deg: degrees(of.channel.phase),
        gain_db: decibels(of.channel.gain),
        phase_share: differs.then(|| share(left.phase, total.phase)),
        gain_share: differs.then(|| share(left.gain, total.gain)),
    }
}

fn own<'a>(errors: &Errors<'a>, number: usize) -> Option<Own<'a>> {
    let source = &errors.model.sources.list()[number];
    let sd = source.distribution.sd();
    let (phase_deg, gain_db) = match source.dimension {
        Dimension::Angle => (Some(sd.to_degrees()), None),
        Dimension::Level => (None, Some(sd)),
        _ => return None,
    };
    Some(Own { source: &source.name, phase_deg, gain_db })
}

fn case<'a>(errors: &Errors<'a>, of: &Expected) -> Case<'a> {
    let residual = of.residual();
    let causes = |parts: &[Part]| {
        let cause = |part: &Part| {
            let db = decibels(1.0);
            let degree = degrees(1.0);
            Cause {
                cause: cause_name(errors.model, part.cause),
                phase_deg_squared: part.size.phase * degree * degree,
                gain_db_squared: part.size.gain * db * db,
            }
        };
        parts.iter().map(cause).collect()
    };
    Case {
        beam: &errors.model.beams[of.beam].name,
        temperature_c: celsius(of.temperature),
        residual_phase_rms_deg: degrees(residual.phase),
        residual_amplitude_rms_db: decibels(residual.gain),
        removed: causes(&of.removed),
        left: causes(&of.left),
        without_formula: of.no_formula.iter().map(|of| no_formula(*of).1).collect(),
    }
}
