//! What shares one draw: how channels stand on chips and boards, and units in lots.

use crate::io::{Count, Key, Optional, Or, Table, keys};
use crate::random::Tolerance;

/// What one draw covers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Scope {
    /// Each channel has its own.
    Channel,
    /// A run of channels on one chip shares it.
    Chip,
    /// A run of channels on one board shares it.
    Board,
    /// All channels of a unit share it.
    Unit,
    /// All channels of all units of a lot share it.
    Lot,
}

impl Scope {
    /// Words for `scope`.
    pub(crate) const KINDS: &[(&'static str, Scope)] = &[
        ("channel", Scope::Channel),
        ("chip", Scope::Chip),
        ("board", Scope::Board),
        ("unit", Scope::Unit),
        ("lot", Scope::Lot),
    ];

    /// The word in the study file.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Scope::Channel => "channel",
            Scope::Chip => "chip",
            Scope::Board => "board",
            Scope::Unit => "unit",
            Scope::Lot => "lot",
        }
    }

    /// Whether all channels of a unit share a draw.
    pub(crate) fn is_common(self) -> bool {
        matches!(self, Scope::Unit | Scope::Lot)
    }
}

/// How channels and units are grouped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Grouping {
    /// Channels of a unit.
    pub channels: usize,
    /// Channels of a chip.
    pub chip: usize,
    /// Channels of a board, where the study has boards.
    pub board: Option<usize>,
    /// Units of a lot, where the study has lots: trial 0 is the first unit of the first lot.
    pub lot: Option<u64>,
}

/// No array has more channels.
const MOST_CHANNELS: u64 = 4096;

keys! {
    /// Its keys in the table of the array.
    pub(crate) GROUPS: "";
    CHIP: Or<Count, u64> =
        Key::count("chip", 1..=MOST_CHANNELS, "2", "Channels of a chip, for tolerances with scope \"chip\"; 1 where it is left out").or(1);
    BOARD: Optional<Count> =
        Key::count("board", 1..=MOST_CHANNELS, "6", "Channels of a board, for tolerances with scope \"board\"").optional();
}

/// Key of the units of a lot, in the study.
pub(crate) const LOT: Key<Optional<Count>> = Key::count(
    "lot",
    1..=i64::MAX as u64,
    "50",
    "Units that are built from one lot of parts, for tolerances with scope \"lot\"",
)
.optional();

impl Grouping {
    /// Channels on chips, without boards and lots.
    #[cfg(test)]
    pub(crate) fn of_chips(channels: usize, chip: usize) -> Grouping {
        Grouping { channels, chip, board: None, lot: None }
    }

    /// Reads `chip` and `board` of the array and `lot` of the study. Channels must fill chips and boards, chips must fill
    /// boards.
    pub(crate) fn read(root: &Table, array: &Table, channels: usize) -> Grouping {
        let chip = array.read(&CHIP.up_to(channels as u64)) as usize;
        let board = array.read(&BOARD.up_to(channels as u64)).map(|board| board as usize);
        let lot = root.read(&LOT);
        // Nothing is said of channels that were not read.
        let is_sound = |key| array.is_sound("layout") && array.is_sound(key);
        let fills = |key, of: usize, whole: usize, what: &str| {
            if is_sound(key) && !whole.is_multiple_of(of) {
                array.error(
                    array.span_of(key),
                    format!("{of} channels a {key} do not divide the {whole} of {what}"),
                    format!("the last {key} would not be full"),
                    Some(format!("a divisor of {whole}, such as {}", nearest_divisor(whole, of))),
                );
            }
        };
        fills("chip", chip, channels, "a unit");
        if let Some(board) = board {
            fills("board", board, channels, "a unit");
            if is_sound("chip") && is_sound("board") {
                fills("chip", chip, board, "a board");
            }
        }
        Grouping { channels, chip, board, lot }
    }

    /// Channels that share a draw.
    pub(crate) fn channels_of(&self, scope: Scope) -> usize {
        match scope {
            Scope::Channel => 1,
            Scope::Chip => self.chip,
            Scope::Board => self.board.unwrap_or(self.channels),
            Scope::Unit | Scope::Lot => self.channels,
        }
    }

    /// Records an error where a tolerance is on a scope that the study does not have.
    pub(crate) fn check(&self, table: &Table, tolerance: &Tolerance) {
        for (spread, span) in tolerance.spreads() {
            let (is_there, help) = match spread.scope {
                Scope::Board => {
                    (self.board.is_some(), "add `board = 16` to [array], the channels of a board")
                }
                Scope::Lot => {
                    (self.lot.is_some(), "add `lot = 50` at the top of the study, the units of a lot")
                }
                Scope::Channel | Scope::Chip | Scope::Unit => (true, ""),
            };
            if !is_there {
                let scope = spread.scope.name();
                table.error(
                    span.clone(),
                    format!("the study does not say how large a {scope} is"),
                    format!("a draw for each {scope}"),
                    Some(help.into()),
                );
            }
        }
    }
}

/// The divisor of a number that is nearest to another, the smaller of two.
fn nearest_divisor(whole: usize, to: usize) -> usize {
    let divisors = (1..=whole).filter(|of| whole.is_multiple_of(*of));
    divisors.min_by_key(|of| of.abs_diff(to)).unwrap_or(1)
}
