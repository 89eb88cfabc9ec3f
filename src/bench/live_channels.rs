//! Which channels are live, by what they read alone.

use crate::bench::{Bench, Hardware};
use crate::io::{Check, Dimension, Key, Or, Quantity, Table};

/// How a dead channel is recognised.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct DeadRule {
    /// A channel that reads alone below this over its wanted level is dead, dB.
    pub below_db: f64,
    /// Whether channels are checked: where they can be dead.
    pub is_looked_for: bool,
}

/// Level below which a channel is dead where the bench does not say, dB.
const USUAL_DB: f64 = -30.0;

/// Key of that level in the table of the bench.
pub(crate) const DEAD_BELOW: Key<Or<Quantity, f64>> = Key::quantity(
    "dead_below",
    Dimension::Level,
    Check::Within(-200.0, 0.0),
    "-30 dB",
    "A channel that reads alone below this over what it should have is dead; -30 dB where it is left out",
)
.or(USUAL_DB);

impl DeadRule {
    /// Above the level by less than this, dB, a channel is checked once more.
    pub(crate) const DOUBT_DB: f64 = 10.0;

    /// Reads `dead_below = "-30 dB"` of the bench.
    pub(crate) fn read(bench: Option<&Table>, is_looked_for: bool) -> DeadRule {
        let of = |bench: &Table| bench.read(&DEAD_BELOW);
        DeadRule { below_db: bench.map_or(USUAL_DB, of), is_looked_for }
    }
}

/// The channels of W units that the bench has found dead.
///
/// A channel is dead when it reads alone below a stated level over its wanted one ([`DeadRule`]). Noise can lift the reading of a dead
/// one, so one that reads above the level by less than [`DeadRule::DOUBT_DB`] is checked once more before its cable is moved, and is
/// dead when it reads below the level then. Where levelling reads all channels, its first reading is the check; else a star and the
/// methods over the air check their reference alone, a chain and all pairs every channel. The reference is the named channel, or
/// the next live one, after the last channel the first; all others are compared with it. A channel that is known to be dead is neither
/// read again nor joined. Units: dB. Source: common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct LiveChannels<const W: usize> {
    /// Known to be dead, `[channel][lane]`; empty where channels are not checked.
    is_dead: Vec<[bool; W]>,
    /// Checked, likewise.
    is_seen: Vec<[bool; W]>,
    /// Some channel of some lane is known to be dead.
    has_dead: bool,
    /// The channel that the plan names.
    named: usize,
    /// The channel that others are compared with.
    reference: [usize; W],
}

/// The round of connections for a check of its own, beyond those of levelling.
const OWN_CHECK: u32 = (1 << 16) - 1;

/// The level that levelling takes for a dead channel, dB: no goal for others, nothing to attenuate.
const SILENT: f32 = -1000.0;

impl<const W: usize> Default for LiveChannels<W> {
    fn default() -> LiveChannels<W> {
        LiveChannels {
            is_dead: Vec::new(),
            is_seen: Vec::new(),
            has_dead: false,
            named: 0,
            reference: [0; W],
        }
    }
}

impl<const W: usize> LiveChannels<W> {
    /// Forgets all, for new units whose plan names a reference.
    pub(super) fn begin(&mut self, hardware: &Hardware, reference: usize) {
        let channels = if hardware.dead.is_looked_for { hardware.wanted_db.len() } else { 0 };
        for of in [&mut self.is_dead, &mut self.is_seen] {
            of.clear();
            of.resize(channels, [false; W]);
        }
        (self.has_dead, self.named, self.reference) = (false, reference, [reference; W]);
    }

    /// Whether a channel is live, as far as is known.
    #[inline(always)]
    pub(crate) fn is_live(&self, channel: usize, lane: usize) -> bool {
        !self.has_dead || !self.is_dead[channel][lane]
    }

    /// The channel that others are compared with.
    pub(crate) fn reference(&self, lane: usize) -> usize {
        self.reference[lane]
    }

    /// Channels known to be dead, ascending; `None` where channels are not checked.
    pub(crate) fn dead(&self, lane: usize) -> Option<Vec<usize>> {
        let channels = 0..self.is_dead.len();
        (!self.is_dead.is_empty()).then(|| channels.filter(|channel| !self.is_live(*channel, lane)).collect())
    }

    /// The lanes in which each channel is to be read, `[channel]`; `None` for all.
    pub(super) fn to_read(&self) -> Option<Vec<[bool; W]>> {
        self.has_dead.then(|| self.is_dead.iter().map(|dead| dead.map(|dead| !dead)).collect())
    }

    /// The nearest live channel before one, or else behind it.
    pub(crate) fn neighbour(&self, channel: usize, channels: usize, lane: usize) -> Option<usize> {
        let mut near = (0..channel).rev().chain(channel + 1..channels);
        near.find(|channel| self.is_live(*channel, lane))
    }

    /// Calls `take` for each group of lanes with equal keys; lanes without a key are left out. Keys differ only where other channels
    /// are dead.
    #[inline(always)]
    pub(super) fn in_groups<K: Copy + PartialEq, F>(
        &self,
        key: impl Fn(usize) -> Option<K>,
        mut take: impl FnMut(K, &[bool; W]) -> Result<(), F>,
    ) -> Result<(), F> {
        if !self.has_dead {
            return match key(0) {
                Some(key) => take(key, &[true; W]),
                None => Ok(()),
            };
        }
        let mut keys: [Option<K>; W] = std::array::from_fn(key);
        for l in 0..W {
            let Some(key) = keys[l] else { continue };
            let lanes = keys.map(|of| of == Some(key));
            (l..W).filter(|l| lanes[*l]).for_each(|l| keys[l] = None);
            take(key, &lanes)?;
        }
        Ok(())
    }

    /// Takes the first readings of all channels for checks, dB over the wanted levels, `[channel][lane]`, read on the connections of
    /// `round`; and gives the dead ones the silent level.
    pub(super) fn classify<D: Bench<W>>(
        &mut self,
        bench: &mut D,
        hardware: &Hardware,
        round: u32,
        over: &mut [[f32; W]],
    ) -> Result<(), D::Fault> {
        if self.is_dead.is_empty() {
            return Ok(());
        }
        for (channel, over) in over.iter().enumerate() {
            let is_new = self.is_seen[channel].map(|seen| !seen);
            self.judge(bench, hardware, channel, round, over, &is_new)?;
        }
        self.mute(over);
        Ok(())
    }

    /// Gives dead channels the silent level.
    pub(super) fn mute(&self, over: &mut [[f32; W]]) {
        if !self.has_dead {
            return;
        }
        for (over, is_dead) in over.iter_mut().zip(&self.is_dead) {
            (0..W).filter(|l| is_dead[*l]).for_each(|l| over[l] = SILENT);
        }
    }

    /// Checks what phasing depends on, `every` channel or the reference, and finds the reference.
    pub(super) fn find_reference<D: Bench<W>>(
        &mut self,
        bench: &mut D,
        hardware: &Hardware,
        every: bool,
    ) -> Result<(), D::Fault> {
        let channels = self.is_dead.len();
        if every {
            for channel in 0..channels {
                self.detect(bench, hardware, channel, &[true; W])?;
            }
        }
        let named = self.named;
        let mut is_open = [true; W];
        for channel in (0..channels).map(|away| (named + away) % channels) {
            self.detect(bench, hardware, channel, &is_open)?;
            for l in 0..W {
                if is_open[l] && self.is_live(channel, l) {
                    (self.reference[l], is_open[l]) = (channel, false);
                }
            }
            if !is_open.contains(&true) {
                break;
            }
        }
        Ok(())
    }

    /// Checks a channel in those lanes that have not yet.
    fn detect<D: Bench<W>>(
        &mut self,
        bench: &mut D,
        hardware: &Hardware,
        channel: usize,
        takes: &[bool; W],
    ) -> Result<(), D::Fault> {
        let is_seen = self.is_seen[channel];
        let is_new: [bool; W] = std::array::from_fn(|l| takes[l] & !is_seen[l]);
        if is_new.contains(&true) {
            let over = over(bench.detect(channel, OWN_CHECK, 0, &is_new)?, hardware, channel);
            self.judge(bench, hardware, channel, OWN_CHECK, &over, &is_new)?;
        }
        Ok(())
    }

    fn judge<D: Bench<W>>(
        &mut self,
        bench: &mut D,
        hardware: &Hardware,
        channel: usize,
        round: u32,
        first: &[f32; W],
        is_new: &[bool; W],
    ) -> Result<(), D::Fault> {
        let below = hardware.dead.below_db as f32;
        let doubtful = below + DeadRule::DOUBT_DB as f32;
        let again: [bool; W] =
            std::array::from_fn(|l| is_new[l] & (first[l] >= below) & (first[l] < doubtful));
        let mut second = [f32::INFINITY; W];
        if again.contains(&true) {
            second = over(bench.detect(channel, round, 1, &again)?, hardware, channel);
        }
        for l in (0..W).filter(|l| is_new[*l]) {
            let is_dead = first[l] < below || again[l] && second[l] < below;
            self.is_dead[channel][l] = is_dead;
            self.is_seen[channel][l] = true;
            self.has_dead |= is_dead;
        }
        Ok(())
    }
}

/// A channel's readings over its wanted level, dB.
fn over<const W: usize>(readings: [f32; W], hardware: &Hardware, channel: usize) -> [f32; W] {
    readings.map(|reading| reading - hardware.wanted_db[channel] as f32)
}
