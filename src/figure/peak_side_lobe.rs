//! The highest side lobe.

use crate::figure::{BeamPoint, Depth, Field, FigureOfMerit, Unit};

/// Highest local maximum outside the main lobe (out to the error-free nulls) over the beam peak. Unit: dB.
///
/// Searched over visible space; a level that still rises at its edge counts, and where the pattern has no second
/// top its highest sample outside the main lobe does. Right to 0.01 dB down to -80 dB (see `lobes`); deeper the rounding of
/// single precision shows, and at -100 dB it is right to 0.1 dB.
pub(crate) struct PeakSideLobe;

impl FigureOfMerit for PeakSideLobe {
    const NAME: &'static str = "peak_side_lobe";
    const TITLE: &'static str = "peak side lobe";
    const UNIT: Unit = Unit::Decibel;
    const DEPTH: Depth = Depth::SIDE_LOBES;
    const IS_UNDER_PEAK: bool = true;
    const PATTERN_LINE: Option<&'static str> = Some("side lobes");
    const EXISTS_WHERE: Option<&'static str> = Some("a side lobe needs visible space beyond the main lobe");

    fn exists(point: &BeamPoint) -> bool {
        point.has_side_lobes()
    }

    fn measure<const W: usize>(_: &BeamPoint, field: &Field<W>) -> [f64; W] {
        field.side_lobe()
    }
}
