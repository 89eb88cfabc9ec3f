//! The samples of visible space that the far field is searched on.

use crate::array::{Array, Direction, Element, Lattice};
use crate::figure::OVERSAMPLING;
use crate::figure::direct::Direct;
use crate::figure::mean_weights::{MeanWeights, over_side_lobes};
use crate::figure::region::{Region, Shape};
use crate::math::TAU;
use std::ops::Range;

/// One direction cosine's samples: those of one period of the pattern, the transform's bins, and those of visible
/// space, which may be fewer or more.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Axis {
    /// Where there is no period, no fewer than the samples.
    pub bins: usize,
    /// Distance between samples, in direction cosine; 0 across a line.
    pub spacing: f64,
    /// Offset of the first sample from the commanded direction, in samples; it is beyond visible space.
    pub first: i64,
    /// Samples, those beyond each edge included.
    pub count: usize,
}

/// Samples kept beyond each edge of visible space, for interpolation next to it.
const BEYOND: i64 = 3;

/// Distance between samples of the far field of elements at any places, in direction cosine; `extent` (m) is that between
/// the outermost.
///
/// The extent is taken larger than it is, since visible space has as sharp an edge for a small array as for a large one:
/// with two wavelengths more the mean side lobe is right to 0.02 dB.
pub(crate) fn sample_spacing(extent: f64, wavelength: f64) -> f64 {
    1.0 / (OVERSAMPLING as f64 * (extent / wavelength + 2.0))
}

impl Axis {
    const ACROSS_LINE: Axis = Axis { bins: 1, spacing: 0.0, first: 0, count: 1 };

    fn new(elements: usize, pitch: f64, wavenumber: f64, toward: f64) -> Axis {
        if elements == 1 {
            return Axis::ACROSS_LINE;
        }
        let bins = elements.next_power_of_two() * OVERSAMPLING;
        let spacing = TAU / (wavenumber * pitch * bins as f64);
        Axis::over_visible_space(bins, spacing, toward)
    }

    /// For elements at any places, `extent` (m) apart at most.
    fn of_extent(extent: f64, wavenumber: f64, toward: f64) -> Axis {
        Axis::over_visible_space(usize::MAX, sample_spacing(extent, TAU / wavenumber), toward)
    }

    fn over_visible_space(bins: usize, spacing: f64, toward: f64) -> Axis {
        // A sample on the edge may round to beyond it.
        let low = ((-1.0 - toward) / spacing - 1e-6).ceil() as i64;
        let high = ((1.0 - toward) / spacing + 1e-6).floor() as i64;
        Axis { bins, spacing, first: low - BEYOND, count: (high - low + 1 + 2 * BEYOND) as usize }
    }

    pub(super) fn offset(&self, sample: usize) -> f64 {
        (self.first + sample as i64) as f64 * self.spacing
    }

    /// Place of an offset among the samples.
    pub(super) fn place(&self, offset: f64) -> f64 {
        offset / self.spacing - self.first as f64
    }

    /// Bin of the transform at the first sample.
    pub(super) fn first_bin(&self) -> usize {
        self.first.rem_euclid(self.bins as i64) as usize
    }

    /// Samples that the transform gives; the rest repeat them.
    pub(super) fn transformed(&self) -> usize {
        self.bins.min(self.count)
    }
}

/// How the far field is summed.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Way {
    /// By transforms along the rows and columns of a rectangular lattice.
    Lattice(Lattice),
    /// Element by element, wherever they stand.
    Rows(Direct),
}

/// Neighbouring samples of one row that belong to one region.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Run {
    pub samples: Range<usize>,
    pub row: usize,
    /// Next to the main lobe: the steps along x and y that lead to it. (0, 0) elsewhere.
    pub inward: (i32, i32),
}

/// The samples of some rows at some columns.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Window {
    pub columns: Range<usize>,
    pub rows: Range<usize>,
}

/// Samples to each side of the highest that its place is found from.
const AROUND: usize = 2;

impl Window {
    /// The part around some runs.
    fn around(&self, runs: &[Run]) -> Window {
        let within = |all: &Range<usize>, taken: &dyn Fn(&Run) -> Range<usize>| {
            let start = runs.iter().map(|run| taken(run).start).min().unwrap_or(0);
            let end = runs.iter().map(|run| taken(run).end).max().unwrap_or(0);
            start.saturating_sub(AROUND)..(end + AROUND).min(all.end)
        };
        let stride = self.columns.end;
        Window {
            columns: within(&self.columns, &|run| {
                let first = run.samples.start % stride;
                first..first + run.samples.len()
            }),
            rows: within(&self.rows, &|run| run.row..run.row + 1),
        }
    }
}

/// A direction on the edge of visible space, and the side-lobe sample next to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct AtEdge {
    pub sample: usize,
    /// Offset from the commanded direction, in direction cosines.
    pub offset: (f64, f64),
}

/// The samples of visible space around a commanded direction, `[row][column]` with some beyond each edge.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Visible {
    pub(super) columns: Axis,
    pub(super) rows: Axis,
    pub(super) way: Way,
    pub(super) region: Region,
    pub(super) main_lobe: Vec<Run>,
    /// The samples that the place of its top is found from.
    around_main_lobe: Window,
    /// Side lobes by the samples alone: the highest stands in where there is no second top.
    pub(super) side_lobes: Vec<Run>,
    /// Those of them whose neighbours are side-lobe samples too.
    pub(super) inner_side_lobes: Vec<Run>,
    /// Samples that may be the highest of a side lobe: the side-lobe samples and their neighbours.
    pub(super) lobe_tops: Vec<Run>,
    toward: Direction,
    of_element: Element,
    /// Element power at each sample, where it is kept; nothing for an element that radiates alike everywhere.
    element: Vec<f32>,
    pub(super) at_edge: Vec<AtEdge>,
    /// Weight of each sample in the mean over the side-lobe region.
    pub(super) mean_weights: MeanWeights,
    side_element: f64,
}

impl Visible {
    /// Samples for a beam toward `toward`. The main lobe is around `centre` (offset from the command, not zero
    /// off the command frequency) out to the error-free nulls at `main_lobe`, all in direction cosines.
    pub(super) fn new(
        array: &Array,
        toward: Direction,
        wavenumber: f64,
        centre: (f64, f64),
        main_lobe: (f64, f64),
    ) -> Visible {
        let (columns, rows, way) = match array.rectangle() {
            Some(lattice) => (
                Axis::new(lattice.columns, lattice.dx, wavenumber, toward.u),
                Axis::new(lattice.rows, lattice.dy, wavenumber, toward.v),
                Way::Lattice(*lattice),
            ),
            None => {
                let of = |position: &[f64], toward| Axis::of_extent(extent(position), wavenumber, toward);
                let across = if array.is_line { Axis::ACROSS_LINE } else { of(&array.y, toward.v) };
                let along = of(&array.x, toward.u);
                (along, across, Way::Rows(Direct::new(array, wavenumber, &along, &across)))
            }
        };
        let shape = if array.lattice.is_some() { Shape::Rectangle } else { Shape::Ellipse };
        let region = Region::new(toward, centre, main_lobe, shape);
        let weights = over_side_lobes(&columns, &rows, &region);
        let mut visible = Visible {
            columns,
            rows,
            way,
            region,
            main_lobe: Vec::new(),
            around_main_lobe: Window { columns: 0..columns.count, rows: 0..rows.count },
            side_lobes: Vec::new(),
            inner_side_lobes: Vec::new(),
            lobe_tops: Vec::new(),
            toward,
            of_element: array.element,
            element: Vec::new(),
            at_edge: Vec::new(),
            mean_weights: MeanWeights::new(&weights),
            side_element: 0.0,
        };
        for row in 0..rows.count {
            for column in 0..columns.count {
                let offset = (columns.offset(column), rows.offset(row));
                visible.sort(row, column, offset);
                if visible.is_isotropic() {
                    visible.note_edge(row * columns.count + column, offset);
                }
            }
        }
        let Visible { main_lobe, side_lobes, inner_side_lobes, lobe_tops, .. } = &mut visible;
        [main_lobe, side_lobes, inner_side_lobes, lobe_tops].into_iter().for_each(Vec::shrink_to_fit);
        visible.around_main_lobe = visible.all().around(&visible.main_lobe);
        let elements: Vec<f64> = visible.element_powers().collect();
        visible.side_element = weights.iter().zip(&elements).map(|(weight, element)| weight * element).sum();
        if !visible.is_isotropic() {
            visible.element = elements.iter().map(|element| *element as f32).collect();
        }
        visible
    }

    /// All samples, or those that the place of the main lobe's top is found from.
    pub(super) fn window(&self, is_whole: bool) -> Window {
        if is_whole { self.all() } else { self.around_main_lobe.clone() }
    }

    fn all(&self) -> Window {
        Window { columns: 0..self.columns.count, rows: 0..self.rows.count }
    }

    fn is_isotropic(&self) -> bool {
        self.of_element.exponent == 0.0
    }

    fn direction(&self, offset: (f64, f64)) -> Direction {
        Direction { u: self.toward.u + offset.0, v: self.toward.v + offset.1 }
    }

    /// Of each sample.
    fn element_powers(&self) -> impl Iterator<Item = f64> + '_ {
        let place = |sample| (sample % self.columns.count, sample / self.columns.count);
        let places = (0..self.rows.count * self.columns.count).map(place);
        let offsets = places.map(|(column, row)| (self.columns.offset(column), self.rows.offset(row)));
        offsets.map(|offset| self.of_element.power(self.direction(offset)))
    }

    /// Element power at each sample, made in `room` where it is not kept; `None` for an element that radiates alike everywhere.
    pub(super) fn element<'a>(&'a self, room: &'a mut Vec<f32>) -> Option<&'a [f32]> {
        if self.is_isotropic() {
            return None;
        }
        if !self.element.is_empty() {
            return Some(&self.element);
        }
        room.clear();
        room.extend(self.element_powers().map(|power| power as f32));
        Some(room)
    }

    /// Gives up the tables that can be made again for each batch, at a price of time.
    pub(super) fn give_up_tables(&mut self) {
        self.element = Vec::new();
    }

    /// Memory of those tables, bytes.
    pub(super) fn table_bytes(&self) -> usize {
        size_of_val(self.element.as_slice())
    }

    /// Puts a sample into the regions that it belongs to.
    fn sort(&mut self, row: usize, column: usize, (u, v): (f64, f64)) {
        let sample = row * self.columns.count + column;
        let (du, dv) = (self.columns.spacing, self.rows.spacing);
        let steps = [-1.0, 0.0, 1.0];
        let around = || steps.iter().flat_map(|i| steps.iter().map(move |j| (u + i * du, v + j * dv)));
        let is_side = |(u, v)| self.region.is_side_lobe(u, v);
        if self.region.is_main_lobe(u, v) {
            extend(&mut self.main_lobe, row, sample, (0, 0));
        }
        if is_side((u, v)) {
            extend(&mut self.side_lobes, row, sample, (0, 0));
        }
        if around().all(is_side) {
            extend(&mut self.inner_side_lobes, row, sample, (0, 0));
        }
        if around().any(is_side) {
            extend(&mut self.lobe_tops, row, sample, self.region.inward((u, v), (du, dv)));
        }
    }

    /// Notes where the edge is when it is less than a sample away from a side-lobe sample.
    fn note_edge(&mut self, sample: usize, (u, v): (f64, f64)) {
        let direction = self.direction((u, v));
        let radius = (direction.u * direction.u + direction.v * direction.v).sqrt();
        let outward = (direction.u * (1.0 / radius - 1.0), direction.v * (1.0 / radius - 1.0));
        let is_near = outward.0.abs() < self.columns.spacing
            && (self.rows.bins == 1 || outward.1.abs() < self.rows.spacing);
        if self.region.is_side_lobe(u, v) && is_near {
            self.at_edge.push(AtEdge { sample, offset: (u + outward.0, v + outward.1) });
        }
    }

    /// Distance between samples along x and y, in direction cosines; 0 along y for a line.
    pub(super) fn spacing(&self) -> (f64, f64) {
        (self.columns.spacing, self.rows.spacing)
    }

    /// True when visible space holds more than the main lobe.
    pub(super) fn has_side_lobes(&self) -> bool {
        !self.side_lobes.is_empty()
    }

    /// Mean element power over the side-lobe region.
    pub(super) fn mean_side_element(&self) -> f64 {
        self.side_element
    }
}

/// Distance between the outermost places.
pub(super) fn extent(position: &[f64]) -> f64 {
    let (low, high) = position
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(*x), high.max(*x)));
    high - low
}

/// Adds a sample to the last run, or begins a new one.
fn extend(runs: &mut Vec<Run>, row: usize, sample: usize, inward: (i32, i32)) {
    match runs.last_mut() {
        Some(run) if run.row == row && run.samples.end == sample && run.inward == inward => {
            run.samples.end += 1
        }
        _ => runs.push(Run { samples: sample..sample + 1, row, inward }),
    }
}
