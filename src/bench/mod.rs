//! The bench that levels and phases a unit. It sees the channels through [`Desk`] alone, as readings, so
//! that the very same code calibrates a simulated unit and a real one.

mod clock;
mod code_table;
mod fixture;
mod level;
pub mod method;
mod procedure;
mod receiver;

pub use clock::{Clock, Work};
pub use code_table::{CodeTable, Offsets};
pub use fixture::Fixture;
pub use level::{Goal, Level, Rounding};
pub use method::{Align, Method, SweepScratch};
pub use procedure::{Calibration, Hardware};
pub use receiver::Receiver;

/// The code that a stepped block stands at.
pub type Code = u32;

/// What a bench can do with W units at once.
///
/// Every reading is a level in dB over a nominal channel read alone, one for each lane.
pub trait Desk<const W: usize> {
    /// Reads every channel alone, shifter and attenuator at code 0, into `[channel][lane]`.
    fn read_alone(&mut self, readings: &mut [[f64; W]]);

    /// Sets the attenuators, `[channel][lane]`.
    fn set_attenuators(&mut self, codes: &[[Code; W]]);

    /// Joins two channels through the coupler: the reference with its shifter at code 0, and the channel whose
    /// shifter will be stepped.
    fn join(&mut self, reference: usize, stepped: usize);

    /// Reads the joined pair at each of `codes`, alike in all lanes, into `[code][lane]`.
    fn sweep(&mut self, codes: &[Code], readings: &mut [[f64; W]]);

    /// Reads the joined pair once, each lane at its own code.
    fn read(&mut self, codes: &[Code; W]) -> [f64; W];
}
