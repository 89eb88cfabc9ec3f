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
pub use code_table::{CodeTable, Command, Offsets, ShifterSetting};
pub use fixture::Fixture;
pub use level::{Goal, Level, Rounding};
pub use method::{Align, Method, SweepScratch};
pub use procedure::{Calibration, Hardware};
pub use receiver::{Meter, Receiver};

/// The code that a stepped block stands at.
pub type Code = u32;

/// What a bench can do with W units at once.
///
/// Every reading is a level in dB over a nominal channel read alone, one for each lane. Lanes are units on benches
/// alike: what one of them reads does not depend on the others, so a lane may be asked for a reading that only
/// another lane needs, and its own method leaves it out of account.
pub trait Desk<const W: usize> {
    /// Reads every channel alone, shifter and attenuator at code 0, into `[channel][lane]`.
    fn read_alone(&mut self, readings: &mut [[f32; W]]);

    /// Sets the attenuators, `[channel][lane]`.
    fn set_attenuators(&mut self, codes: &[[Code; W]]);

    /// Joins two channels through the coupler: the reference with its shifter at code 0, and the channel whose
    /// shifter will be stepped.
    fn join(&mut self, reference: usize, stepped: usize);

    /// Reads the joined pair at a code.
    fn read(&mut self, code: Code) -> [f32; W];

    /// Reads the joined pair at each of `codes`, into `[code][lane]`.
    fn sweep(&mut self, codes: &[Code], readings: &mut [[f32; W]]) {
        for (code, reading) in codes.iter().zip(readings) {
            *reading = self.read(*code);
        }
    }

    /// Steps through every one of the shifter's `states` and names the code with the highest reading, the first of equals.
    fn highest(&mut self, states: usize) -> [Code; W] {
        outermost(self, states, |reading, best| reading > best)
    }

    /// The same for the lowest reading.
    fn lowest(&mut self, states: usize) -> [Code; W] {
        outermost(self, states, |reading, best| reading < best)
    }
}

/// The first code whose reading no other beats.
fn outermost<const W: usize>(
    desk: &mut (impl Desk<W> + ?Sized),
    states: usize,
    beats: impl Fn(f32, f32) -> bool,
) -> [Code; W] {
    let mut best = desk.read(0);
    let mut at = [0; W];
    for code in 1..states as Code {
        let reading = desk.read(code);
        for l in 0..W {
            if beats(reading[l], best[l]) {
                (best[l], at[l]) = (reading[l], code);
            }
        }
    }
    at
}
