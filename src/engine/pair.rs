//! Two channels joined through the coupler: the power at every code of the stepped one, and readings of it.
//!
//! How the outermost reading is found without drawing them all: [`search`].

mod kept;
mod reading;
mod search;

use crate::bench::{Code, Meter};
use crate::chain::{Conditions, PhaseShifter, States};
use crate::math::Complex;
use crate::random::{Draws, Key, draw};
pub(super) use kept::Kept;
use multiversion::multiversion;
use reading::{Deviates, read, read_kept};
use search::{FEW, outermost};

/// Codes whose noise is one block of the generator.
const GROUP: usize = 4;

/// A joined pair of W units.
#[derive(Clone, Debug)]
pub(super) struct PairPower<const W: usize> {
    states: States<W>,
    /// The second amplitude, before the states.
    stepped: Complex<W>,
    /// The second signal at every code, where it was given so; else empty.
    signals: Vec<Complex<W>>,
    /// The first amplitude, where it was turned since the two were joined: the tables below are not of it.
    turned: Option<Complex<W>>,
    /// Power over a nominal channel at every code, `[code][lane]`.
    power: Vec<[f32; W]>,
    /// The most of each group's powers, `[group][lane]`.
    most: Vec<[f32; W]>,
    /// The most or least that a group's readings can stand for, `[group][lane]`.
    bound: Vec<[f32; W]>,
    /// Readings, dB, `[code][lane]`, of the groups that are read.
    readings: Vec<[f32; W]>,
    is_read: Vec<bool>,
    /// Deviates that are kept for others to read.
    pub(super) kept: Kept<W>,
    /// Where those of what is joined are.
    place: Option<usize>,
}

/// Which noise a pair's readings take.
#[derive(Clone, Copy, Debug)]
pub(super) struct Noise {
    pub key: Key,
    pub first_trial: u64,
    /// Number of the stepped channel.
    pub slot: u32,
}

impl<const W: usize> PairPower<W> {
    pub(super) fn new(shifter: &PhaseShifter) -> PairPower<W> {
        let states = shifter.states();
        let groups = states.div_ceil(GROUP);
        PairPower {
            states: shifter.room(),
            stepped: Complex::ZERO,
            signals: Vec::new(),
            turned: None,
            power: vec![[0.0; W]; states],
            // Groups there are not hold numbers that win nothing.
            most: vec![[f32::NAN; W]; groups.next_multiple_of(FEW)],
            bound: vec![[f32::NAN; W]; groups.next_multiple_of(FEW)],
            readings: vec![[0.0; W]; states],
            is_read: vec![false; groups],
            kept: Kept::default(),
            place: None,
        }
    }

    /// Looks for deviates that are kept of what is joined from here on.
    pub(super) fn hear(&mut self, meter: &Meter, noise: Noise) {
        self.place = if meter.is_noisy { self.kept.place(noise) } else { None };
    }

    /// Joins two amplitudes, the second stepped by the shifter of `channel`.
    #[allow(clippy::too_many_arguments, reason = "the parts of a pair, each borrowed its own way")]
    pub(super) fn join(
        &mut self,
        shifter: &PhaseShifter,
        at: &Conditions,
        draws: &Draws<W>,
        channel: usize,
        reference: &Complex<W>,
        stepped: &Complex<W>,
    ) {
        join(
            shifter,
            at,
            draws,
            channel,
            reference,
            stepped,
            &mut self.states,
            &mut self.power,
            &mut self.most,
        );
        self.stepped = *stepped;
        self.signals.clear();
        self.begin();
    }

    /// Joins an amplitude with a signal given at every code.
    pub(super) fn join_signals(&mut self, reference: &Complex<W>, signals: Vec<Complex<W>>) {
        for (signal, power) in signals.iter().zip(&mut self.power) {
            *power = (*reference + *signal).power().0;
        }
        highest_of_groups(&self.power, &mut self.most);
        self.signals = signals;
        self.begin();
    }

    fn begin(&mut self) {
        self.turned = None;
        self.is_read.fill(false);
    }

    /// Puts another first amplitude into the pair that was joined, or with `None` the one that it was joined with. Powers of another
    /// are worked out code by code as they are read: who turns it reads few codes at each turn, so that all of them would cost the
    /// square of the states.
    pub(super) fn turn(&mut self, reference: Option<Complex<W>>) {
        self.turned = reference;
    }

    /// Whether the first amplitude is another than it was joined with: then it can be read by [`PairPower::read`], [`PairPower::read_each`] and
    /// [`PairPower::parts`] only.
    pub(super) fn is_turned(&self) -> bool {
        self.turned.is_some()
    }

    /// The reading at a code.
    pub(super) fn read(&mut self, code: Code, meter: &Meter, noise: Noise) -> [f32; W] {
        if self.is_turned() {
            return self.read_each(&[code; W], meter, noise);
        }
        let group = code as usize / GROUP;
        if !std::mem::replace(&mut self.is_read[group], true) {
            let codes = group * GROUP..self.power.len().min((group + 1) * GROUP);
            let (power, readings) = (&self.power[codes.clone()], &mut self.readings[codes]);
            match self.place {
                None => read(meter, noise, group as u32, power, readings),
                Some(place) => read_kept(meter, self.kept.groups_of(place, noise, group, 1), power, readings),
            }
        }
        self.readings[code as usize]
    }

    /// The reading at a code of its own for each lane.
    pub(super) fn read_each(&mut self, codes: &[Code; W], meter: &Meter, noise: Noise) -> [f32; W] {
        let (level, sd, deviate) = self.drawn(codes, meter, noise);
        std::array::from_fn(|l| meter.show(level[l], sd[l], deviate[l]))
    }

    /// Level and noise of such a reading, dB.
    pub(super) fn parts(&mut self, codes: &[Code; W], meter: &Meter, noise: Noise) -> ([f32; W], [f32; W]) {
        let (level, sd, deviate) = self.drawn(codes, meter, noise);
        (level, std::array::from_fn(|l| sd[l] * deviate[l]))
    }

    fn drawn(&mut self, codes: &[Code; W], meter: &Meter, noise: Noise) -> ([f32; W], [f32; W], [f32; W]) {
        let (mut level, mut sd, mut deviate) = ([0.0; W], [0.0; W], [0.0; W]);
        let power = self.powers(codes);
        for l in 0..W {
            (level[l], sd[l]) = meter.level_and_sd(power[l]);
        }
        if meter.is_noisy {
            deviate = self.deviates(codes, noise);
        }
        (level, sd, deviate)
    }

    /// The power at a code of its own for each lane.
    fn powers(&self, codes: &[Code; W]) -> [f32; W] {
        let Some(reference) = self.turned else {
            return std::array::from_fn(|l| self.power[codes[l] as usize][l]);
        };
        if *codes == [codes[0]; W] {
            return (reference + self.signal(codes[0])).power().0;
        }
        std::array::from_fn(|l| (reference + self.signal(codes[l])).power().0[l])
    }

    /// The second signal at a code, by the arithmetic of [`join`].
    fn signal(&self, code: Code) -> Complex<W> {
        let code = code as usize;
        match self.signals.get(code) {
            Some(signal) => *signal,
            None => {
                let low = self.states.low.len();
                self.stepped * self.states.high[code / low] * self.states.low[code % low]
            }
        }
    }

    /// The deviates at a code of its own for each lane.
    fn deviates(&mut self, codes: &[Code; W], noise: Noise) -> [f32; W] {
        let groups = codes.map(|code| code / GROUP as Code);
        if let Some(place) = self.place.filter(|_| groups == [groups[0]; W]) {
            // Others are likely to read what all lanes read.
            self.kept.groups_of(place, noise, groups[0] as usize, 1);
        }
        if let Some(kept) = self.kept.if_there(self.place, &groups) {
            return std::array::from_fn(|l| kept[codes[l] as usize][l]);
        }
        let rows = draw::normal_block::<W>(noise.key, noise.first_trial, |l| groups[l], noise.slot);
        std::array::from_fn(|l| rows[codes[l] as usize % GROUP][l])
    }

    /// The readings at all codes.
    pub(super) fn read_all(&mut self, meter: &Meter, noise: Noise) -> &[[f32; W]] {
        let (power, readings) = (&self.power, &mut self.readings);
        match self.place {
            None => read(meter, noise, 0, power, readings),
            Some(place) => {
                let groups = self.is_read.len();
                read_kept(meter, self.kept.groups_of(place, noise, 0, groups), power, readings);
            }
        }
        self.is_read.fill(true);
        &self.readings
    }

    /// The code with the highest reading, the first of equals.
    pub(super) fn highest(&mut self, meter: &Meter, noise: Noise) -> [Code; W] {
        self.outermost::<true>(meter, noise)
    }

    /// The code with the lowest reading, the first of equals.
    pub(super) fn lowest(&mut self, meter: &Meter, noise: Noise) -> [Code; W] {
        self.outermost::<false>(meter, noise)
    }

    fn outermost<const HIGHEST: bool>(&mut self, meter: &Meter, noise: Noise) -> [Code; W] {
        let search = match (meter.is_thermal, self.place.is_some()) {
            (true, true) => outermost::<W, HIGHEST, true, true>,
            (true, false) => outermost::<W, HIGHEST, true, false>,
            (false, true) => outermost::<W, HIGHEST, false, true>,
            (false, false) => outermost::<W, HIGHEST, false, false>,
        };
        let deviates = Deviates { noise, kept: &self.kept, place: self.place };
        search(meter, deviates, &self.power, &self.most, &mut self.bound)
    }
}

/// Power through an ideal two-way combiner, which halves both, the second signal at every state: |a + b s|^2 of the
/// halved amplitudes; and the most of each group.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
#[allow(clippy::too_many_arguments, reason = "the parts of a pair, each borrowed its own way")]
fn join<const W: usize>(
    shifter: &PhaseShifter,
    at: &Conditions,
    draws: &Draws<W>,
    channel: usize,
    reference: &Complex<W>,
    stepped: &Complex<W>,
    states: &mut States<W>,
    power: &mut [[f32; W]],
    most: &mut [[f32; W]],
) {
    shifter.states_of(at, draws, channel, states);
    if let Ok(low) = <&[_; GROUP]>::try_from(&*states.low) {
        let groups = power.as_chunks_mut().0.iter_mut().zip(most);
        for (high, (power, most)) in states.high.iter().zip(groups) {
            combine::<W, GROUP>(reference, stepped, high, low, power, most);
        }
    } else {
        let mut one = [0.0; W];
        for (high, power) in states.high.iter().zip(power.chunks_mut(states.low.len())) {
            for (low, power) in states.low.as_chunks().0.iter().zip(power.as_chunks_mut().0) {
                combine::<W, 1>(reference, stepped, high, low, power, &mut one);
            }
        }
        highest_of_groups(power, most);
    }
}

/// The most of each group's powers.
#[inline(always)]
fn highest_of_groups<const W: usize>(power: &[[f32; W]], most: &mut [[f32; W]]) {
    for (power, most) in power.chunks(GROUP).zip(most) {
        let power = four(power);
        for l in 0..W {
            most[l] = power[0][l].max(power[1][l]).max(power[2][l]).max(power[3][l]);
        }
    }
}

/// The powers at N states that share their high bits. All of them in one body: loops over lanes should be long.
#[inline(always)]
fn combine<const W: usize, const N: usize>(
    a: &Complex<W>,
    b: &Complex<W>,
    high: &Complex<W>,
    low: &[Complex<W>; N],
    power: &mut [[f32; W]; N],
    most: &mut [f32; W],
) {
    for l in 0..W {
        let re = b.re.0[l] * high.re.0[l] - b.im.0[l] * high.im.0[l];
        let im = b.re.0[l] * high.im.0[l] + b.im.0[l] * high.re.0[l];
        let mut highest = 0.0;
        for n in 0..N {
            let x = a.re.0[l] + (re * low[n].re.0[l] - im * low[n].im.0[l]);
            let y = a.im.0[l] + (re * low[n].im.0[l] + im * low[n].re.0[l]);
            let here = x * x + y * y;
            highest = if here > highest { here } else { highest };
            power[n][l] = here;
        }
        most[l] = highest;
    }
}

/// One to four rows as four, the first repeated: loops over lanes should have long bodies of known length.
#[inline(always)]
fn four<const W: usize>(rows: &[[f32; W]]) -> [&[f32; W]; GROUP] {
    std::array::from_fn(|i| rows.get(i).unwrap_or(&rows[0]))
}

#[cfg(test)]
mod tests;
