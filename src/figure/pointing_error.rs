//! Where the beam really points.

use crate::figure::angles::{angle_along_line, angle_between};
use crate::figure::{BeamPoint, DEGREES, Depth, Field, Figure, FigureOfMerit, SmallErrors, Unit};

/// Angle between the commanded direction and the beam peak: signed along the scan for a line, the whole angle
/// for a plane. Unit: degrees.
///
/// The peak is that of the radiated field, element pattern included, searched in the error-free main lobe and refined to
/// far below a thousandth of the beamwidth. Off the command frequency it holds the squint.
/// An element pattern pulls the peak toward broadside, so off broadside the error-free value is not 0.
/// Prediction: the error-free value for a line; for a plane whose error-free beam points as commanded, the Rayleigh mean of the
/// two in-plane errors, s sqrt(sum a^2 x^2)/(k sum a x^2) each. Source: Rondinelli 1959 (from memory).
pub(crate) struct PointingError;

/// A squared error-free error below this part of the random one's variance leaves the mean as it is.
const CENTRED: f64 = 0.01;

impl FigureOfMerit for PointingError {
    const NAME: &'static str = "pointing_error";
    const TITLE: &'static str = "pointing error";
    const UNIT: Unit = Unit::Degree;
    const DEPTH: Depth = Depth::PATTERN;
    const IS_BEAM_ANGLE: bool = true;
    const IS_SIGNED: bool = true;
    const INSTEAD: Option<&'static str> = Some(
        "limit `pointing_shift` instead, which is held against the error-free beam: what pulls that one from its command (element \
         pattern, squint) is no error of production",
    );

    fn measure<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W] {
        let peak = field.peak.directions(point);
        let toward = [[point.toward.u; W], [point.toward.v; W]];
        let angle =
            if point.is_line { angle_along_line(&toward, &peak) } else { angle_between(&toward, &peak) };
        angle.map(|angle| DEGREES * angle)
    }

    fn predicted_mean(point: &BeamPoint, errors: &SmallErrors) -> Option<f64> {
        if point.is_line {
            return point.error_free_value(Figure::PointingError);
        }
        let [along, across] = point.pointing_sensitivity?;
        let variance = (along * along + across * across) / 2.0 * errors.phase_variance;
        let error_free = point.error_free_value(Figure::PointingError)? / DEGREES;
        let is_centred = error_free * error_free < CENTRED * variance;
        is_centred.then(|| DEGREES * (variance * std::f64::consts::FRAC_PI_2).sqrt())
    }
}
