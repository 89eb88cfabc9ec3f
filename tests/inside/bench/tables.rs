//! One code table for a band, or several.

use super::{drawn, residual_rms};
use crate::inside::check_values::case::{Case, line};
use beamyield::engine::rebuild;
use beamyield::figure::Figure;
use beamyield::math::TAU;
use beamyield::model::Model;

const FREQUENCIES: [f64; 5] = [26.5e9, 27.1e9, 28e9, 28.7e9, 29.5e9];

/// Channels whose cables differ in length, used over a band.
fn model(tables: &str) -> Model {
    let case = Case {
        frequencies: "\"26.5 GHz\", \"27.1 GHz\", \"28 GHz\", \"28.7 GHz\", \"29.5 GHz\"".into(),
        figures: &[Figure::ResidualPhaseRms],
        array: line(8),
        blocks: "[[block]]\nname = \"run\"\nkind = \"cable\"\nlength = { nominal = \"120 mm\", normal = { sd = \"2 mm\" } }\nvelocity_factor = 0.7\n".into(),
        calibration: format!("align = {{ method = \"fit\", codes = 16 }}\noffsets = \"phases\"\n{tables}"),
        ..Case::default()
    };
    case.model()
}

/// Rms phase error, deg, where a table made at one frequency is used at another: TAU df dL/(c VF) a channel, the common part taken out.
fn expected(lengths: &[f64], used: f64, made: f64) -> f64 {
    let of = |length: &f64| -TAU * (used - made) * length / (299_792_458.0 * 0.7);
    residual_rms(&lengths.iter().map(of).collect::<Vec<f64>>()).to_degrees()
}

/// Rounding to 12 bits, deg: half a code at most in every channel.
const ROUNDING: f64 = 0.045;

#[test]
fn delays_come_back_as_phase_away_from_where_the_table_was_made() {
    let one = model("");
    // In use the nearest table counts; midway between two, the lower.
    let three = model("frequencies = [\"29.5 GHz\", \"26.5 GHz\", \"28 GHz\"]");
    let chosen = [26.5e9, 26.5e9, 28e9, 28e9, 29.5e9];
    let two = model("frequencies = [\"27.5 GHz\", \"28.5 GHz\"]");
    let chosen_of_two = [27.5e9, 27.5e9, 27.5e9, 28.5e9, 28.5e9];
    let mut edge = 0.0;
    for trial in 0..30 {
        let unit = rebuild(&one, trial);
        let lengths = drawn(&one, &unit, "run.length", 0);
        let several = [&three, &two].map(|model| rebuild(model, trial));
        for (number, used) in FREQUENCIES.into_iter().enumerate() {
            for (unit, made) in
                [(&unit, 28e9), (&several[0], chosen[number]), (&several[1], chosen_of_two[number])]
            {
                let found = unit.calibrations[0].values[number];
                let expected = expected(&lengths, used, made);
                assert!((found - expected).abs() < ROUNDING, "{used} by {made}: {found} {expected}");
            }
        }
        edge += expected(&lengths, FREQUENCIES[0], 28e9) / 30.0;
        // Where a table was made the rounding alone is left.
        assert!([0, 2, 4].iter().all(|at| several[0].calibrations[0].values[*at] < ROUNDING));
        assert_eq!(several[0].calibrations[0].tables.len(), 3);
    }
    assert!(edge > 3.0, "what one table leaves at the edge counts: {edge} deg");
}
