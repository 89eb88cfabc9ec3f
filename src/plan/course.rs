//! Which code tables a calibration plan makes, and which of them a look uses.

use crate::bench::{Calibration, Tables};
use crate::chain::Conditions;
use crate::plan::{Course, LookAt, TableSpec, View};

/// The tables of a calibration plan; what the bench sees for them is added to `views` where it is not there yet.
pub(super) fn course(
    calibration: &Calibration,
    at_bench: Conditions,
    looks: &[LookAt],
    views: &mut Vec<View>,
) -> Course {
    let is_whole = calibration.is_over_the_air();
    let mut view_at = |frequency: f64| {
        let view = View { at: Conditions { frequency, ..at_bench }, is_whole };
        views.iter().position(|of| *of == view).unwrap_or_else(|| {
            views.push(view);
            views.len() - 1
        })
    };
    match &calibration.tables {
        Tables::One => {
            let tables = vec![TableSpec { view: view_at(at_bench.frequency), look: None }];
            Course { tables, chosen: vec![0; looks.len()] }
        }
        Tables::Frequencies(frequencies) => {
            let tables = frequencies.iter().map(|of| TableSpec { view: view_at(*of), look: None }).collect();
            let nearest = |look: &LookAt| {
                let mut best = 0;
                for (number, frequency) in frequencies.iter().enumerate() {
                    let is_nearer =
                        (frequency - look.frequency).abs() < (frequencies[best] - look.frequency).abs();
                    best = if is_nearer { number } else { best };
                }
                best
            };
            Course { tables, chosen: looks.iter().map(nearest).collect() }
        }
        Tables::Beams => {
            let view = view_at(at_bench.frequency);
            // Beams stand in order, each first at the first conditions.
            let first = looks.iter().enumerate().filter(|(_, look)| look.conditions == 0);
            Course {
                tables: first.map(|(look, _)| TableSpec { view, look: Some(look) }).collect(),
                chosen: looks.iter().map(|look| look.beam).collect(),
            }
        }
    }
}
