//! Sampling plans: how many parts of a lot are gauged, and when the lot is taken.

use crate::io::Table;

/// A single sampling plan: so many parts of a lot are gauged, and the lot is taken when no more than so many of them fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sampling {
    /// Parts in a lot, where stated.
    pub lot: Option<u64>,
    /// Parts that are gauged, n.
    pub parts: u64,
    /// Most of them that may fail, c.
    pub allowed: u64,
}

/// More parts than anybody gauges.
const MOST_PARTS: u64 = 1_000_000;

impl Sampling {
    /// Reads `{ lot = 500, parts = 80, allowed = 2 }`.
    pub(super) fn read(table: &Table) -> Option<Sampling> {
        let lot = table.optional_count("lot", 1..=1_000_000_000);
        let parts = table.count("parts", 1..=MOST_PARTS);
        let allowed = table.count_or("allowed", 0..=MOST_PARTS, 0);
        if !["lot", "parts", "allowed"].iter().all(|key| table.is_sound(key)) {
            return None;
        }
        if allowed >= parts {
            table.error(
                table.span_of("allowed"),
                format!("{allowed} of {parts} gauged parts may fail: every lot is taken"),
                "as many as are gauged, or more",
                Some("let fewer fail than are gauged".to_owned()),
            );
            return None;
        }
        if let Some(lot) = lot.filter(|lot| *lot < parts) {
            table.error(
                table.span_of("parts"),
                format!("{parts} parts are gauged of a lot of {lot}"),
                "more than there are",
                Some("gauge every part: leave `sample` out".to_owned()),
            );
            return None;
        }
        Some(Sampling { lot, parts, allowed })
    }
}
