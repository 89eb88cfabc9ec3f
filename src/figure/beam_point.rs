//! A beam at a frequency: everything about it that does not depend on the unit.

use crate::array::{Array, Direction, wavenumber};
use crate::figure::field::Field;
use crate::figure::visible::Visible;
use crate::figure::{DEGREES, Depth, Figure};
use crate::figure::{main_lobe, pointing_sensitivity};
use crate::math::{TAU, scalar};
use num_complex::Complex64;

/// One beam, one frequency.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct BeamPoint {
    /// Which beam of the study.
    pub beam: usize,
    /// Frequency, Hz.
    pub frequency: f64,
    /// Free-space wavenumber, rad/m.
    pub wavenumber: f64,
    /// Commanded direction.
    pub toward: Direction,
    /// Frequency that the shifters are commanded for, Hz.
    command_frequency: f64,
    /// Phase by which each channel leads or lags on its way in the commanded direction, rad within half a turn,
    /// `[channel]`.
    pub path: Vec<f32>,
    /// True for a line, which points in one plane.
    pub(super) is_line: bool,
    /// Element power at the error-free beam peak.
    pub(super) peak_element: f64,
    /// Rms pointing error, rad, for each rad of rms phase error, along the scan and across it, at the command frequency.
    pub(super) pointing_sensitivity: Option<[f64; 2]>,
    /// Unit vector in direction cosines along the scan: the plane through broadside and the beam.
    pub(super) along: (f64, f64),
    pub(super) visible: Visible,
    /// Direction of a wanted null.
    pub(super) null: Option<NullDirection>,
    /// The error-free array here.
    pub error_free: ErrorFree,
}

/// A direction in which a null is wanted.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct NullDirection {
    /// Phase of each channel there over that in the commanded direction, as cosine and sine, `[channel]`.
    pub(super) cosine: Vec<f64>,
    pub(super) sine: Vec<f64>,
    /// Element power there.
    pub(super) element: f64,
}

/// Facts of the error-free array, its shifters free of steps.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct ErrorFree {
    /// Sum of the taper amplitudes.
    pub(super) sum: f64,
    /// Sum of their squares.
    pub(super) sum_of_squares: f64,
    /// Power in the commanded direction over that at the command frequency: 1 but for squint.
    pub(super) coherence: f64,
    /// Mean square over the channels of the phase that squint leaves, rad^2.
    pub(super) squint_phase: f64,
    /// Direction of the beam peak, by its cosines.
    pub(super) peak: [f64; 2],
    /// Half-power points as distances from the peak along the scan, in direction cosines, near side (negative) and far
    /// side; `None` where one is beyond the edge of visible space.
    pub(super) half_power: Option<[f64; 2]>,
    /// Half-power beamwidth, rad.
    pub beamwidth: Option<f64>,
    /// Each figure that exists, in its unit.
    pub figures: Vec<(Figure, f64)>,
    /// Level of the highest side lobe over the beam peak, dB; `None` where visible space has none.
    pub side_lobe: Option<f64>,
    /// Mean side-lobe power over the peak's, linear.
    pub(super) mean_side_lobe: Option<f64>,
    /// Mean element power over the side-lobe region over that at the peak.
    pub(super) side_element: f64,
}

/// A frequency, and the parts that all beams have in common there.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AtFrequency {
    /// Hz.
    frequency: f64,
    wavenumber: f64,
    /// Distances to the first nulls of the error-free pattern along x and y, in direction cosines.
    main_lobe: (f64, f64),
}

impl AtFrequency {
    /// A frequency, Hz, of an array.
    pub(crate) fn new(array: &Array, frequency: f64) -> AtFrequency {
        let wavenumber = wavenumber(frequency);
        AtFrequency { frequency, wavenumber, main_lobe: main_lobe::null_distances(array, wavenumber) }
    }
}

impl BeamPoint {
    /// A beam toward `toward` (its number among the study's beams is `beam`) commanded at `command_frequency` (Hz) and used at
    /// another; `along` is the plane of the scan as azimuth, rad.
    pub(crate) fn new(
        array: &Array,
        beam: usize,
        toward: Direction,
        along: f64,
        null: Option<Direction>,
        command_frequency: f64,
        used_at: &AtFrequency,
    ) -> BeamPoint {
        let AtFrequency { frequency, wavenumber: k, main_lobe } = *used_at;
        let command = array.command(toward, command_frequency);
        let path: Vec<f64> = array.command(toward, frequency).iter().map(|phase| -phase).collect();
        let squint_phase: Vec<f32> =
            command.iter().zip(&path).map(|(command, path)| within_half_a_turn(command + path)).collect();
        let along = if array.is_line { (1.0, 0.0) } else { (scalar::cos(along), scalar::sin(along)) };
        let squint = command_frequency / frequency - 1.0;
        let centre = (toward.u * squint, toward.v * squint);
        let null = null.map(|null| {
            let shift = |(x, y): (&f64, &f64)| k * (x * (null.u - toward.u) + y * (null.v - toward.v));
            let phases: Vec<f64> = array.x.iter().zip(&array.y).map(shift).collect();
            NullDirection {
                cosine: phases.iter().map(|phase| scalar::cos(*phase)).collect(),
                sine: phases.iter().map(|phase| scalar::sin(*phase)).collect(),
                element: array.element.power(null),
            }
        });
        let mut point = BeamPoint {
            beam,
            frequency,
            wavenumber: k,
            toward,
            visible: Visible::new(array, toward, k, centre, main_lobe),
            is_line: array.is_line,
            peak_element: 1.0,
            pointing_sensitivity: (squint == 0.0).then(|| pointing_sensitivity::of(array, k, toward, along)),
            command_frequency,
            path: path.into_iter().map(within_half_a_turn).collect(),
            along,
            null,
            error_free: ErrorFree::default(),
        };
        point.measure_error_free(array, &squint_phase);
        point
    }

    /// Takes every figure of the error-free array by the same code as a unit's; `phase` is the residual of squint.
    fn measure_error_free(&mut self, array: &Array, phase: &[f32]) {
        self.error_free.sum = array.amplitude.iter().sum();
        self.error_free.sum_of_squares = array.amplitude.iter().map(|a| a * a).sum();
        let mut field = Field::<1>::new(array);
        field.phase.iter_mut().zip(phase).for_each(|(to, phase)| *to = [*phase]);
        // The half-power points are not known yet, and are skipped.
        field.take(array, self, Depth::ALL);
        self.error_free.coherence =
            field.sums.coherent_power()[0] / (self.error_free.sum * self.error_free.sum);
        // By way of degrees, as a figure gives it: predictions keep their bits.
        let squint_phase = DEGREES * field.residuals.phase_rms[0];
        self.error_free.squint_phase = (squint_phase / DEGREES).powi(2);
        self.error_free.half_power = self.half_power_points(array, &field);
        field.take(array, self, Depth::ALL);
        if self.error_free.half_power.is_some() {
            let [width] = field.beamwidth(self);
            self.error_free.beamwidth = Some(width);
        }
        self.error_free.side_lobe = self.has_side_lobes().then(|| field.side_lobe()[0]);
        self.error_free.mean_side_lobe =
            self.has_side_lobes().then(|| field.side_mean[0] / field.peak.level[0]);
        let [[u], [v]] = field.peak.directions(self);
        self.error_free.peak = [u, v];
        self.peak_element = array.element.power(Direction { u, v });
        self.error_free.side_element = self.visible.mean_side_element() / self.peak_element;
        let exists = |figure: &&Figure| figure.exists(self);
        self.error_free.figures = Figure::ALL
            .iter()
            .filter(exists)
            .map(|figure| (*figure, figure.measure(self, &field)[0] + 0.0))
            .collect();
    }

    /// Phase the shifters are commanded to, rad, `[channel]`.
    pub(crate) fn command(&self, array: &Array) -> Vec<f64> {
        array.command(self.toward, self.command_frequency)
    }

    /// Gives up the tables that can be made again for each batch of units: less memory, more time.
    pub(crate) fn give_up_tables(&mut self) {
        self.visible.give_up_tables();
    }

    /// Memory of those tables, bytes.
    pub(crate) fn table_bytes(&self) -> usize {
        self.visible.table_bytes()
    }

    /// True when visible space reaches beyond the main lobe.
    pub(crate) fn has_side_lobes(&self) -> bool {
        self.visible.has_side_lobes()
    }

    /// True when the beam is used at another frequency than the one that it is commanded at.
    pub(super) fn squints(&self) -> bool {
        self.frequency != self.command_frequency
    }

    /// Error-free value of a figure, in its unit.
    pub(crate) fn error_free_value(&self, figure: Figure) -> Option<f64> {
        self.error_free.figures.iter().find(|(of, _)| *of == figure).map(|(_, value)| *value)
    }

    /// Steps outward along the scan from the peak until the level has fallen to a half, then halves the last step.
    fn half_power_points(&self, array: &Array, field: &Field<1>) -> Option<[f64; 2]> {
        let peak = &field.peak;
        let level = |distance: f64| {
            let (u, v) = (peak.u[0] + distance * self.along.0, peak.v[0] + distance * self.along.1);
            let contributions = (0..array.channels()).map(|n| {
                let phase =
                    f64::from(field.phase[n][0]) + self.wavenumber * (array.x[n] * u + array.y[n] * v);
                array.amplitude[n] * Complex64::new(scalar::cos(phase), scalar::sin(phase))
            });
            let power = contributions.sum::<Complex64>().norm_sqr();
            let direction = Direction { u: self.toward.u + u, v: self.toward.v + v };
            let is_visible = direction.u * direction.u + direction.v * direction.v <= 1.0;
            is_visible.then(|| power * array.element.power(direction))
        };
        let half = peak.level[0] / 2.0;
        let find = |away: f64| {
            let step = 0.02 * self.visible.region.main_lobe_along(self.along);
            let mut inside = 0.0;
            let mut outside = away * step;
            while level(outside)? > half {
                inside = outside;
                outside += away * step;
            }
            for _ in 0..60 {
                let middle = (inside + outside) / 2.0;
                if level(middle)? > half { inside = middle } else { outside = middle }
            }
            Some((inside + outside) / 2.0)
        };
        Some([find(-1.0)?, find(1.0)?])
    }
}

fn within_half_a_turn(phase: f64) -> f32 {
    (phase - TAU * (phase / TAU).round_ties_even()) as f32
}
