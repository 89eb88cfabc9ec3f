//! Two channels joined through the coupler: the power at every code of the stepped one, and readings of it.
//!
//! A reading's noise is keyed by what is read, so a reading exists whether it is drawn or not. That is what makes it
//! exact to look for the highest of a sweep without drawing it all: a draw is never farther than
//! [`FARTHEST`](crate::math::deviate::FARTHEST) standard deviations, so a code whose power, raised by that much, lies
//! under the best reading found so far (display step and kernel errors allowed for: [`Meter::below`]) cannot be the
//! highest, whatever its draw. Codes are drawn in groups of four, one block of the generator, the most promising
//! group of each lane first. With noise of 0.02 dB and 64 codes about three groups of 16 are left.

use crate::bench::{Code, Meter};
use crate::chain::{PhaseShifter, Phasor, States};
use crate::random::{Draws, Key, draw};
use multiversion::multiversion;

/// Codes whose noise is one block of the generator.
const GROUP: usize = 4;

/// A joined pair of W units.
#[derive(Clone, Debug)]
pub(super) struct Pair<const W: usize> {
    states: States<W>,
    /// Power over a nominal channel at every code, `[code][lane]`.
    power: Vec<[f32; W]>,
    /// The least and the most of each group's powers, `[group][lane]`.
    range: Vec<Range<W>>,
    /// The most or least that a group's readings can stand for, `[group][lane]`.
    bound: Vec<[f32; W]>,
    /// Readings, dB, `[code][lane]`, of the groups that are read.
    readings: Vec<[f32; W]>,
    is_read: Vec<bool>,
}

/// The least and the most of some powers.
#[derive(Clone, Copy, Debug)]
struct Range<const W: usize> {
    least: [f32; W],
    most: [f32; W],
}

/// Which noise a pair's readings take.
#[derive(Clone, Copy, Debug)]
pub(super) struct Noise {
    pub key: Key,
    pub first_trial: u64,
    /// Number of the stepped channel.
    pub slot: u32,
}

impl Noise {
    /// Deviates of the codes of a group, each lane with a group of its own.
    #[inline(always)]
    fn group<const W: usize>(&self, group: &[u32; W]) -> [[f32; W]; GROUP] {
        draw::normal_block(self.key, self.first_trial, group, self.slot)
    }
}

impl<const W: usize> Pair<W> {
    pub fn new(shifter: &PhaseShifter) -> Pair<W> {
        let states = shifter.states();
        let groups = states.div_ceil(GROUP);
        Pair {
            states: shifter.room(),
            power: vec![[0.0; W]; states],
            // Groups there are not hold numbers that win nothing.
            range: vec![Range { least: [f32::NAN; W], most: [f32::NAN; W] }; groups.next_multiple_of(FEW)],
            bound: vec![[f32::NAN; W]; groups.next_multiple_of(FEW)],
            readings: vec![[0.0; W]; states],
            is_read: vec![false; groups],
        }
    }

    /// Joins two amplitudes, the second stepped by the shifter of `channel`.
    pub fn join(
        &mut self,
        shifter: &PhaseShifter,
        draws: &Draws<W>,
        channel: usize,
        reference: &Phasor<W>,
        stepped: &Phasor<W>,
    ) {
        join(shifter, draws, channel, reference, stepped, &mut self.states, &mut self.power, &mut self.range);
        self.is_read.fill(false);
    }

    /// The reading at a code.
    pub fn read(&mut self, code: Code, meter: &Meter, noise: Noise) -> [f32; W] {
        let group = code as usize / GROUP;
        if !std::mem::replace(&mut self.is_read[group], true) {
            let codes = group * GROUP..self.power.len().min((group + 1) * GROUP);
            read(meter, noise, group as u32, &self.power[codes.clone()], &mut self.readings[codes]);
        }
        self.readings[code as usize]
    }

    /// The readings at all codes.
    pub fn read_all(&mut self, meter: &Meter, noise: Noise) -> &[[f32; W]] {
        read(meter, noise, 0, &self.power, &mut self.readings);
        self.is_read.fill(true);
        &self.readings
    }

    /// The code with the highest reading, the first of equals.
    pub fn highest(&mut self, meter: &Meter, noise: Noise) -> [Code; W] {
        if meter.is_thermal {
            outermost::<W, true, true>(meter, noise, &self.power, &self.range, &mut self.bound)
        } else {
            outermost::<W, true, false>(meter, noise, &self.power, &self.range, &mut self.bound)
        }
    }

    /// The code with the lowest reading, the first of equals.
    pub fn lowest(&mut self, meter: &Meter, noise: Noise) -> [Code; W] {
        if meter.is_thermal {
            outermost::<W, false, true>(meter, noise, &self.power, &self.range, &mut self.bound)
        } else {
            outermost::<W, false, false>(meter, noise, &self.power, &self.range, &mut self.bound)
        }
    }
}

/// Power through an ideal two-way combiner, the second signal at every state: |a + b s|^2/2.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
#[allow(clippy::too_many_arguments, reason = "the parts of a pair, each borrowed its own way")]
fn join<const W: usize>(
    shifter: &PhaseShifter,
    draws: &Draws<W>,
    channel: usize,
    reference: &Phasor<W>,
    stepped: &Phasor<W>,
    states: &mut States<W>,
    power: &mut [[f32; W]],
    range: &mut [Range<W>],
) {
    shifter.states_of(draws, channel, states);
    if let Some(low) = states.low.as_array() {
        let groups = power.as_chunks_mut().0.iter_mut().zip(range);
        for (high, (power, range)) in states.high.iter().zip(groups) {
            combine::<W, GROUP>(reference, stepped, high, low, power, range);
        }
    } else {
        let mut one = Range { least: [0.0; W], most: [0.0; W] };
        for (high, power) in states.high.iter().zip(power.chunks_mut(states.low.len())) {
            for (low, power) in states.low.as_chunks().0.iter().zip(power.as_chunks_mut().0) {
                combine::<W, 1>(reference, stepped, high, low, power, &mut one);
            }
        }
        for (power, range) in power.chunks(GROUP).zip(range) {
            *range = Range { least: power[0], most: power[0] };
            for power in power {
                for l in 0..W {
                    range.least[l] = if power[l] < range.least[l] { power[l] } else { range.least[l] };
                    range.most[l] = if power[l] > range.most[l] { power[l] } else { range.most[l] };
                }
            }
        }
    }
}

/// The powers at N states that share their high bits. All of them in one body: loops over lanes should be long.
#[inline(always)]
fn combine<const W: usize, const N: usize>(
    a: &Phasor<W>,
    b: &Phasor<W>,
    high: &Phasor<W>,
    low: &[Phasor<W>; N],
    power: &mut [[f32; W]; N],
    range: &mut Range<W>,
) {
    for l in 0..W {
        let re = b.re[l] * high.re[l] - b.im[l] * high.im[l];
        let im = b.re[l] * high.im[l] + b.im[l] * high.re[l];
        let (mut least, mut most) = (f32::INFINITY, 0.0);
        for n in 0..N {
            let x = a.re[l] + (re * low[n].re[l] - im * low[n].im[l]);
            let y = a.im[l] + (re * low[n].im[l] + im * low[n].re[l]);
            let here = 0.5 * (x * x + y * y);
            least = if here < least { here } else { least };
            most = if here > most { here } else { most };
            power[n][l] = here;
        }
        (range.least[l], range.most[l]) = (least, most);
    }
}

/// Reads codes from those of a group on, alike in all lanes.
fn read<const W: usize>(
    meter: &Meter,
    noise: Noise,
    first_group: u32,
    power: &[[f32; W]],
    readings: &mut [[f32; W]],
) {
    if meter.is_thermal {
        read_groups::<W, true>(meter, noise, first_group, power, readings);
    } else {
        read_groups::<W, false>(meter, noise, first_group, power, readings);
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn read_groups<const W: usize, const THERMAL: bool>(
    meter: &Meter,
    noise: Noise,
    first_group: u32,
    power: &[[f32; W]],
    readings: &mut [[f32; W]],
) {
    let groups = power.chunks(GROUP).zip(readings.chunks_mut(GROUP));
    for (group, (power, readings)) in (first_group..).zip(groups) {
        let deviates = if meter.is_noisy { noise.group(&[group; W]) } else { [[0.0; W]; GROUP] };
        for ((power, reading), deviate) in power.iter().zip(readings).zip(&deviates) {
            for l in 0..W {
                reading[l] = meter.read::<THERMAL>(power[l], deviate[l]);
            }
        }
    }
}

/// Groups whose promise is looked at together.
const FEW: usize = 4;
/// Groups that one set of marks holds.
const MARKS: usize = u32::BITS as usize;

/// The code with the highest (or lowest) reading, by drawing only groups that can hold it: first the most promising one
/// of each lane, then all whose bound is not beaten by what that one reads.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn outermost<const W: usize, const HIGHEST: bool, const THERMAL: bool>(
    meter: &Meter,
    noise: Noise,
    power: &[[f32; W]],
    range: &[Range<W>],
    bound: &mut [[f32; W]],
) -> [Code; W] {
    let none = if HIGHEST { f32::NEG_INFINITY } else { f32::INFINITY };
    let mut search = Search::<W, HIGHEST, THERMAL> { best: [none; W], at: [0; W] };
    let (mut promise, mut group) = ([none; W], [0; W]);
    let few = range.as_chunks::<FEW>().0.iter().zip(bound.as_chunks_mut::<FEW>().0);
    for (number, (range, bound)) in (0..).step_by(FEW).zip(few) {
        for l in 0..W {
            for i in 0..FEW {
                let (least, most) = (range[i].least[l], range[i].most[l]);
                let here =
                    if HIGHEST { meter.most::<THERMAL>(least, most) } else { meter.least::<THERMAL>(least) };
                let is_better = if HIGHEST { here > promise[l] } else { here < promise[l] };
                bound[i][l] = here;
                promise[l] = if is_better { here } else { promise[l] };
                group[l] = if is_better { number + i as u32 } else { group[l] };
            }
        }
    }
    search.read(meter, noise, power, &group);
    let first = group;
    let mut limit = [0.0; W];
    for l in 0..W {
        limit[l] = if HIGHEST { meter.below(search.best[l]) } else { meter.above(search.best[l]) };
    }
    for (number, bounds) in (0..).step_by(MARKS).zip(bound.chunks(MARKS)) {
        let mut marks = [0; W];
        for (offset, bounds) in (0..).step_by(FEW).zip(bounds.as_chunks::<FEW>().0) {
            for l in 0..W {
                for i in 0..FEW {
                    let here = bounds[i][l];
                    let can_win = if HIGHEST { here >= limit[l] } else { here <= limit[l] };
                    let is_new = number + offset + i as u32 != first[l];
                    marks[l] |= u32::from(can_win & is_new) << (offset + i as u32);
                }
            }
        }
        while marks.iter().fold(0, |any, marks| any | marks) != 0 {
            for l in 0..W {
                // A lane with nothing left reads its first group once more, which changes nothing.
                let lowest = marks[l] & marks[l].wrapping_neg();
                group[l] = if marks[l] == 0 { first[l] } else { number + lowest.trailing_zeros() };
                marks[l] ^= lowest;
            }
            search.read(meter, noise, power, &group);
        }
    }
    search.at
}

/// The best reading so far, and the first code that has it.
struct Search<const W: usize, const HIGHEST: bool, const THERMAL: bool> {
    best: [f32; W],
    at: [Code; W],
}

impl<const W: usize, const HIGHEST: bool, const THERMAL: bool> Search<W, HIGHEST, THERMAL> {
    /// Takes in the readings of a group, each lane its own.
    #[inline(always)]
    fn read(&mut self, meter: &Meter, noise: Noise, power: &[[f32; W]], group: &[u32; W]) {
        let deviates = if meter.is_noisy { noise.group(group) } else { [[0.0; W]; GROUP] };
        let mut here = [[0.0; W]; GROUP];
        if let (groups, []) = power.as_chunks::<GROUP>() {
            for l in 0..W {
                let rows = &groups[group[l] as usize];
                for i in 0..GROUP {
                    here[i][l] = rows[i][l];
                }
            }
            self.take::<GROUP>(meter, group, &here, &deviates);
        } else {
            // A shifter of one bit.
            here[..power.len()].copy_from_slice(power);
            self.take::<2>(meter, group, &here, &deviates);
        }
    }

    #[inline(always)]
    fn take<const N: usize>(
        &mut self,
        meter: &Meter,
        group: &[u32; W],
        power: &[[f32; W]; GROUP],
        deviates: &[[f32; W]; GROUP],
    ) {
        for l in 0..W {
            let (mut best, mut at) = (self.best[l], self.at[l]);
            for i in 0..N {
                let code = GROUP as Code * group[l] + i as Code;
                let reading = meter.read::<THERMAL>(power[i][l], deviates[i][l]);
                let is_better = if HIGHEST { reading > best } else { reading < best };
                let is_first = (reading == best) & (code < at);
                at = if is_better | is_first { code } else { at };
                best = if is_better { reading } else { best };
            }
            (self.best[l], self.at[l]) = (best, at);
        }
    }
}
