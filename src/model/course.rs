//! Which code tables a calibration plan makes, and which of them a beam point uses.

use crate::bench::{Calibration, Tables};
use crate::chain::Conditions;
use crate::model::{Course, OperatingPoint, TableSpec, View};

/// The tables of a calibration plan; what the bench sees for them is added to `views` where it is not there yet.
pub(super) fn course(
    calibration: &Calibration,
    at_bench: Conditions,
    points: &[OperatingPoint],
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
            let tables = vec![TableSpec { view: view_at(at_bench.frequency), point: None }];
            Course { tables, chosen: vec![0; points.len()] }
        }
        Tables::Frequencies(frequencies) => {
            let tables = frequencies.iter().map(|of| TableSpec { view: view_at(*of), point: None }).collect();
            let nearest = |point: &OperatingPoint| {
                let mut best = 0;
                for (number, frequency) in frequencies.iter().enumerate() {
                    let is_nearer =
                        (frequency - point.frequency).abs() < (frequencies[best] - point.frequency).abs();
                    best = if is_nearer { number } else { best };
                }
                best
            };
            Course { tables, chosen: points.iter().map(nearest).collect() }
        }
        Tables::Beams => {
            let view = view_at(at_bench.frequency);
            // Beams stand in order, each first at the first conditions.
            let first = points.iter().enumerate().filter(|(_, point)| point.conditions == 0);
            Course {
                tables: first.map(|(point, _)| TableSpec { view, point: Some(point) }).collect(),
                chosen: points.iter().map(|point| point.beam).collect(),
            }
        }
    }
}
