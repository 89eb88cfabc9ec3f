//! Figures of merit, which a spec can limit. One figure a file; register it in the list below.
//!
//! All of them are taken from the same [`Field`]: the unit's channels, calibrated and steered, seen from the
//! commanded direction. Values are in the unit that the figure names: degrees or dB.

mod angles;
mod beam_point;
mod cut;
mod depth;
mod direct;
mod directivity;
mod field;
mod lobes;
mod main_lobe;
mod mean_weights;
mod pointing_sensitivity;
mod prediction;
mod probe;
mod region;
mod residuals;
mod scan;
mod slopes;
mod transforms;
mod visible;

pub(crate) use beam_point::{AtFrequency, BeamPoint, NullDirection};
pub(crate) use cut::{Cut, Phasors, Plane, Radiated};
pub(crate) use depth::Depth;
pub(crate) use directivity::directivities;
pub(crate) use field::Field;
pub(crate) use prediction::SmallErrors;
pub(crate) use scan::OVERSAMPLING;
pub(crate) use visible::sample_spacing;

use crate::math::elementary;
use multiversion::multiversion;

/// dB in a neper of amplitude.
const DB_A_NEPER: f64 = 20.0 / std::f64::consts::LN_10;
/// dB in a neper of power.
const DB_A_NEPER_OF_POWER: f64 = 10.0 / std::f64::consts::LN_10;
/// Degrees in a radian.
const DEGREES: f64 = 180.0 / std::f64::consts::PI;

/// Unit of a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Unit {
    /// Degrees of angle or of phase.
    Degree,
    /// Decibels.
    Decibel,
}

impl Unit {
    /// As printed.
    pub(crate) fn symbol(self) -> &'static str {
        match self {
            Unit::Degree => "deg",
            Unit::Decibel => "dB",
        }
    }
}

/// A power over another, dB, for each lane; NaN stays NaN.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn decibels<const W: usize>(power: &[f64; W], over: &[f64; W]) -> [f64; W] {
    let mut decibels = [0.0; W];
    for l in 0..W {
        let ratio = power[l] / over[l];
        // The kernel gives a number for everything; this term is 0 but for NaN and infinity.
        let nothing = 0.0 * ratio;
        decibels[l] = DB_A_NEPER_OF_POWER * elementary::ln(ratio) + nothing;
    }
    decibels
}

/// The largest size of an angle or a phase, degrees.
const HALF_A_TURN: f64 = 180.0;

/// An error left in the channels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Residual {
    /// Of phase.
    Phase,
    /// Of amplitude.
    Amplitude,
}

/// A figure of merit, with its formulas, its bounds and its words.
trait FigureOfMerit {
    /// Name in study files and in every output.
    const NAME: &'static str;
    /// In plain words, for people.
    const TITLE: &'static str;
    /// Unit of its values.
    const UNIT: Unit;
    /// The parts of a field that it is taken from.
    const DEPTH: Depth;
    /// An angle of the beam, which a limit may give in beamwidths.
    const IS_BEAM_ANGLE: bool = false;
    /// Its sign has a meaning of its own, and a limit is on the size.
    const IS_SIGNED: bool = false;
    /// A level over the beam peak, which nothing beside the beam exceeds.
    const IS_UNDER_PEAK: bool = false;
    /// It is reported where a study names no figures.
    const IS_USUAL: bool = true;
    /// The root mean square over the channels of such an error.
    const RMS_RESIDUAL: Option<Residual> = None;
    /// Its limit is a line across a drawn pattern, with this label.
    const PATTERN_LINE: Option<&'static str> = None;
    /// The condition on a beam for it to exist, where not every beam has it.
    const EXISTS_WHERE: Option<&'static str> = None;
    /// The figure to limit instead, with the reason, where the error-free array misses a limit.
    const INSTEAD: Option<&'static str> = None;

    /// True where it has a meaning at all.
    fn exists(_: &BeamPoint) -> bool {
        true
    }

    /// The figure of W units.
    fn measure<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W];

    /// Mean by the small-error formula, where there is one.
    fn predicted_mean(_: &BeamPoint, _: &SmallErrors) -> Option<f64> {
        None
    }

    /// The least and the most that it (its size, where it is signed) can be of a unit that has a beam, in its unit.
    fn attainable(_: &BeamPoint) -> (f64, f64) {
        match () {
            _ if Self::IS_SIGNED => (0.0, HALF_A_TURN),
            _ if Self::IS_UNDER_PEAK => (f64::NEG_INFINITY, 0.0),
            _ => (f64::NEG_INFINITY, f64::INFINITY),
        }
    }
}

macro_rules! figures {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; pub(crate) use $module::$Type;)*

        /// The figures a study can ask for and limit.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub(crate) enum Figure { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type),* }

        impl Figure {
            /// All figures, in the order they are reported.
            pub(crate) const ALL: &[Figure] = &[$(Figure::$Type),*];

            /// Name in study files and in every output.
            pub(crate) fn name(self) -> &'static str {
                match self { $(Figure::$Type => $Type::NAME),* }
            }

            /// In plain words, for people.
            pub(crate) fn title(self) -> &'static str {
                match self { $(Figure::$Type => $Type::TITLE),* }
            }

            /// Unit of its values.
            pub(crate) fn unit(self) -> Unit {
                match self { $(Figure::$Type => $Type::UNIT),* }
            }

            /// The parts of a field that it is taken from.
            pub(crate) fn depth(self) -> Depth {
                match self { $(Figure::$Type => $Type::DEPTH),* }
            }

            /// True for an angle of the beam, which a limit may give in beamwidths.
            pub(crate) fn is_beam_angle(self) -> bool {
                match self { $(Figure::$Type => $Type::IS_BEAM_ANGLE),* }
            }

            /// True when the sign has a meaning of its own and a limit is on the size.
            pub(crate) fn is_signed(self) -> bool {
                match self { $(Figure::$Type => $Type::IS_SIGNED),* }
            }

            /// True for a level over the beam peak, which nothing beside the beam exceeds.
            pub(crate) fn is_under_peak(self) -> bool {
                match self { $(Figure::$Type => $Type::IS_UNDER_PEAK),* }
            }

            /// True when a study that names no figures reports it.
            pub(crate) fn is_usual(self) -> bool {
                match self { $(Figure::$Type => $Type::IS_USUAL),* }
            }

            /// The error whose root mean square over the channels it is.
            pub(crate) fn rms_residual(self) -> Option<Residual> {
                match self { $(Figure::$Type => $Type::RMS_RESIDUAL),* }
            }

            /// Label of a limit on it across a drawn pattern, where that shows it.
            pub(crate) fn pattern_line(self) -> Option<&'static str> {
                match self { $(Figure::$Type => $Type::PATTERN_LINE),* }
            }

            /// The condition on a beam for the figure to exist, where not every beam has it.
            pub(crate) fn exists_where(self) -> Option<&'static str> {
                match self { $(Figure::$Type => $Type::EXISTS_WHERE),* }
            }

            /// The figure to limit instead, with the reason, where the error-free array misses a limit.
            pub(crate) fn instead(self) -> Option<&'static str> {
                match self { $(Figure::$Type => $Type::INSTEAD),* }
            }

            /// True where the figure has a meaning at all: a beam without a null direction has no null depth.
            pub(crate) fn exists(self, point: &BeamPoint) -> bool {
                match self { $(Figure::$Type => $Type::exists(point)),* }
            }

            /// The figure of W units.
            pub(crate) fn measure<const W: usize>(self, point: &BeamPoint, field: &Field<W>) -> [f64; W] {
                match self { $(Figure::$Type => $Type::measure(point, field)),* }
            }

            /// Mean by the small-error formula, where there is one.
            pub(crate) fn predicted_mean(self, point: &BeamPoint, errors: &SmallErrors) -> Option<f64> {
                match self { $(Figure::$Type => $Type::predicted_mean(point, errors)),* }
            }

            /// The least and the most that the figure (its size, where it is signed) can be of a unit that has a beam, in its unit.
            pub(crate) fn attainable(self, point: &BeamPoint) -> (f64, f64) {
                match self { $(Figure::$Type => $Type::attainable(point)),* }
            }
        }
    };
}

figures! {
    residual_phase_rms::ResidualPhaseRms,
    residual_phase_max::ResidualPhaseMax,
    residual_amplitude_rms::ResidualAmplitudeRms,
    residual_amplitude_max::ResidualAmplitudeMax,
    array_gain_loss::ArrayGainLoss,
    eirp_change::EirpChange,
    pointing_error::PointingError,
    beamwidth_change::BeamwidthChange,
    peak_side_lobe::PeakSideLobe,
    mean_side_lobe::MeanSideLobe,
    null_depth::NullDepth,
    pointing_shift::PointingShift,
    pointing_shift_across::PointingShiftAcross,
}

impl Figure {
    /// The figure of that name.
    pub(crate) fn from_name(name: &str) -> Option<Figure> {
        Figure::ALL.iter().copied().find(|figure| figure.name() == name)
    }

    /// Those that a study reports which names none.
    pub(crate) fn usual() -> Vec<Figure> {
        Figure::ALL.iter().copied().filter(|figure| figure.is_usual()).collect()
    }
}
