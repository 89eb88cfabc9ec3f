//! One unit for scripts: every draw, reading, code, figure and verdict. An absent value is an absent key.

use crate::bench::{self, Of};
use crate::engine::{Unit, UnitPlan, UnitTable};
use crate::io::Dimension;
use crate::model::Model;
use crate::random::Source;
use crate::report::json_parts::{Column, Head, Line, column, finite, line};
use serde::Serialize;

/// The document of a unit, ready to be serialised.
pub(crate) fn unit_json<'a>(model: &'a Model, unit: &'a Unit) -> impl Serialize + use<'a> {
    Document {
        head: Head::of(model),
        units: Units::new(),
        trial: unit.trial,
        draws: model.sources.list().iter().zip(&unit.deviations).map(|(of, drawn)| draw(of, drawn)).collect(),
        calibrations: (0..model.calibrations.len())
            .map(|number| calibration(model, number, &unit.calibrations[number]))
            .collect(),
    }
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    /// The units of all numbers; quotients are written with a stroke, dB/m.
    units: Units,
    trial: u64,
    draws: Vec<Draw<'a>>,
    calibrations: Vec<Calibration<'a>>,
}

/// One unit for each kind of quantity: SI without prefix, except degrees and dB.
#[derive(Serialize)]
struct Units {
    length: &'static str,
    frequency: &'static str,
    time: &'static str,
    temperature_difference: &'static str,
    conductivity: &'static str,
    angle: &'static str,
    level: &'static str,
    power: &'static str,
    ratio: &'static str,
}

impl Units {
    fn new() -> Units {
        let of = |dimension| unit_of(dimension).0;
        Units {
            length: of(Dimension::Length),
            frequency: of(Dimension::Frequency),
            time: of(Dimension::Time),
            temperature_difference: of(Dimension::Temperature),
            conductivity: of(Dimension::Conductivity),
            angle: of(Dimension::Angle),
            level: of(Dimension::Level),
            power: of(Dimension::Power),
            ratio: of(Dimension::Ratio),
        }
    }
}

#[derive(Serialize)]
struct Draw<'a> {
    source: &'a str,
    scope: &'static str,
    /// Unit of the nominal value, and of the deviations where they have no other.
    unit: &'static str,
    /// Where deviations are of another kind: the deviation of a power is a level.
    #[serde(skip_serializing_if = "Option::is_none")]
    deviation_unit: Option<&'static str>,
    nominal: f64,
    /// `[slot][group]`: a slot is a bit, a state, or the only one; a group a channel, a chip, a board, or the unit.
    deviations: Vec<Vec<f64>>,
}

#[derive(Serialize)]
struct Calibration<'a> {
    name: &'a str,
    passed: bool,
    bench_minutes: f64,
    /// The same in the document's unit of time.
    bench_seconds: f64,
    /// Why it fails whatever its figures are.
    #[serde(skip_serializing_if = "Option::is_none")]
    failure: Option<&'static str>,
    /// Channels that the bench found dead; absent where it does not search for them.
    #[serde(skip_serializing_if = "Option::is_none")]
    read_as_dead: Option<&'a [usize]>,
    /// The reference channel; absent where none was used.
    #[serde(skip_serializing_if = "Option::is_none")]
    reference: Option<usize>,
    readings: Vec<Reading>,
    #[serde(flatten)]
    table: Table<'a>,
    /// Those after the first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    further_tables: Vec<Table<'a>>,
    shifter_codes: Vec<Codes<'a>>,
    limits: Vec<Verdict<'a>>,
    figures: Vec<Figure<'a>>,
}

#[derive(Serialize)]
struct Table<'a> {
    attenuator_codes: &'a [u32],
    /// Absent where the readings gave a channel no phase.
    #[serde(skip_serializing_if = "Option::is_none")]
    found_phases_deg: Option<Vec<f64>>,
}

#[derive(Serialize, Default)]
struct Reading {
    /// Absent when all channels are read at once.
    #[serde(skip_serializing_if = "Option::is_none")]
    channel: Option<usize>,
    /// Absent unless the channel is joined with another.
    #[serde(skip_serializing_if = "Option::is_none")]
    reference: Option<usize>,
    /// The reference's shifter, where it is turned.
    #[serde(skip_serializing_if = "is_zero")]
    reference_code: u32,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    arms_exchanged: bool,
    /// All other channels are on as well.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    among_all: bool,
    /// Number of a reading of all channels.
    #[serde(skip_serializing_if = "Option::is_none")]
    row: Option<u32>,
    code: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    level_db: Option<f32>,
}

#[derive(Serialize)]
struct Codes<'a> {
    beam: &'a str,
    frequency_hz: f64,
    codes: &'a [u32],
}

#[derive(Serialize)]
struct Verdict<'a> {
    #[serde(flatten)]
    line: Line<'a>,
    met: bool,
}

#[derive(Serialize)]
struct Figure<'a> {
    #[serde(flatten)]
    column: Column<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    value: Option<f64>,
}

fn draw<'a>(source: &'a Source, drawn: &[Vec<f64>]) -> Draw<'a> {
    let (unit, one) = unit_of(source.dimension);
    let deviation_unit = Some(unit_of(source.dimension.difference()).0).filter(|of| *of != unit);
    let slots = drawn.iter().map(|groups| groups.iter().map(|deviation| deviation / one).collect());
    Draw {
        source: &source.name,
        scope: source.scope.name(),
        unit,
        deviation_unit,
        nominal: source.nominal / one,
        deviations: slots.collect(),
    }
}

/// Units are SI without prefix, except degrees and dB; and the internal value of one of each.
fn unit_of(dimension: Dimension) -> (&'static str, f64) {
    match dimension {
        Dimension::Length => ("m", 1.0),
        Dimension::Frequency => ("Hz", 1.0),
        Dimension::Angle => ("deg", std::f64::consts::PI / 180.0),
        Dimension::Level => ("dB", 1.0),
        Dimension::LevelPerLength => ("dB/m", 1.0),
        Dimension::LevelPerFrequency => ("dB/Hz", 1.0),
        Dimension::LevelPerTemperature => ("dB/K", 1.0),
        Dimension::Power => ("dBm", 1.0),
        Dimension::AnglePerTemperature => ("deg/K", std::f64::consts::PI / 180.0),
        Dimension::Time => ("s", 1.0),
        Dimension::Temperature => ("K", 1.0),
        Dimension::RatioPerTemperature => ("1/K", 1.0),
        Dimension::Conductivity => ("S/m", 1.0),
        Dimension::Ratio => ("1", 1.0),
    }
}

fn calibration<'a>(model: &'a Model, number: usize, of: &'a UnitPlan) -> Calibration<'a> {
    let tables: Vec<Table> = of.tables.iter().map(table).collect();
    let mut tables = tables.into_iter();
    let first = tables.next().unwrap_or(Table { attenuator_codes: &[], found_phases_deg: None });
    let codes = model.points.iter().zip(&of.shifter).map(|(point, codes)| Codes {
        beam: &model.beams[point.beam].name,
        frequency_hz: point.frequency,
        codes,
    });
    let verdicts = model.limits.iter().zip(&of.met);
    let values = of.values.iter().enumerate();
    Calibration {
        name: &model.calibrations[number].name,
        passed: of.passes,
        failure: of.failure.map(|failure| failure.reason()),
        read_as_dead: of.dead.as_deref(),
        reference: of.reference,
        bench_minutes: of.seconds / 60.0,
        bench_seconds: of.seconds,
        readings: of.readings.iter().map(reading).collect(),
        table: first,
        further_tables: tables.collect(),
        shifter_codes: codes.collect(),
        limits: verdicts.map(|(limit, met)| Verdict { line: line(model, limit), met: *met }).collect(),
        figures: values
            .map(|(of, value)| Figure { column: column(model, of), value: finite(*value) })
            .collect(),
    }
}

fn table(of: &UnitTable) -> Table<'_> {
    Table {
        attenuator_codes: &of.attenuator,
        found_phases_deg: of.phase.iter().map(|phase| finite(phase.to_degrees())).collect(),
    }
}

fn reading(of: &bench::Reading) -> Reading {
    let level_db = of.level_db.is_finite().then_some(of.level_db);
    let read = Reading { code: of.code, level_db, ..Reading::default() };
    match of.of {
        Of::Alone { channel } => Reading { channel: Some(channel), ..read },
        Of::Pair { pair, turned } => Reading {
            channel: Some(pair.stepped),
            reference: Some(pair.reference),
            reference_code: turned,
            arms_exchanged: pair.is_swapped,
            ..read
        },
        Of::Rest { channel } => Reading { channel: Some(channel), among_all: true, ..read },
        Of::All { row } => Reading { row: Some(row), ..read },
    }
}

fn is_zero(count: &u32) -> bool {
    *count == 0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::rebuild;
    use crate::report::sample;
    use serde_json::json;

    #[test]
    fn the_deviation_of_a_power_is_a_level() {
        let mut sources = crate::random::Sources::new(1, crate::random::Grouping::of_chips(2, 1));
        let normal = crate::random::Normal::new(0.5).unwrap();
        let spread = crate::random::Spread {
            distribution: crate::random::Distribution::Normal(normal),
            scope: crate::random::Scope::Channel,
        };
        for (name, dimension) in [("driver.saturation", Dimension::Power), ("driver.gain", Dimension::Level)]
        {
            let mut of = crate::random::Tolerance::exact(20.0);
            of.spread = Some(spread.clone());
            sources.bind(name.into(), &of, 1, dimension, false);
        }
        let units: Vec<_> =
            sources.list().iter().map(|of| draw(of, &[])).map(|of| (of.unit, of.deviation_unit)).collect();
        assert_eq!(units, [("dBm", Some("dB")), ("dB", None)]);
    }

    #[test]
    fn everything_of_a_unit_is_in_the_document() {
        let model = sample::model();
        let unit = rebuild(&model, 5);
        let document = serde_json::to_value(unit_json(&model, &unit)).unwrap();
        assert_eq!((&document["trial"], &document["seed"]), (&json!(5), &json!(7)));
        let draws = document["draws"].as_array().unwrap();
        let bits = draws.iter().find(|draw| draw["source"] == "shifter.bit_phase_error").unwrap();
        assert_eq!((&bits["unit"], &bits["scope"]), (&json!("deg"), &json!("channel")));
        // Every unit is one of those of the head, or a quotient of two.
        let units = document["units"].as_object().unwrap();
        let is_known = |unit: &serde_json::Value| {
            unit.as_str().unwrap().split('/').all(|of| units.values().any(|known| known == of))
        };
        for draw in draws {
            assert!(is_known(&draw["unit"]) && draw.get("deviation_unit").is_none(), "{draw}");
        }
        for figure in document["calibrations"][1]["figures"].as_array().unwrap() {
            assert!(is_known(&figure["unit"]), "{figure}");
        }
        assert!(!is_known(&json!("mm")) && !is_known(&json!("rad")));
        let minutes = document["calibrations"][1]["bench_minutes"].as_f64().unwrap();
        assert!(
            (document["calibrations"][1]["bench_seconds"].as_f64().unwrap() - 60.0 * minutes).abs() < 1e-9
        );
        let number = model.sources.list().iter().position(|of| of.name == "shifter.bit_phase_error").unwrap();
        let drawn = unit.deviations[number][3][7].to_degrees();
        assert!((bits["deviations"][3][7].as_f64().unwrap() - drawn).abs() < 1e-12);
        let fit = &document["calibrations"][1];
        assert_eq!(fit["readings"].as_array().unwrap().len(), 8 + 7 * 16);
        assert!(fit["readings"][0].get("reference").is_none());
        assert_eq!(fit["readings"][8]["reference"], 0);
        assert_eq!(fit["shifter_codes"][0]["codes"].as_array().unwrap().len(), 8);
        assert_eq!(fit["figures"].as_array().unwrap().len(), model.columns.len());
        assert_eq!(fit["figures"][0]["value"], unit.calibrations[1].values[0]);
        assert_eq!(fit["limits"][0]["met"], unit.calibrations[1].met[0]);
    }
}
