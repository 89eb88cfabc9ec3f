//! The code tables that a calibration makes.

use crate::bench::ALIGN;
use crate::bench::Align;
use crate::io::{Check, Dimension, Flag, Key, List, Optional, Quantity, Table, keys};

/// The code tables that a calibration makes; in use the one that fits is chosen.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Tables {
    /// One for everything, at the command frequency.
    One,
    /// One for each of these frequencies, Hz; in use the nearest, the lower of two.
    Frequencies(Vec<f64>),
    /// One for each beam, the probe standing in its direction.
    Beams,
}

keys! {
    pub(super) KEYS: "";
    EACH_BEAM: Flag =
        Key::flag("each_beam", "Whether a table is made for each beam, the probe standing in its direction");
    FREQUENCIES: Optional<List<Quantity>> =
        Key::quantity("frequencies", Dimension::Frequency, Check::Within(1.0, 1e13), "[\"9.5 GHz\", \"10 GHz\"]",
            "Frequencies that a table is made for each; in use the nearest is taken").list().optional();
}

impl Tables {
    /// Reads `each_beam` and `frequencies` of a `[[calibration]]`.
    pub(super) fn read(table: &Table, align: Option<&Align>) -> Tables {
        let each_beam = table.read(&EACH_BEAM);
        let listed = table.has(FREQUENCIES);
        if each_beam && listed {
            table.error(
                table.span_of(EACH_BEAM),
                "tables for each beam and for several frequencies",
                "one of the two is expected",
                Some("leave one out".into()),
            );
        }
        let is_known = !table.has(ALIGN) || table.is_sound(ALIGN);
        if each_beam && is_known && !align.is_some_and(Align::is_over_the_air) {
            table.error(
                table.span_of(EACH_BEAM),
                "a table for each beam needs a probe that stands in its direction",
                "the plan joins pairs by cable, which knows no beam",
                Some("a method over the air, or leave `each_beam` out".into()),
            );
        }
        if listed {
            let frequencies = table.read(&FREQUENCIES.required());
            let mut frequencies: Vec<f64> = frequencies.into_iter().map(|(hertz, _)| hertz).collect();
            frequencies.sort_by(f64::total_cmp);
            frequencies.dedup();
            return Tables::Frequencies(frequencies);
        }
        if each_beam { Tables::Beams } else { Tables::One }
    }
}
