//! A taper as a file has it.

use super::Feeds;
use crate::array::{Lattice, Layout};
use crate::io::{Dimension, Key, Table, Text, keys};
use crate::math::scalar;

/// An amplitude for each channel, from a file with a row a channel.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Csv {
    /// Linear, largest 1, `[channel]`.
    pub amplitude: Vec<f64>,
}

/// Weakest channel below the strongest, dB: a channel any weaker is none.
const MOST_RANGE_DB: f64 = 60.0;

keys! {
    pub(super) KEYS: "Amplitudes from a file";
    CSV: Text = Key::text("csv", "taper.csv", "A file with a column amplitude or amplitude_db, a row for each channel");
}

impl Csv {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "csv";

    pub(super) fn read(table: &Table) -> Option<Csv> {
        let columns = table.columns(&CSV)?;
        let (is_plain, is_in_db) =
            (columns.has("amplitude", Dimension::Ratio), columns.has("amplitude", Dimension::Level));
        if is_plain && is_in_db {
            columns.error(
                0,
                "amplitude",
                "the file has the amplitudes twice",
                "in dB as well",
                "one of the columns `amplitude` and `amplitude_db`",
            );
            return None;
        }
        // From decibels with the largest as their zero, so that any level can be written.
        let mut amplitude = if is_in_db {
            let levels = columns.quantity("amplitude", Dimension::Level)?;
            let highest = levels.iter().fold(f64::NEG_INFINITY, |a, b| a.max(*b));
            levels.iter().map(|level| scalar::pow(10.0, (level - highest) / 20.0)).collect()
        } else {
            columns.quantity("amplitude", Dimension::Ratio)?
        };
        let largest = amplitude.iter().fold(0.0, |a: f64, b| a.max(*b));
        let least = largest * scalar::pow(10.0, -MOST_RANGE_DB / 20.0) * (1.0 - 1e-9);
        let is_too_weak = |a: &f64| *a <= 0.0 || *a < least;
        if let Some(row) = amplitude.iter().position(is_too_weak) {
            let (message, help) = if amplitude[row] <= 0.0 {
                (
                    "an amplitude is not above zero",
                    "every channel radiates; leave a silent element out of the layout",
                )
            } else {
                (
                    "an amplitude is more than 60 dB below the largest",
                    "amplitudes within 60 dB of one another",
                )
            };
            columns.error(row, "amplitude", message, "too weak", help);
            return None;
        }
        amplitude.iter_mut().for_each(|a| *a /= largest);
        Some(Csv { amplitude })
    }
}

impl Feeds for Csv {
    fn over(&self, _: Option<&Lattice>, channels: usize) -> Option<Vec<f64>> {
        (self.amplitude.len() == channels).then(|| self.amplitude.clone())
    }

    fn words(&self) -> String {
        "taper from a file".to_owned()
    }

    fn check(&self, table: &Table, layout: &Layout) {
        let channels = layout.channels();
        if self.amplitude.len() != channels {
            table.error(
                table.span_of(CSV),
                format!("{} amplitudes for {channels} channels", self.amplitude.len()),
                "as many rows are in this file",
                Some("one row for each channel, in the order of the channels".into()),
            );
        }
    }
}

impl Csv {}
