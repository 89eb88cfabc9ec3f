//! The highest or lowest reading of a sweep without drawing it all.
//!
//! A reading's noise is keyed by what is read, so a reading exists whether it is drawn or not. A draw is never farther than
//! [`FARTHEST`](crate::math::deviate::FARTHEST) standard deviations, so a code whose power, raised by that much, is
//! under the best reading found so far (display step and kernel errors allowed for: [`Meter::below`]) cannot be the
//! highest, whatever its draw: leaving it out is exact. Codes are drawn in groups of four, one block of the generator, the
//! most promising groups of each lane first. With noise of 0.02 dB and 64 codes about three groups of 16 are left.

use super::reading::{Deviates, Drawn};
use super::{GROUP, four};
use crate::bench::{Code, Meter};
use multiversion::multiversion;

/// Groups whose promise is looked at together.
pub(super) const FEW: usize = 4;
/// Groups that one set of marks holds.
const MARKS: usize = u32::BITS as usize;

/// The code with the highest (or lowest) reading, by drawing only groups that can hold it: first the two most
/// promising ones of each lane, then all whose bound is not beaten by what those read.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn outermost<const W: usize, const HIGHEST: bool, const THERMAL: bool, const KEPT: bool>(
    meter: &Meter,
    deviates: Deviates<W>,
    power: &[[f32; W]],
    most: &[[f32; W]],
    bound: &mut [[f32; W]],
) -> [Code; W] {
    let none = if HIGHEST { f32::NEG_INFINITY } else { f32::INFINITY };
    let mut search = Search::<W, HIGHEST, THERMAL, KEPT> { best: [none; W], at: [0; W] };
    let (mut promise, mut group) = ([none; W], [0; W]);
    let (mut next_promise, mut next) = ([none; W], [0; W]);
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
                let is_best = if HIGHEST { here > promise[l] } else { here < promise[l] };
                let is_next = if HIGHEST { here > next_promise[l] } else { here < next_promise[l] };
                let second = if is_next { (here, number + i as u32) } else { (next_promise[l], next[l]) };
                (next_promise[l], next[l]) = if is_best { (promise[l], group[l]) } else { second };
                (promise[l], group[l]) =
                    if is_best { (here, number + i as u32) } else { (promise[l], group[l]) };
            }
        }
    }
    search.read(meter, deviates, power, &group);
    search.read(meter, deviates, power, &next);
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
                    let group = number + offset + i as u32;
                    let is_new = (group != first[l]) & (group != next[l]);
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
            search.read(meter, deviates, power, &group);
        }
    }
    search.at
}

/// The best reading so far, and the first code that has it.
struct Search<const W: usize, const HIGHEST: bool, const THERMAL: bool, const KEPT: bool> {
    best: [f32; W],
    at: [Code; W],
}

impl<const W: usize, const HIGHEST: bool, const THERMAL: bool, const KEPT: bool>
    Search<W, HIGHEST, THERMAL, KEPT>
{
    /// Takes in the readings of a group, each lane its own.
    #[inline(always)]
    fn read(&mut self, meter: &Meter, deviates: Deviates<W>, power: &[[f32; W]], group: &[u32; W]) {
        if let (groups, []) = power.as_chunks::<GROUP>() {
            let mut here = [[0.0; W]; GROUP];
            for l in 0..W {
                let rows = &groups[group[l] as usize];
                for i in 0..GROUP {
                    here[i][l] = rows[i][l];
                }
            }
            self.take::<GROUP>(meter, deviates, &here, group);
        } else {
            // A shifter of one bit.
            self.take::<2>(meter, deviates, &[power[0], power[1]], group);
        }
    }

    #[inline(always)]
    fn take<const N: usize>(
        &mut self,
        meter: &Meter,
        deviates: Deviates<W>,
        power: &[[f32; W]; N],
        group: &[u32; W],
    ) {
        let mut drawn = Drawn::<W, N>::of::<THERMAL>(meter, power);
        if meter.is_noisy {
            drawn.deviate = deviates.of_groups::<KEPT>(group);
        }
        for l in 0..W {
            let (mut best, mut at) = (self.best[l], self.at[l]);
            for i in 0..N {
                let code = GROUP as Code * group[l] + i as Code;
                let reading = meter.show(drawn.level[i][l], drawn.sd[i][l], drawn.deviate[i][l]);
                let is_better = if HIGHEST { reading > best } else { reading < best };
                let is_first = (reading == best) & (code < at);
                at = if is_better | is_first { code } else { at };
                best = if is_better { reading } else { best };
            }
            (self.best[l], self.at[l]) = (best, at);
        }
    }
}
