//! From the study as written to the plan that runs.

use crate::array::{Array, TaperBy};
use crate::bench::{Code, Command, DeadRule, Fixture, Hardware, Unrounded};
use crate::chain::{Chain, Conditions};
use crate::figure::{AtFrequency, BeamPoint, Depth, Figure};
use crate::math::{elementary, scalar};
use crate::model::course::course;
use crate::model::{Column, Coupling, Course, Limit, Model, NoiseKeys, OperatingPoint, View};
use crate::random::{Key, Sources};
use crate::study::{Bound, LimitUnit, Study};
use std::sync::Arc;

/// Compiles a study; `text` is the file it was read from, for its fingerprint.
pub(crate) fn compile(study: &Study, text: &str) -> Model {
    let array = Array::new(&study.layout, &study.taper, study.element);
    let mut sources = Sources::new(study.seed, study.grouping);
    let chain = study.chain.bind(&mut sources);
    let fixture = study.fixture.bind(&mut sources);
    let stability = study.stability.bind(&mut sources);
    let dead = study.dead.bind(&mut sources);

    let at_bench = Conditions {
        frequency: study.command_frequency,
        command_frequency: study.command_frequency,
        temperature: study.bench_temperature,
        reference_temperature: study.reference_temperature,
    };
    let in_use = study.frequencies.iter().flat_map(|frequency| {
        let at = move |temperature: &f64| Conditions {
            frequency: *frequency,
            temperature: *temperature,
            ..at_bench
        };
        study.temperatures.iter().map(at)
    });
    let conditions: Vec<Conditions> = in_use.collect();
    let points = points(study, &array);
    let states = chain.shifter().states();
    let command = |phase: &f64| Command::new(*phase, states);
    let commands = points.iter().map(|point| point.command(&array).iter().map(command).collect()).collect();
    let columns = columns(study, &points);
    let limits = limits(study, &points, &columns);
    let families = families(&limits, &columns, &points);
    let depth = columns.iter().fold(Depth::SUMS, |depth, column| depth.and(column.figure.depth()));
    let companions = study.companions.iter().map(|of| of.text.as_str());
    let mut views = vec![View { at: at_bench, is_whole: false }];
    let courses: Vec<Course> =
        study.calibrations.iter().map(|of| course(of, at_bench, &points, &mut views)).collect();
    let rounds = study.calibrations.iter().zip(&courses).map(|(of, course)| of.rounds(course.tables.len()));
    let noise = NoiseKeys::new(rounds.max().unwrap_or(0), |name| Key::new(study.seed, name));
    let is_set = study.taper_by == TaperBy::Attenuators;
    let hardware = hardware(&chain, &array, &fixture, dead.rule, is_set);
    let head_start = |amplitude: &f64| if is_set { -scalar::ln(*amplitude) } else { 0.0 };
    let head_start = array.amplitude.iter().map(head_start).collect();
    Model {
        title: study.title.clone(),
        study_hash: fingerprint(std::iter::once(text).chain(companions)),
        seed: study.seed,
        trials: study.trials,
        confidence: study.confidence,
        conditions,
        at_bench,
        beams: study.beams.clone(),
        receiver: study.receiver,
        stability,
        clock: study.clock,
        calibrations: study.calibrations.clone(),
        courses,
        views,
        noise,
        head_start,
        dead,
        coupling: chain.coupling().map(|coefficient| Coupling::new(&array, coefficient)),
        array,
        chain,
        sources,
        fixture,
        hardware,
        points,
        commands,
        depth,
        columns,
        families,
        limits,
    }
}

/// `is_set` when the attenuators make the taper.
fn hardware(chain: &Chain, array: &Array, fixture: &Fixture, dead: DeadRule, is_set: bool) -> Hardware {
    let attenuator = chain.attenuator().map(|attenuator| (attenuator.step_db(), attenuator.states()));
    let wanted_db: Vec<f64> = array.amplitude.iter().map(|a| 20.0 * scalar::log10(*a)).collect();
    let rest = |wanted: &f64| match attenuator {
        Some((step_db, states)) if is_set => {
            elementary::round(-wanted / step_db).min((states - 1) as f64) as Code
        }
        _ => 0,
    };
    let rest: Vec<Code> = wanted_db.iter().map(rest).collect();
    let short = |(wanted, code): (&f64, &Code)| match attenuator {
        Some((step_db, states)) if is_set => {
            ((-wanted).min(step_db * (states - 1) as f64) - step_db * f64::from(*code)) as f32
        }
        _ => 0.0,
    };
    Hardware {
        rest_short: wanted_db.iter().zip(&rest).map(short).collect(),
        unrounded: Unrounded::default(),
        rest,
        attenuator,
        shifter: chain.shifter().states(),
        wanted_db,
        known_imbalance: fixture.phase_imbalance.nominal,
        dead,
    }
}

/// Memory for what beam points keep and could make again for each batch of units, bytes.
const TABLES: usize = 32 << 20;

/// Every beam at every frequency, and the same again for each temperature, which a beam point does not depend on.
fn points(study: &Study, array: &Array) -> Vec<OperatingPoint> {
    let at_frequency = |frequency: &f64| AtFrequency::new(array, *frequency);
    let used_at: Vec<AtFrequency> = study.frequencies.iter().map(at_frequency).collect();
    let mut room = TABLES;
    let mut points = Vec::new();
    for (number, beam) in study.beams.iter().enumerate() {
        let (toward, null) = (beam.direction(), beam.null_direction());
        let mut conditions = 0;
        for (frequency_number, used_at) in used_at.iter().enumerate() {
            let mut point =
                BeamPoint::new(array, number, toward, beam.phi, null, study.command_frequency, used_at);
            match room.checked_sub(point.table_bytes()) {
                Some(left) => room = left,
                None => point.give_up_tables(),
            }
            let point = Arc::new(point);
            for temperature_number in 0..study.temperatures.len() {
                points.push(OperatingPoint {
                    point: point.clone(),
                    conditions,
                    frequency_number,
                    temperature_number,
                });
                conditions += 1;
            }
        }
    }
    points
}

/// The figures asked for and those with a limit, each at every beam point where it exists.
fn columns(study: &Study, points: &[OperatingPoint]) -> Vec<Column> {
    let is_due = |figure: &Figure| {
        study.figures.contains(figure) || study.limits.iter().any(|limit| limit.figure == *figure)
    };
    let figures = Figure::ALL.iter().copied().filter(is_due);
    let at_looks = |figure: Figure| {
        let exists = move |(point, at): (usize, &OperatingPoint)| {
            figure.exists(at).then_some(Column { figure, point })
        };
        points.iter().enumerate().filter_map(exists)
    };
    figures.flat_map(at_looks).collect()
}

fn limits(study: &Study, points: &[OperatingPoint], columns: &[Column]) -> Vec<Limit> {
    let mut limits = Vec::new();
    for (of, limit) in study.limits.iter().enumerate() {
        for (number, column) in columns.iter().enumerate() {
            let point = &points[column.point];
            let applies = column.figure == limit.figure
                && limit.beam.is_none_or(|beam| beam == point.beam)
                && limit.frequency.is_none_or(|of| of == point.frequency_number)
                && limit.temperature.is_none_or(|of| of == point.temperature_number);
            if !applies {
                continue;
            }
            let scale = match limit.unit {
                LimitUnit::OfFigure => 1.0,
                LimitUnit::Beamwidths => match point.error_free.beamwidth {
                    Some(radians) => radians.to_degrees(),
                    None => continue,
                },
            };
            let bound = match limit.bound {
                Bound::AtMost(value) => Bound::AtMost(value * scale),
                Bound::AtLeast(value) => Bound::AtLeast(value * scale),
            };
            limits.push(Limit { column: number, bound, on_size: limit.figure.is_signed(), of });
        }
    }
    limits
}

/// The family of each limit, numbered as they first stand.
fn families(limits: &[Limit], columns: &[Column], points: &[OperatingPoint]) -> Vec<usize> {
    let mut known = Vec::new();
    let family = |limit: &Limit| {
        let column = columns[limit.column];
        let of = (column.figure, points[column.point].beam, matches!(limit.bound, Bound::AtMost(_)));
        known.iter().position(|known| *known == of).unwrap_or_else(|| {
            known.push(of);
            known.len() - 1
        })
    };
    limits.iter().map(family).collect()
}

/// FNV-1a, 64 bits, of the texts without regard to line ends. Source: draft-eastlake-fnv (from memory).
fn fingerprint<'t>(texts: impl Iterator<Item = &'t str>) -> String {
    let bytes = texts.flat_map(str::bytes).filter(|byte| *byte != b'\r');
    let hash = bytes.fold(0xcbf2_9ce4_8422_2325u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    });
    format!("{hash:016x}")
}
