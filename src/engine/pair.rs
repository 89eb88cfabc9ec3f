//! Two channels joined through the coupler: the power at every code of the stepped one, and readings of it.
//!
//! A reading's noise is keyed by what is read, so a reading exists whether it is drawn or not. That is what makes it
//! exact to look for the highest of a sweep without drawing it all: a draw is never farther than
//! [`FARTHEST`](crate::math::deviate::FARTHEST) standard deviations, so a code whose power, raised by that much, lies
//! under the best reading found so far (display step and kernel errors allowed for: [`Meter::below`]) cannot be the
//! highest, whatever its draw. Codes are drawn in groups of four, one block of the generator, the most promising
//! group of each lane first. With noise of 0.02 dB and 64 codes about three groups of 16 are left.

use crate::bench::{Code, Meter};
use crate::chain::{PhaseShifter, States};
use crate::math::Complex;
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
    /// The most of each group's powers, `[group][lane]`.
    most: Vec<[f32; W]>,
    /// The most or least that a group's readings can stand for, `[group][lane]`.
    bound: Vec<[f32; W]>,
    /// Readings, dB, `[code][lane]`, of the groups that are read.
    readings: Vec<[f32; W]>,
    is_read: Vec<bool>,
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
            most: vec![[f32::NAN; W]; groups.next_multiple_of(FEW)],
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
        reference: &Complex<W>,
        stepped: &Complex<W>,
    ) {
        join(shifter, draws, channel, reference, stepped, &mut self.states, &mut self.power, &mut self.most);
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
            outermost::<W, true, true>(meter, noise, &self.power, &self.most, &mut self.bound)
        } else {
            outermost::<W, true, false>(meter, noise, &self.power, &self.most, &mut self.bound)
        }
    }

    /// The code with the lowest reading, the first of equals.
    pub fn lowest(&mut self, meter: &Meter, noise: Noise) -> [Code; W] {
        if meter.is_thermal {
            outermost::<W, false, true>(meter, noise, &self.power, &self.most, &mut self.bound)
        } else {
            outermost::<W, false, false>(meter, noise, &self.power, &self.most, &mut self.bound)
        }
    }
}

/// Power through an ideal two-way combiner, which halves both, the second signal at every state: |a + b s|^2 of the
/// halved amplitudes; and the most of each group.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
#[allow(clippy::too_many_arguments, reason = "the parts of a pair, each borrowed its own way")]
fn join<const W: usize>(
    shifter: &PhaseShifter,
    draws: &Draws<W>,
    channel: usize,
    reference: &Complex<W>,
    stepped: &Complex<W>,
    states: &mut States<W>,
    power: &mut [[f32; W]],
    most: &mut [[f32; W]],
) {
    shifter.states_of(draws, channel, states);
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
        for (power, most) in power.chunks(GROUP).zip(most) {
            let power = four(power);
            for l in 0..W {
                most[l] = power[0][l].max(power[1][l]).max(power[2][l]).max(power[3][l]);
            }
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
    most: &[[f32; W]],
    bound: &mut [[f32; W]],
) -> [Code; W] {
    let none = if HIGHEST { f32::NEG_INFINITY } else { f32::INFINITY };
    let mut search = Search::<W, HIGHEST, THERMAL> { best: [none; W], at: [0; W] };
    let (mut promise, mut group) = ([none; W], [0; W]);
    if !HIGHEST || THERMAL {
        // Only then the least power of a group matters.
        for (power, (most, bound)) in power.chunks(GROUP).zip(most.iter().zip(&mut *bound)) {
            let power = four(power);
            for l in 0..W {
                let least = power[0][l].min(power[1][l]).min(power[2][l]).min(power[3][l]);
                bound[l] = if HIGHEST {
                    meter.most::<THERMAL>(least, most[l])
                } else {
                    meter.least::<THERMAL>(least)
                };
            }
        }
    }
    let few = most.as_chunks::<FEW>().0.iter().zip(bound.as_chunks_mut::<FEW>().0);
    for (number, (most, bound)) in (0..).step_by(FEW).zip(few) {
        for l in 0..W {
            for i in 0..FEW {
                if HIGHEST && !THERMAL {
                    bound[i][l] = meter.most::<THERMAL>(0.0, most[i][l]);
                }
                let here = bound[i][l];
                let is_better = if HIGHEST { here > promise[l] } else { here < promise[l] };
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Receiver;
    use crate::io::SourceText;
    use crate::math::{Lanes, scalar, single};
    use crate::{plan, study};

    const LANES: usize = 16;

    /// A pair whose powers are those of phasors of any size and phase, drawn anew for each `slot`.
    fn pair(bits: u32, slot: u32) -> Pair<LANES> {
        let states = 1 << bits;
        let mut draws = vec![[0.0; LANES]; 4 + 2 * states];
        draw::normals::<LANES>(Key::new(3, "pair"), 0, slot, 1.0, &mut draws);
        let mut power = vec![[0.0; LANES]; states];
        for (code, power) in power.iter_mut().enumerate() {
            for l in 0..LANES {
                let turn = std::f32::consts::TAU * (code as f32 / states as f32) + 3.0 * draws[0][l];
                let size = single::exp(0.1 * draws[1][l]) * (1.0 + 0.01 * draws[4 + code][l]);
                let (sine, cosine) = single::sin_cos(turn);
                let (x, y) = (1.0 + size * cosine, size * sine);
                power[l] = 0.25 * (x * x + y * y);
            }
        }
        let groups = states.div_ceil(GROUP).next_multiple_of(FEW);
        let mut most = vec![[f32::NAN; LANES]; groups];
        for (power, most) in power.chunks(GROUP).zip(&mut most) {
            *most = std::array::from_fn(|l| power.iter().fold(0.0, |most: f32, power| most.max(power[l])));
        }
        Pair {
            states: States::default(),
            readings: power.clone(),
            is_read: vec![false; states.div_ceil(GROUP)],
            bound: vec![[f32::NAN; LANES]; groups],
            power,
            most,
        }
    }

    /// Noise, averaging, coarse and fine displays, floors of display and of noise.
    fn receivers() -> Vec<Receiver> {
        let fine = Receiver {
            noise_db: 0.02,
            averages: 1,
            resolution_db: 0.01,
            floor_db: None,
            noise_floor_db: None,
        };
        vec![
            fine,
            Receiver { noise_db: 0.0, ..fine },
            Receiver { noise_db: 0.0, resolution_db: 0.0, ..fine },
            Receiver { noise_db: 0.5, resolution_db: 0.0, averages: 3, ..fine },
            Receiver { noise_db: 30.0, ..fine },
            Receiver { resolution_db: 3.0, ..fine },
            Receiver { floor_db: Some(-10.0), ..fine },
            Receiver { floor_db: Some(10.0), ..fine },
            Receiver { noise_floor_db: Some(-30.0), ..fine },
            Receiver { noise_floor_db: Some(5.0), averages: 2, ..fine },
        ]
    }

    /// The first code with the outermost of all readings, each of them drawn.
    fn of_all(pair: &mut Pair<LANES>, meter: &Meter, noise: Noise, sign: f32) -> [Code; LANES] {
        let readings = pair.read_all(meter, noise).to_vec();
        std::array::from_fn(|l| {
            let ahead = |best: usize, code: usize| {
                if sign * readings[code][l] > sign * readings[best][l] { code } else { best }
            };
            (0..readings.len()).fold(0, ahead) as Code
        })
    }

    #[test]
    fn leaving_out_codes_that_cannot_win_changes_no_answer() {
        for receiver in receivers() {
            let meter = receiver.meter();
            for bits in [1, 2, 3, 6, 8] {
                for slot in 0..40 {
                    let mut pair = pair(bits, slot);
                    let noise = Noise { key: Key::new(4, "noise"), first_trial: 48, slot };
                    let highest = of_all(&mut pair, &meter, noise, 1.0);
                    let lowest = of_all(&mut pair, &meter, noise, -1.0);
                    assert_eq!(pair.highest(&meter, noise), highest, "{receiver:?}, {bits} bits, {slot}");
                    assert_eq!(pair.lowest(&meter, noise), lowest, "{receiver:?}, {bits} bits, {slot}");
                }
            }
        }
    }

    /// Were the bound too tight, some answer would change: the same search with a hundredth of the reach.
    #[test]
    fn a_bound_too_tight_changes_answers() {
        let noisy = receivers()[3];
        let sure = Receiver { noise_db: noisy.noise_db / 100.0, ..noisy };
        let changed = (0..40).any(|slot| {
            let mut pair = pair(6, slot);
            let noise = Noise { key: Key::new(4, "noise"), first_trial: 48, slot };
            let meter = noisy.meter().with_reach_of(&sure.meter());
            pair.highest(&meter, noise) != of_all(&mut pair, &meter, noise, 1.0)
        });
        assert!(changed);
    }

    #[test]
    fn readings_do_not_depend_on_how_they_are_asked_for() {
        let meter = receivers()[8].meter();
        let noise = Noise { key: Key::new(4, "noise"), first_trial: 7, slot: 2 };
        let mut pair = pair(6, 2);
        let one_by_one: Vec<_> = (0..64).rev().map(|code| pair.read(code, &meter, noise)).collect();
        assert!(pair.read_all(&meter, noise).iter().eq(one_by_one.iter().rev()));
    }

    /// Powers at every state, computed from sines and cosines in double precision.
    #[test]
    fn a_joined_pair_has_the_power_of_the_sum() {
        let study =
            include_str!("../../studies/line-64.toml").replace("bits = 6\nbit_phase", "bits = 5\nbit_phase");
        let source = SourceText { name: "line-64.toml".into(), text: study };
        let plan = plan::compile(&study::parse(&source).expect("the study is right"), &source.text);
        let shifter = plan.chain.shifter();
        let mut draws = plan.sources.buffer::<LANES>();
        plan.sources.draw(5, &mut draws);
        let (a, b) = (0.8, 0.6);
        let complex = |x| Complex { re: Lanes([x; LANES]), im: Lanes::ZERO };
        let mut pair = Pair::new(shifter);
        pair.join(shifter, &draws, 9, &complex(a), &complex(b));
        for code in 0..32 {
            let (mut gain, mut phase) = ([[0.0; LANES]], [[0.0; LANES]]);
            shifter.set(&draws, 9, &[[code; LANES]], &mut gain, &mut phase);
            for l in 0..LANES {
                let size = f64::from(b) * scalar::exp(f64::from(gain[0][l]));
                let (sine, cosine) = scalar::sin_cos(f64::from(phase[0][l]));
                let expected = (f64::from(a) + size * cosine).powi(2) + (size * sine).powi(2);
                let error = (f64::from(pair.power[code as usize][l]) - expected).abs();
                // Rounding of a few products of numbers of size 1.
                assert!(error < 2e-6, "{code}: {error}");
            }
        }
    }
}
