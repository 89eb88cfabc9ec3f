//! The error-free array at each beam and frequency: for people and for scripts.

use crate::array::Array;
use crate::figure::{BeamPoint, directivities};
use crate::math::scalar;
use crate::model::Model;
use crate::report::grid::{Grid, numbers, paragraph, words};
use crate::report::json_parts::finite;
use crate::report::number::{ABSENT, fixed, significant};
use crate::report::words::frequency;
use serde::Serialize;
use std::collections::BTreeMap;

/// The beam of the error-free array at a frequency.
#[derive(Serialize)]
pub(super) struct ErrorFreeBeam<'a> {
    beam: &'a str,
    frequency_hz: f64,
    /// Half-power beamwidth along the scan, where both half-power points are in visible space.
    #[serde(skip_serializing_if = "Option::is_none")]
    beamwidth_deg: Option<f64>,
    /// Directivity at the beam peak over an isotropic radiator.
    #[serde(skip_serializing_if = "Option::is_none")]
    directivity_dbi: Option<f64>,
    taper_efficiency: f64,
}

/// Every beam at every frequency; the temperature changes nothing here.
pub(super) fn error_free_beams(model: &Model) -> Vec<ErrorFreeBeam<'_>> {
    let taper_efficiency = model.array.taper_efficiency();
    let numbers = (0..model.points.len()).filter(|number| model.points[*number].temperature_number == 0);
    let numbers: Vec<usize> = numbers.collect();
    let directivity = directivities_of(model, &numbers);
    let of = |(number, directivity): (&usize, f64)| {
        let point = &model.points[*number];
        ErrorFreeBeam {
            beam: &model.beams[point.beam].name,
            frequency_hz: point.frequency,
            beamwidth_deg: point.error_free.beamwidth.map(f64::to_degrees),
            directivity_dbi: finite(10.0 * scalar::log10(directivity)),
            taper_efficiency,
        }
    };
    numbers.iter().zip(directivity).map(of).collect()
}

/// Directivity at some beam points, those of a frequency computed together.
fn directivities_of(model: &Model, numbers: &[usize]) -> Vec<f64> {
    let mut by_frequency: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
    for (place, number) in numbers.iter().enumerate() {
        by_frequency.entry(model.points[*number].frequency.to_bits()).or_default().push(place);
    }
    let mut all = vec![0.0; numbers.len()];
    for places in by_frequency.values() {
        let points: Vec<&BeamPoint> = places.iter().map(|place| &*model.points[numbers[*place]]).collect();
        for (place, of) in places.iter().zip(directivities(&model.array, &points)) {
            all[*place] = of;
        }
    }
    all
}

/// The same as a table.
pub(super) fn error_free_text(model: &Model) -> String {
    let header = [
        words("beam"),
        numbers("frequency"),
        numbers("beamwidth, deg"),
        numbers("directivity, dBi"),
        numbers("taper efficiency"),
    ];
    let mut grid = Grid::new(&header);
    for of in error_free_beams(model) {
        let or_absent = |value: Option<f64>| value.map_or(ABSENT.to_owned(), |value| significant(value, 4));
        grid.row(vec![
            of.beam.to_owned(),
            frequency(of.frequency_hz),
            or_absent(of.beamwidth_deg),
            of.directivity_dbi.map_or(ABSENT.to_owned(), |level| fixed(level, 2)),
            format!("{} %", fixed(100.0 * of.taper_efficiency, 1)),
        ]);
    }
    format!("Error-free beams\n{}{}", grid.text(), paragraph(&meaning(&model.array), 2, 4))
}

/// Definitions of the numbers.
fn meaning(array: &Array) -> String {
    let q = array.element.exponent;
    let elements = if q == 0.0 {
        "isotropic elements, which radiate all around".to_owned()
    } else {
        format!("elements of amplitude cos^{}, which radiate into the half-space in front", significant(q, 4))
    };
    format!(
        "half-power beamwidth along the scan; directivity at the peak of the radiated beam, of {elements}, by the power of all \
         directions, not counting coupling; taper efficiency (sum a)^2/(N sum a^2)"
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::OperatingPoint;
    use crate::report::sample;
    use serde_json::{Value, json};

    #[test]
    fn beams_are_shown_to_people_and_scripts() {
        let model = sample::model();
        let text = error_free_text(&model);
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for said in [
            "beam frequency beamwidth, deg directivity, dBi taper efficiency",
            "100.0 %",
            "(sum a)^2/(N sum a^2)",
        ] {
            assert!(words.contains(said), "{said}\n---\n{text}");
        }
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
        let beams: Vec<Value> =
            error_free_beams(&model).iter().map(|of| serde_json::to_value(of).unwrap()).collect();
        assert_eq!(beams.len(), model.points.len());
        assert_eq!((&beams[1]["beam"], &beams[1]["frequency_hz"]), (&json!("ahead"), &json!(10e9)));
        assert_eq!(beams[1]["taper_efficiency"], 1.0);
        // A half-power point beyond the edge of visible space is an absent key.
        let mut model = model;
        std::sync::Arc::make_mut(&mut model.points[1].point).error_free.beamwidth = None;
        let beams = serde_json::to_value(error_free_beams(&model)).unwrap();
        assert!(beams[1].get("beamwidth_deg").is_none() && beams[0].get("beamwidth_deg").is_some());
        assert!(error_free_text(&model).contains(" -  "), "{}", error_free_text(&model));
    }

    /// Each beam has one row, however many temperatures there are.
    #[test]
    fn temperatures_add_no_rows() {
        let mut model = sample::model();
        let points = model.points.len();
        let warm = |point: &OperatingPoint| OperatingPoint { temperature_number: 1, ..point.clone() };
        model.points = model.points.iter().flat_map(|point| [point.clone(), warm(point)]).collect();
        assert_eq!(error_free_beams(&model).len(), points);
    }
}
