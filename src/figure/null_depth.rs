//! How deep a wanted null is.

use crate::figure::{
    BeamPoint, DB_A_NEPER_OF_POWER, Depth, Field, FigureOfMerit, NullDirection, SmallErrors, Unit, decibels,
};
use crate::math::scalar;
use multiversion::multiversion;

/// Level in the beam's `null_at` direction over the beam peak. Unit: dB.
///
/// Exists for beams that state such a direction. A field that cancels to nothing reads -300 dB.
/// Prediction: where the error-free level is far under the floor of the random errors the level is exponential, and its mean
/// in dB is 2.507 dB (10 log10 of e to Euler's constant) under the floor. Source: Rayleigh distribution of the amplitude.
pub(crate) struct NullDepth;

/// Deepest level that is reported, dB: below rounding of any sum.
const DEEPEST_DB: f64 = -300.0;

/// An error-free level this far under the floor leaves the distribution of the level unchanged.
const FAR_UNDER: f64 = 0.01;

const EULER: f64 = 0.577_215_664_901_532_9;

impl FigureOfMerit for NullDepth {
    const NAME: &'static str = "null_depth";
    const TITLE: &'static str = "null depth";
    const UNIT: Unit = Unit::Decibel;
    const DEPTH: Depth = Depth::PATTERN;
    const IS_UNDER_PEAK: bool = true;
    const EXISTS_WHERE: Option<&'static str> = Some("a null depth needs `null_at` in its beam");

    fn exists(point: &BeamPoint) -> bool {
        point.null.is_some()
    }

    fn measure<const W: usize>(point: &BeamPoint, field: &Field<W>) -> [f64; W] {
        let Some(null) = &point.null else { return [f64::NAN; W] };
        let level = level_at(null, &field.re, &field.im);
        // Written so that only an exact zero is lifted: a level that is no number stays none.
        decibels(&level, &field.peak.level).map(|db| if db < DEEPEST_DB { DEEPEST_DB } else { db })
    }

    fn predicted_mean(point: &BeamPoint, errors: &SmallErrors) -> Option<f64> {
        let floor = errors.floor(point) * point.null.as_ref()?.element / point.peak_element;
        let error_free = point.error_free_value(crate::figure::Figure::NullDepth)?;
        let is_far_under = scalar::pow(10.0, error_free / 10.0) < FAR_UNDER * floor;
        is_far_under.then(|| DB_A_NEPER_OF_POWER * (scalar::ln(floor) - EULER))
    }
}

/// Level in the direction of the wanted null, linear.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn level_at<const W: usize>(null: &NullDirection, re: &[[f32; W]], im: &[[f32; W]]) -> [f64; W] {
    let (mut a, mut b) = ([0.0; W], [0.0; W]);
    for ((re, im), (cosine, sine)) in re.iter().zip(im).zip(null.cosine.iter().zip(&null.sine)) {
        for l in 0..W {
            let (re, im) = (f64::from(re[l]), f64::from(im[l]));
            a[l] += re * cosine - im * sine;
            b[l] += re * sine + im * cosine;
        }
    }
    std::array::from_fn(|l| (a[l] * a[l] + b[l] * b[l]) * null.element)
}
