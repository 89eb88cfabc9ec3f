//! The bench that levels and phases a unit. It sees the channels through [`Bench`] alone, as readings, so
//! that the very same code calibrates a simulated unit and a real one.

mod align;
mod characterise;
mod clock;
mod code_table;
mod fixture;
mod instruments;
mod level;
mod live_channels;
pub mod method;
mod passes;
mod procedure;
mod receiver;
mod recorder;
mod rounding;
mod stability;
mod tables;
#[cfg(test)]
mod uncertainty;

pub use align::{ALIGN, Align, Pairs};
#[cfg(test)]
pub use align::{Comparison, OverTheAir, Pairing};
pub use characterise::{CHARACTERISE, Characterise};
pub use clock::{Clock, KINDS_OF_WORK, TIME, Work};
pub use code_table::{CodeTable, Command, Measured, Offsets, ShifterSetting};
pub use fixture::{FIXTURE, Fixture, KEPT_CONNECTIONS, Port};
pub(crate) use instruments::outermost;
pub use instruments::{Bench, Pair, Reconnection, Tabled};
pub use level::{Attenuations, Goal, LEVEL, Level, Rounding};
pub use live_channels::{DEAD_BELOW, DeadRule, LiveChannels};
#[cfg(test)]
pub use method::Method;
pub use method::{Caution, Readout, StateShare, SweepScratch};
pub use passes::Scratch;
pub use procedure::{CALIBRATION, Calibration, Hardware, NAME, Unrounded};
pub(crate) use receiver::NEPERS_A_DB_OF_POWER;
pub use receiver::{Meter, RECEIVER, Receiver};
pub use recorder::{Event, Of, Reading, Recorder};
pub use rounding::rounding;
pub use stability::Stability;
pub use tables::Tables;

/// The code that a stepped block stands at.
pub type Code = u32;
