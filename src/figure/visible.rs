//! The samples of visible space that the far field is searched on.

use crate::array::{Array, Direction};
use crate::figure::OVERSAMPLING;
use crate::math::TAU;
use std::ops::Range;

/// One direction cosine's samples: `length` transform bins times the oversampling over one period of the pattern.
#[derive(Clone, Copy, Debug)]
pub(super) struct Axis {
    pub bins: usize,
    /// Distance between samples, in direction cosine.
    pub spacing: f64,
    /// Offset of the first sample from the commanded direction, in samples; it lies beyond visible space.
    pub first: i64,
    /// Samples, those beyond each edge included.
    pub count: usize,
}

/// Samples kept beyond each edge of visible space, for interpolation next to it.
const BEYOND: i64 = 2;

impl Axis {
    fn new(elements: usize, pitch: f64, wavenumber: f64, toward: f64) -> Axis {
        if elements == 1 {
            return Axis { bins: 1, spacing: 0.0, first: 0, count: 1 };
        }
        let bins = elements.next_power_of_two() * OVERSAMPLING;
        let spacing = TAU / (wavenumber * pitch * bins as f64);
        let low = ((-1.0 - toward) / spacing).ceil() as i64;
        let high = ((1.0 - toward) / spacing).floor() as i64;
        Axis { bins, spacing, first: low - BEYOND, count: (high - low + 1 + 2 * BEYOND) as usize }
    }

    pub fn offset(&self, sample: usize) -> f64 {
        (self.first + sample as i64) as f64 * self.spacing
    }

    pub fn bin(&self, sample: usize) -> usize {
        (self.first + sample as i64).rem_euclid(self.bins as i64) as usize
    }
}

/// Neighbouring samples of one row that belong to one region.
#[derive(Clone, Debug)]
pub(super) struct Run {
    pub samples: Range<usize>,
    pub row: usize,
}

/// A side-lobe sample next to the edge of visible space: how far the edge is, in samples along x and y.
#[derive(Clone, Copy, Debug)]
pub(super) struct AtEdge {
    pub sample: usize,
    pub to_edge: (f64, f64),
}

/// The samples of visible space around a commanded direction, `[row][column]` with some beyond each edge.
#[derive(Clone, Debug)]
pub struct Visible {
    pub(super) columns: Axis,
    pub(super) rows: Axis,
    pub(super) main_lobe_runs: Vec<Run>,
    pub(super) side_lobe_runs: Vec<Run>,
    /// Element power at each sample; `None` for an element that radiates alike everywhere.
    pub(super) element: Option<Vec<f64>>,
    side_element: f64,
    pub(super) at_edge: Vec<AtEdge>,
    pub(super) side_samples: usize,
    main_lobe: (f64, f64),
    pub(super) centre: (f64, f64),
}

impl Visible {
    /// Samples for a beam toward `toward`. The main lobe lies around `centre` (offset from the command, not zero
    /// off the command frequency) out to the error-free nulls at `main_lobe`, all in direction cosines.
    pub(super) fn new(
        array: &Array,
        toward: Direction,
        wavenumber: f64,
        centre: (f64, f64),
        main_lobe: (f64, f64),
    ) -> Visible {
        let lattice = &array.lattice;
        let columns = Axis::new(lattice.columns, lattice.dx, wavenumber, toward.u);
        let rows = Axis::new(lattice.rows, lattice.dy, wavenumber, toward.v);
        let isotropic = array.element.exponent == 0.0;
        let mut visible = Visible {
            columns,
            rows,
            main_lobe_runs: Vec::new(),
            side_lobe_runs: Vec::new(),
            element: None,
            side_element: 0.0,
            at_edge: Vec::new(),
            side_samples: 0,
            main_lobe,
            centre,
        };
        // A null that falls on a sample, as a uniform line's does, belongs to the side lobes.
        let inside = (main_lobe.0 * (1.0 - 1e-6), main_lobe.1 * (1.0 - 1e-6));
        let mut elements = Vec::with_capacity(rows.count * columns.count);
        for row in 0..rows.count {
            for column in 0..columns.count {
                let sample = row * columns.count + column;
                let (wu, wv) = (columns.offset(column), rows.offset(row));
                let direction = Direction { u: toward.u + wu, v: toward.v + wv };
                let radius = (direction.u * direction.u + direction.v * direction.v).sqrt();
                let in_main = (wu - centre.0).abs() < inside.0 && (wv - centre.1).abs() < inside.1;
                let element = array.element.power(direction);
                elements.push(element);
                if radius > 1.0 {
                    continue;
                }
                if in_main {
                    extend(&mut visible.main_lobe_runs, row, sample);
                    continue;
                }
                extend(&mut visible.side_lobe_runs, row, sample);
                visible.side_samples += 1;
                visible.side_element += element;
                let to_edge = (
                    direction.u * (1.0 / radius - 1.0) / columns.spacing,
                    if rows.bins == 1 { 0.0 } else { direction.v * (1.0 / radius - 1.0) / rows.spacing },
                );
                // An element with a pattern radiates nothing along the face, so nothing peaks at the edge.
                if isotropic && to_edge.0.abs() < 1.0 && to_edge.1.abs() < 1.0 {
                    visible.at_edge.push(AtEdge { sample, to_edge });
                }
            }
        }
        visible.side_element /= visible.side_samples.max(1) as f64;
        visible.element = (!isotropic).then_some(elements);
        visible
    }

    /// Distance between samples along x and y, in direction cosines; 0 along y for a line.
    pub(super) fn spacing(&self) -> (f64, f64) {
        (self.columns.spacing, self.rows.spacing)
    }

    /// Distance to the first null in a direction (unit vector), at most.
    pub(super) fn main_lobe_along(&self, along: (f64, f64)) -> f64 {
        let reach = |null: f64, cosine: f64| if cosine == 0.0 { f64::INFINITY } else { null / cosine.abs() };
        reach(self.main_lobe.0, along.0).min(reach(self.main_lobe.1, along.1))
    }

    /// True when visible space holds more than the main lobe.
    pub(super) fn has_side_lobes(&self) -> bool {
        self.side_samples > 0
    }

    /// Mean element power over the side-lobe region.
    pub(super) fn mean_side_element(&self) -> f64 {
        self.side_element
    }
}

/// Adds a sample to the last run, or begins a new one.
fn extend(runs: &mut Vec<Run>, row: usize, sample: usize) {
    match runs.last_mut() {
        Some(run) if run.row == row && run.samples.end == sample => run.samples.end += 1,
        _ => runs.push(Run { samples: sample..sample + 1, row }),
    }
}
