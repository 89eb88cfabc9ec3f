//! What the error-free array does at each beam and frequency: for people and for scripts.

use crate::array::Array;
use crate::figure::{Look, directivities};
use crate::math::scalar;
use crate::plan::Plan;
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
pub(super) fn error_free_beams(plan: &Plan) -> Vec<ErrorFreeBeam<'_>> {
    let taper_efficiency = plan.array.taper_efficiency();
    let numbers = (0..plan.looks.len()).filter(|number| plan.looks[*number].temperature_number == 0);
    let numbers: Vec<usize> = numbers.collect();
    let directivity = directivities_of(plan, &numbers);
    let of = |(number, directivity): (&usize, f64)| {
        let look = &plan.looks[*number];
        ErrorFreeBeam {
            beam: &plan.beams[look.beam].name,
            frequency_hz: look.frequency,
            beamwidth_deg: look.error_free.beamwidth.map(f64::to_degrees),
            directivity_dbi: finite(10.0 * scalar::log10(directivity)),
            taper_efficiency,
        }
    };
    numbers.iter().zip(directivity).map(of).collect()
}

/// Directivity of some looks, those of a frequency taken together.
fn directivities_of(plan: &Plan, numbers: &[usize]) -> Vec<f64> {
    let mut by_frequency: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
    for (place, number) in numbers.iter().enumerate() {
        by_frequency.entry(plan.looks[*number].frequency.to_bits()).or_default().push(place);
    }
    let mut all = vec![0.0; numbers.len()];
    for places in by_frequency.values() {
        let looks: Vec<&Look> = places.iter().map(|place| &*plan.looks[numbers[*place]]).collect();
        for (place, of) in places.iter().zip(directivities(&plan.array, &looks)) {
            all[*place] = of;
        }
    }
    all
}

/// The same as a table.
pub(super) fn error_free_text(plan: &Plan) -> String {
    let header = [
        words("beam"),
        numbers("frequency"),
        numbers("beamwidth, deg"),
        numbers("directivity, dBi"),
        numbers("taper efficiency"),
    ];
    let mut grid = Grid::new(&header);
    for of in error_free_beams(plan) {
        let or_absent = |value: Option<f64>| value.map_or(ABSENT.to_owned(), |value| significant(value, 4));
        grid.row(vec![
            of.beam.to_owned(),
            frequency(of.frequency_hz),
            or_absent(of.beamwidth_deg),
            of.directivity_dbi.map_or(ABSENT.to_owned(), |level| fixed(level, 2)),
            format!("{} %", fixed(100.0 * of.taper_efficiency, 1)),
        ]);
    }
    format!("Error-free beams\n{}{}", grid.text(), paragraph(&meaning(&plan.array), 2, 4))
}

/// What the numbers are of.
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
    use crate::plan::LookAt;
    use crate::report::sample;
    use serde_json::{Value, json};

    #[test]
    fn beams_are_shown_to_people_and_scripts() {
        let plan = sample::plan();
        let text = error_free_text(&plan);
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
            error_free_beams(&plan).iter().map(|of| serde_json::to_value(of).unwrap()).collect();
        assert_eq!(beams.len(), plan.looks.len());
        assert_eq!((&beams[1]["beam"], &beams[1]["frequency_hz"]), (&json!("ahead"), &json!(10e9)));
        assert_eq!(beams[1]["taper_efficiency"], 1.0);
        // A half-power point beyond the edge of visible space is an absent key.
        let mut plan = plan;
        std::sync::Arc::make_mut(&mut plan.looks[1].look).error_free.beamwidth = None;
        let beams = serde_json::to_value(error_free_beams(&plan)).unwrap();
        assert!(beams[1].get("beamwidth_deg").is_none() && beams[0].get("beamwidth_deg").is_some());
        assert!(error_free_text(&plan).contains(" -  "), "{}", error_free_text(&plan));
    }

    /// What stands once however many temperatures there are.
    #[test]
    fn temperatures_add_no_rows() {
        let mut plan = sample::plan();
        let looks = plan.looks.len();
        let warm = |look: &LookAt| LookAt { temperature_number: 1, ..look.clone() };
        plan.looks = plan.looks.iter().flat_map(|look| [look.clone(), warm(look)]).collect();
        assert_eq!(error_free_beams(&plan).len(), looks);
    }
}
