//! How much of a field is computed: as much as the wanted figures need.

/// Parts of a field beyond the sums over its channels. Those that need the pattern ask for it too.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Depth {
    /// Errors left in the channels.
    pub residuals: bool,
    /// The pattern over visible space and the refined beam peak.
    pub pattern: bool,
    /// The highest side lobe.
    pub side_lobes: bool,
    /// The mean over the side lobes.
    pub side_mean: bool,
    /// The half-power points.
    pub half_power: bool,
}

impl Depth {
    /// The sums over the channels alone.
    pub(crate) const SUMS: Depth =
        Depth { residuals: false, pattern: false, side_lobes: false, side_mean: false, half_power: false };
    /// The errors left in the channels.
    pub(crate) const RESIDUALS: Depth = Depth { residuals: true, ..Depth::SUMS };
    /// The beam peak.
    pub(crate) const PATTERN: Depth = Depth { pattern: true, ..Depth::SUMS };
    /// The highest side lobe.
    pub(crate) const SIDE_LOBES: Depth = Depth { side_lobes: true, ..Depth::PATTERN };
    /// The mean over the side lobes.
    pub(crate) const SIDE_MEAN: Depth = Depth { side_mean: true, ..Depth::PATTERN };
    /// The half-power points.
    pub(crate) const HALF_POWER: Depth = Depth { half_power: true, ..Depth::PATTERN };
    /// Everything.
    pub(crate) const ALL: Depth =
        Depth { residuals: true, pattern: true, side_lobes: true, side_mean: true, half_power: true };

    /// The parts that either needs.
    pub(crate) fn and(self, other: Depth) -> Depth {
        Depth {
            residuals: self.residuals | other.residuals,
            pattern: self.pattern | other.pattern,
            side_lobes: self.side_lobes | other.side_lobes,
            side_mean: self.side_mean | other.side_mean,
            half_power: self.half_power | other.half_power,
        }
    }
}
