//! The code tables that a calibration makes.

use crate::bench::Align;
use crate::io::{Check, Dimension, Table};

/// The code tables that a calibration makes; in use the one that fits is chosen.
#[derive(Clone, Debug, PartialEq)]
pub enum Tables {
    /// One for everything, at the command frequency.
    One,
    /// One for each of these frequencies, Hz; in use the nearest, the lower of two.
    Frequencies(Vec<f64>),
    /// One for each beam, the probe standing in its direction.
    Beams,
}

impl Tables {
    /// Reads `each_beam` and `frequencies` of a `[[calibration]]`.
    pub(super) fn read(table: &Table, align: Option<&Align>) -> Tables {
        let each_beam = table.flag_or("each_beam", false);
        let listed = table.has("frequencies");
        if each_beam && listed {
            table.error(
                table.span_of("each_beam"),
                "tables for each beam and for several frequencies",
                "one of the two is due",
                Some("leave one out".into()),
            );
        }
        let is_known = !table.has("align") || table.is_sound("align");
        if each_beam && is_known && !align.is_some_and(Align::is_over_the_air) {
            table.error(
                table.span_of("each_beam"),
                "a table for each beam needs a probe that stands in its direction",
                "the plan joins pairs by cable, which knows no beam",
                Some("a method over the air, or leave `each_beam` out".into()),
            );
        }
        if listed {
            let frequencies = table.quantities("frequencies", Dimension::Frequency, Check::Within(1.0, 1e13));
            let mut frequencies: Vec<f64> = frequencies.into_iter().map(|(hertz, _)| hertz).collect();
            frequencies.sort_by(f64::total_cmp);
            frequencies.dedup();
            return Tables::Frequencies(frequencies);
        }
        if each_beam { Tables::Beams } else { Tables::One }
    }
}
