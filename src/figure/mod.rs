//! Figures of merit: what a spec can limit. One figure a file; register it in the list below.
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

pub use beam_point::{AtFrequency, BeamPoint, NullDirection};
pub use cut::{Cut, FLOOR_DB, Phasors, Plane, Radiated};
pub use depth::Depth;
pub use directivity::directivities;
pub use field::Field;
pub use prediction::SmallErrors;
pub use scan::OVERSAMPLING;
pub use visible::sample_spacing;

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
pub enum Unit {
    /// Degrees of angle or of phase.
    Degree,
    /// Decibels.
    Decibel,
}

impl Unit {
    /// As printed.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Degree => "deg",
            Unit::Decibel => "dB",
        }
    }
}

/// A power over another, dB, for each lane; what is no number stays none.
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

macro_rules! figures {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; pub use $module::$Type;)*

        /// The figures a study can ask for and limit.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Figure { $(#[doc = concat!("See [`", stringify!($Type), "`].")] $Type),* }

        impl Figure {
            /// All figures, in the order they are reported.
            pub const ALL: &[Figure] = &[$(Figure::$Type),*];

            /// Name in study files and in every output.
            pub fn name(self) -> &'static str {
                match self { $(Figure::$Type => $Type::NAME),* }
            }

            /// In plain words, for people.
            pub fn title(self) -> &'static str {
                match self { $(Figure::$Type => $Type::TITLE),* }
            }

            /// Unit of its values.
            pub fn unit(self) -> Unit {
                match self { $(Figure::$Type => $Type::UNIT),* }
            }

            /// True when the sign has a meaning of its own and a limit is on the size.
            pub fn is_signed(self) -> bool {
                self.is_angle_of_beam()
            }

            /// What it is taken from.
            pub fn depth(self) -> Depth {
                match self { $(Figure::$Type => $Type::DEPTH),* }
            }

            /// True where the figure has a meaning at all: a beam without a null direction has no null depth.
            pub fn exists(self, point: &BeamPoint) -> bool {
                match self { $(Figure::$Type => $Type::exists(point)),* }
            }

            /// The figure of W units.
            pub fn measure<const W: usize>(self, point: &BeamPoint, field: &Field<W>) -> [f64; W] {
                match self { $(Figure::$Type => $Type::measure(point, field)),* }
            }

            /// Mean by the small-error formula, where there is one.
            pub fn predicted_mean(self, point: &BeamPoint, errors: &SmallErrors) -> Option<f64> {
                match self { $(Figure::$Type => $Type::predicted_mean(point, errors)),* }
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
    pub fn from_name(name: &str) -> Option<Figure> {
        Figure::ALL.iter().copied().find(|figure| figure.name() == name)
    }

    /// Those that a study reports which names none: all but the shifts of the beam, which are the pointing error held against
    /// another beam.
    pub fn usual() -> Vec<Figure> {
        let is_shift =
            |figure: &Figure| matches!(figure, Figure::PointingShift | Figure::PointingShiftAcross);
        Figure::ALL.iter().copied().filter(|figure| !is_shift(figure)).collect()
    }

    /// True for an angle of the beam, which a limit may give in beamwidths.
    pub fn is_angle_of_beam(self) -> bool {
        use Figure::{BeamwidthChange, PointingError, PointingShift, PointingShiftAcross};
        matches!(self, PointingError | PointingShift | PointingShiftAcross | BeamwidthChange)
    }
}
