//! The operations of a bench, simulated or real.

use crate::bench::{Code, Work};
use crate::math::Complex;

/// Which cables are moved to join a pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Reconnection {
    /// The stepped channel's: the reference stays where it is.
    Stepped,
    /// Both for the first pair of a star whose arms are not exchanged; the reference's then stays, so the error of its cable is alike in
    /// all pairs and counts with the coupler's imbalance.
    Both,
    /// Both, so that each adds its own repeatability to this pair.
    Anew,
}

impl Reconnection {
    /// Number of cables.
    pub(crate) fn cables(self) -> u32 {
        if self == Reconnection::Stepped { 1 } else { 2 }
    }
}

/// Two channels in the arms of the coupler.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Pair {
    /// The channel that stands still, its shifter at code 0.
    pub reference: usize,
    /// The channel whose shifter is stepped.
    pub stepped: usize,
    /// True when the arms are exchanged: the stepped channel is in the reference arm.
    pub is_swapped: bool,
    /// Which cables were moved for it.
    pub reconnection: Reconnection,
    /// Which time the plan joins this pair, from 0: noise and reconnections are drawn anew each time.
    pub round: u32,
}

/// A bench with W units on it at once.
///
/// Every reading is a level in dB over a nominal channel read alone, one for each lane. Lanes are units on benches
/// alike: the readings of one do not depend on the others. `takes` says which lanes do an operation; the others keep their
/// time, and the values that they get mean nothing.
///
/// An instrument can fail to answer or to obey, so every operation may end in a fault, which ends the calibration. A bench that
/// cannot fail has [`Infallible`](std::convert::Infallible) for its fault; the simulated one fails once the run is stopped.
pub(crate) trait Bench<const W: usize> {
    /// Why an operation failed.
    type Fault;

    /// Work done so far.
    fn work(&self) -> &Work<W>;

    /// Reads every channel alone, attenuators and shifters as they stand, into `[channel][lane]`. `round` counts the times that the
    /// channels are connected for it, from 0, and `repeat` the readings that each connection serves; `takes` says which lanes read which
    /// channel, `[channel][lane]`, all of them where it is `None`.
    fn read_alone(
        &mut self,
        round: u32,
        repeat: u32,
        takes: Option<&[[bool; W]]>,
        readings: &mut [[f32; W]],
    ) -> Result<(), Self::Fault>;

    /// Reads one channel alone to see whether it is live, everything as it stands. `repeat` 0 connects it, any other finds it connected
    /// by the check or the reading of the same `round` before.
    fn detect(
        &mut self,
        channel: usize,
        round: u32,
        repeat: u32,
        takes: &[bool; W],
    ) -> Result<[f32; W], Self::Fault>;

    /// Sets the attenuators, `[channel][lane]`.
    fn set_attenuators(&mut self, codes: &[[Code; W]]) -> Result<(), Self::Fault>;

    /// Sets the shifters of all channels that are not stepped or a pair's reference, `[channel][lane]`.
    fn set_shifters(&mut self, codes: &[[Code; W]]) -> Result<(), Self::Fault>;

    /// Joins two channels through the coupler; in front of a probe, switches those two on alone. The pair is read in these lanes at most.
    fn join(&mut self, pair: Pair, takes: &[bool; W]) -> Result<(), Self::Fault>;

    /// Sets the shifter of the joined pair's reference; joining sets it to code 0.
    fn set_reference(&mut self, code: Code) -> Result<(), Self::Fault>;

    /// Switches all channels on in front of the probe; the shifter of one will be stepped while the others stand. Readings of it are
    /// taken in these lanes at most.
    fn join_all(&mut self, stepped: usize, round: u32, takes: &[bool; W]) -> Result<(), Self::Fault>;

    /// Reads the joined channels, the stepped shifter at a code of its own in each lane.
    fn read_each(&mut self, codes: &[Code; W], takes: &[bool; W]) -> Result<[f32; W], Self::Fault>;

    /// Reads the amplitude in front of the probe, linear over a nominal channel, all channels on and some of them turned by half
    /// a turn from where they stand, `[channel]`; `row` counts these readings from 0.
    fn read_toggled(&mut self, row: u32, is_turned: &[bool]) -> Result<Complex<W>, Self::Fault>;

    /// Reads the joined channels, the stepped shifter at a code.
    fn read(&mut self, code: Code, takes: &[bool; W]) -> Result<[f32; W], Self::Fault> {
        self.read_each(&[code; W], takes)
    }

    /// Reads at each of `codes`, into `[code][lane]`.
    fn sweep(&mut self, codes: &[Code], readings: &mut [[f32; W]]) -> Result<(), Self::Fault> {
        for (code, reading) in codes.iter().zip(readings) {
            *reading = self.read(*code, &[true; W])?;
        }
        Ok(())
    }

    /// Sets the reference's shifter to each of `codes` and reads at each, the stepped shifter at one code, into `[code][lane]`.
    fn sweep_reference(
        &mut self,
        codes: &[Code],
        stepped: Code,
        readings: &mut [[f32; W]],
    ) -> Result<(), Self::Fault> {
        for (code, reading) in codes.iter().zip(readings) {
            self.set_reference(*code)?;
            *reading = self.read(stepped, &[true; W])?;
        }
        Ok(())
    }

    /// Steps through every one of the shifter's `states` and names the code with the highest reading, the first of equals.
    fn highest(&mut self, states: usize) -> Result<[Code; W], Self::Fault> {
        outermost(self, states, |reading, best| reading > best)
    }

    /// The same for the lowest reading.
    fn lowest(&mut self, states: usize) -> Result<[Code; W], Self::Fault> {
        outermost(self, states, |reading, best| reading < best)
    }
}

/// A bench that a plan's code tables are made on one after the other.
pub(crate) trait Tabled<const W: usize>: Bench<W> {
    /// Makes ready for a code table: nothing set yet, all at code 0. `view` numbers the conditions that the units are seen under (frequency,
    /// temperature, by cables or by a probe), `point` the beam that a probe stands in, broadside where it is `None`; both as the plan counts
    /// them.
    fn begin(&mut self, view: usize, point: Option<usize>) -> Result<(), Self::Fault>;
}

/// The first code whose reading no other beats.
pub(crate) fn outermost<D: Bench<W> + ?Sized, const W: usize>(
    bench: &mut D,
    states: usize,
    beats: impl Fn(f32, f32) -> bool,
) -> Result<[Code; W], D::Fault> {
    let mut best = bench.read(0, &[true; W])?;
    let mut at = [0; W];
    for code in 1..states as Code {
        let reading = bench.read(code, &[true; W])?;
        for l in 0..W {
            if beats(reading[l], best[l]) {
                (best[l], at[l]) = (reading[l], code);
            }
        }
    }
    Ok(at)
}
