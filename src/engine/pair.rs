//! Two channels joined through the coupler: the power at every code of the stepped one, and readings of it.
//!
//! How the outermost reading is found without drawing them all: [`search`].

mod kept;
mod reading;
mod search;
mod shifters;

use crate::bench::{Code, Meter};
use crate::chain::{Conditions, PhaseShifter, States};
use crate::math::Complex;
use crate::random::{Draws, Key};
pub(super) use kept::Kept;
use multiversion::multiversion;
use reading::{Deviates, read, read_kept, read_lanes, read_some};
pub(super) use search::Unsteady;
use search::{FEW, outermost};
use shifters::Shifters;
pub(super) use shifters::Units;
use std::array::{from_mut, from_ref};

/// Codes whose noise is one block of the generator.
const GROUP: usize = 4;

/// A joined pair of W units.
#[derive(Clone, Debug)]
pub(super) struct PairPower<const W: usize> {
    shifters: Shifters<W>,
    /// The second amplitude, before the states.
    stepped: Complex<W>,
    /// The second signal at every code, where it was given so; else empty.
    signals: Vec<Complex<W>>,
    /// What the first amplitude was turned to since the two were joined.
    turns: Vec<Turn<W>>,
    /// Which of them it stands at: the tables below are not of it.
    turned: Option<usize>,
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
    /// Where those of what is joined are, the first amplitude as it was joined.
    place: Option<usize>,
}

/// The first amplitude of a pair, turned.
#[derive(Clone, Debug)]
struct Turn<const W: usize> {
    code: Code,
    amplitude: Complex<W>,
    /// Where its deviates are kept.
    place: Option<usize>,
    /// The group that was read last at it, and its readings, dB.
    group: Option<usize>,
    readings: [[f32; W]; GROUP],
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
    pub(super) fn new(shifter: &PhaseShifter, channels: usize) -> PairPower<W> {
        let states = shifter.states();
        let groups = states.div_ceil(GROUP);
        PairPower {
            shifters: Shifters::new(shifter, channels),
            stepped: Complex::ZERO,
            signals: Vec::new(),
            turns: Vec::new(),
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
        let place = if meter.is_noisy { self.kept.place(noise) } else { None };
        match self.turned {
            Some(turned) => self.turns[turned].place = place,
            None => self.place = place,
        }
    }

    /// Joins two amplitudes, the second stepped by the shifter of `channel`.
    #[allow(clippy::too_many_arguments, reason = "the parts of a pair, each borrowed its own way")]
    pub(super) fn join(
        &mut self,
        units: Units,
        shifter: &PhaseShifter,
        at: &Conditions,
        draws: &Draws<W>,
        channel: usize,
        reference: &Complex<W>,
        stepped: &Complex<W>,
    ) {
        let (states, is_there) = self.shifters.of(units, shifter, channel);
        let tabled = if is_there { None } else { Some((shifter, at, draws, channel)) };
        join(reference, stepped, tabled, states, &mut self.power, &mut self.most);
        self.stepped = *stepped;
        self.signals.clear();
        self.begin();
    }

    /// Joins an amplitude with a signal given at every code, `[code]`.
    pub(super) fn join_signals(&mut self, reference: &Complex<W>, give: impl FnOnce(&mut [Complex<W>])) {
        self.signals.resize(self.power.len(), Complex::ZERO);
        give(&mut self.signals);
        join_given(reference, &self.signals, &mut self.power, &mut self.most);
        self.begin();
    }

    fn begin(&mut self) {
        self.turns.clear();
        self.turned = None;
        self.is_read.fill(false);
    }

    /// Turns the first amplitude back to what it was joined with (code 0), or to what it was turned to before; says whether that is known.
    pub(super) fn turn_back(&mut self, code: Code) -> bool {
        self.turned = self.turns.iter().position(|turn| turn.code == code);
        code == 0 || self.turned.is_some()
    }

    /// Turns the first amplitude to another, by a code that it was not turned by since the two were joined. Powers of it are computed group by
    /// group as they are read: a sweep of the second shifter at every turn has all turns read a group before the next.
    pub(super) fn turn(&mut self, code: Code, amplitude: Complex<W>) {
        self.turned = Some(self.turns.len());
        self.turns.push(Turn { code, amplitude, place: None, group: None, readings: [[0.0; W]; GROUP] });
    }

    /// Whether the first amplitude is another than it was joined with: then it can be read by [`PairPower::read`] and [`PairPower::read_each`] only.
    pub(super) fn is_turned(&self) -> bool {
        self.turned.is_some()
    }

    /// The reading at a code.
    pub(super) fn read(&mut self, code: Code, meter: &Meter, noise: Noise) -> [f32; W] {
        let group = code as usize / GROUP;
        if let Some(turned) = self.turned {
            self.read_turned(turned, group, meter, noise);
            return self.turns[turned].readings[code as usize % GROUP];
        }
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

    /// Reads a group with the first amplitude turned, unless it was read last.
    fn read_turned(&mut self, turned: usize, group: usize, meter: &Meter, noise: Noise) {
        let turn = &mut self.turns[turned];
        if turn.group.replace(group) == Some(group) {
            return;
        }
        let codes = group * GROUP..self.power.len().min((group + 1) * GROUP);
        let (mut power, count) = ([[0.0; W]; GROUP], codes.len());
        if self.signals.is_empty() {
            let states = self.shifters.last();
            join_few(&turn.amplitude, &self.stepped, states, codes.start, &mut power[..count]);
        } else {
            join_given(&turn.amplitude, &self.signals[codes], &mut power[..count], &mut [[0.0; W]]);
        }
        let (power, readings) = (&power[..count], &mut turn.readings[..count]);
        match turn.place {
            None => read(meter, noise, group as u32, power, readings),
            Some(place) => read_kept(meter, self.kept.groups_of(place, noise, group, 1), power, readings),
        }
    }

    /// The reading at a code of its own for each lane.
    pub(super) fn read_each(&mut self, codes: &[Code; W], meter: &Meter, noise: Noise) -> [f32; W] {
        let power = self.powers(codes);
        let kept = if meter.is_noisy { self.kept_deviates(codes, noise) } else { None };
        read_lanes(meter, noise, codes, &power, kept)
    }

    /// The power at a code of its own for each lane.
    fn powers(&self, codes: &[Code; W]) -> [f32; W] {
        let Some(reference) = self.turned.map(|turned| self.turns[turned].amplitude) else {
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
                let states = self.shifters.last();
                let low = states.low.len();
                self.stepped * states.high[code / low] * states.low[code % low]
            }
        }
    }

    /// The deviates at a code of its own for each lane, if they are kept.
    fn kept_deviates(&mut self, codes: &[Code; W], noise: Noise) -> Option<[f32; W]> {
        let place = self.turned.map_or(self.place, |turned| self.turns[turned].place)?;
        let groups = codes.map(|code| code / GROUP as Code);
        if groups == [groups[0]; W] {
            // Others are likely to read what all lanes read.
            self.kept.groups_of(place, noise, groups[0] as usize, 1);
        }
        let kept = self.kept.if_there(Some(place), &groups)?;
        Some(std::array::from_fn(|l| kept[codes[l] as usize][l]))
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

    /// The readings at some codes, in rising order.
    pub(super) fn read_some(
        &mut self,
        codes: &[Code],
        meter: &Meter,
        noise: Noise,
        readings: &mut [[f32; W]],
    ) {
        if self.is_turned() {
            codes.iter().zip(readings).for_each(|(code, reading)| *reading = self.read(*code, meter, noise));
        } else if codes.len() == self.power.len() {
            readings.copy_from_slice(self.read_all(meter, noise));
        } else if codes.len() * GROUP <= self.power.len() {
            let kept = self.place.map(|place| self.kept.groups_with(place, noise, codes));
            read_some(meter, noise, codes, &self.power, kept, readings);
        } else {
            for (code, reading) in codes.iter().zip(readings) {
                *reading = self.read(*code, meter, noise);
            }
        }
    }

    /// The code with the highest reading (or the lowest), the first of equals; by a receiver that is steady, or not.
    pub(super) fn outermost<const HIGHEST: bool>(
        &mut self,
        meter: &Meter,
        unsteady: Option<Unsteady<W>>,
        noise: Noise,
    ) -> [Code; W] {
        let search = match (meter.is_thermal, self.place.is_some(), unsteady.is_some()) {
            (true, _, true) => outermost::<W, HIGHEST, true, true, false>,
            (false, _, true) => outermost::<W, HIGHEST, false, true, false>,
            (true, true, false) => outermost::<W, HIGHEST, true, true, true>,
            (true, false, false) => outermost::<W, HIGHEST, true, false, true>,
            (false, true, false) => outermost::<W, HIGHEST, false, true, true>,
            (false, false, false) => outermost::<W, HIGHEST, false, false, true>,
        };
        let deviates = Deviates { noise, kept: &self.kept, place: self.place };
        let unsteady = unsteady.unwrap_or(Unsteady::NOT);
        search(meter, unsteady, deviates, &self.power, &self.most, &mut self.bound)
    }
}

/// Power through an ideal two-way combiner, which halves both, the second signal at every state: |a + b s|^2 of the
/// halved amplitudes; and the most of each group. The states are tabled first, by the shifter of a channel, unless they are there.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn join<const W: usize>(
    reference: &Complex<W>,
    stepped: &Complex<W>,
    tabled: Option<(&PhaseShifter, &Conditions, &Draws<W>, usize)>,
    states: &mut States<W>,
    power: &mut [[f32; W]],
    most: &mut [[f32; W]],
) {
    if let Some((shifter, at, draws, channel)) = tabled {
        shifter.states_of(at, draws, channel, states);
    }
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

/// The same at some states from one on.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn join_few<const W: usize>(
    reference: &Complex<W>,
    stepped: &Complex<W>,
    states: &States<W>,
    first: usize,
    power: &mut [[f32; W]],
) {
    let count = states.low.len();
    for (code, power) in (first..).zip(power) {
        let (high, low) = (&states.high[code / count], &states.low[code % count]);
        combine::<W, 1>(reference, stepped, high, from_ref(low), from_mut(power), &mut [0.0; W]);
    }
}

/// The same with the second signal given.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn join_given<const W: usize>(
    reference: &Complex<W>,
    signals: &[Complex<W>],
    power: &mut [[f32; W]],
    most: &mut [[f32; W]],
) {
    for (signal, power) in signals.iter().zip(&mut *power) {
        for l in 0..W {
            let (x, y) = (reference.re.0[l] + signal.re.0[l], reference.im.0[l] + signal.im.0[l]);
            power[l] = x * x + y * y;
        }
    }
    highest_of_groups(power, most);
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
