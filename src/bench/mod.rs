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
pub(crate) mod method;
mod passes;
mod procedure;
mod receiver;
mod recorder;
mod rounding;
mod stability;
mod tables;
#[cfg(test)]
mod uncertainty;

pub(crate) use align::{ALIGN, Align, Pairs};
#[cfg(test)]
pub(crate) use align::{Comparison, OverTheAir, Pairing};
pub(crate) use characterise::{CHARACTERISE, Characterise};
pub(crate) use clock::{Clock, KINDS_OF_WORK, TIME, Work};
pub(crate) use code_table::{CodeTable, Command, Measured, Offsets, ShifterSetting};
pub(crate) use fixture::{FIXTURE, Fixture, KEPT_CONNECTIONS, Port};
pub(crate) use instruments::outermost;
pub(crate) use instruments::{Bench, Pair, Reconnection, Tabled};
pub(crate) use level::{Attenuations, Goal, LEVEL, Level, Rounding};
pub(crate) use live_channels::{DEAD_BELOW, DeadRule, LiveChannels};
#[cfg(test)]
pub(crate) use method::Method;
pub(crate) use method::{Caution, Readout, StateShare, SweepScratch};
pub(crate) use passes::Scratch;
pub(crate) use procedure::{CALIBRATION, Calibration, Hardware, NAME, Unrounded};
pub(crate) use receiver::NEPERS_A_DB_OF_POWER;
pub(crate) use receiver::{Meter, RECEIVER, Receiver};
pub(crate) use recorder::{Event, Of, Reading, Recorder};
pub(crate) use rounding::rounding;
pub(crate) use stability::Stability;
pub(crate) use tables::Tables;

/// The code that a stepped block stands at.
pub(crate) type Code = u32;
