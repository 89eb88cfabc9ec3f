//! The highest or lowest reading of a sweep without drawing it all.
//!
//! A reading's noise is keyed by what is read, so a reading exists whether it is drawn or not. A draw is never farther than
//! [`FARTHEST`](crate::math::deviate::FARTHEST) standard deviations, so a code whose power, raised by that much, is
//! under the best reading found so far (display step and kernel errors allowed for: [`Meter::below`]) cannot be the
//! highest, whatever its draw: leaving it out is exact. Codes are drawn in groups of four, one block of the generator, the
//! most promising groups of each lane first. With noise of 0.02 dB and 64 codes about three groups of 16 are left.
//!
//! A receiver that drifts, stretches levels or saturates shows another level, but a higher one of a higher level at the same moment: so
//! with the drift of every reading known, which costs less than the reading, the farthest of it bounds what a power can show, and
//! the same codes can be left out. Where it stretches or drifts beyond what that holds for, the limit lets every code in.

use super::reading::{Deviates, Drawn, rows_of};
use super::{GROUP, four};
use crate::bench::{Code, Meter};
use multiversion::multiversion;

/// A receiver whose readings depend on the moment.
#[derive(Clone, Copy)]
pub(in crate::engine) struct Unsteady<'d, const W: usize> {
    /// Its drift at each code of a sweep, dB, `[code][lane]`.
    pub drift: &'d [[f32; W]],
    /// How far it stretches levels, dB a dB.
    pub tilt: [f32; W],
}

impl<const W: usize> Unsteady<'_, W> {
    /// One that is steady.
    pub(super) const NOT: Unsteady<'static, W> = Unsteady { drift: &[], tilt: [0.0; W] };
}

/// Groups whose promise is looked at together.
pub(super) const FEW: usize = 4;
/// Groups that one set of marks holds.
const MARKS: usize = u32::BITS as usize;

/// The code with the highest (or lowest) reading, by drawing only groups that can hold it: first the two most
/// promising ones of each lane, then all whose bound is not beaten by what those read.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn outermost<
    const W: usize,
    const HIGHEST: bool,
    const THERMAL: bool,
    const KEPT: bool,
    const STEADY: bool,
>(
    meter: &Meter,
    unsteady: Unsteady<W>,
    deviates: Deviates<W>,
    power: &[[f32; W]],
    most: &[[f32; W]],
    bound: &mut [[f32; W]],
) -> [Code; W] {
    let none = if HIGHEST { f32::NEG_INFINITY } else { f32::INFINITY };
    let mut search = Search::<W, HIGHEST, THERMAL, KEPT, STEADY> { best: [none; W], at: [0; W] };
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
    // All is read in one place, so that the draws are compiled once.
    let mut rest = Rest::<W, HIGHEST> { but: [group, next], limit: [0.0; W], marks: [0; W], next: 0 };
    for round in 0.. {
        let read = match round {
            0 => group,
            1 => next,
            _ => {
                if round == 2 {
                    rest.limit = limit::<W, HIGHEST, STEADY>(meter, unsteady, &search.best);
                }
                match rest.next(bound) {
                    Some(groups) => groups,
                    None => break,
                }
            }
        };
        search.read(meter, unsteady, deviates, power, &read);
    }
    search.at
}

/// What a code's bound must reach to be the outermost in spite of a reading, whatever the moment that it is read at.
#[inline(always)]
fn limit<const W: usize, const HIGHEST: bool, const STEADY: bool>(
    meter: &Meter,
    unsteady: Unsteady<W>,
    best: &[f32; W],
) -> [f32; W] {
    let none = if HIGHEST { f32::NEG_INFINITY } else { f32::INFINITY };
    let (mut farthest, mut limit) = ([none; W], [0.0; W]);
    for drift in unsteady.drift {
        for l in 0..W {
            let is_farther = if HIGHEST { drift[l] > farthest[l] } else { drift[l] < farthest[l] };
            farthest[l] = if is_farther { drift[l] } else { farthest[l] };
        }
    }
    // A loop: closures over arrays are no vector code.
    for l in 0..W {
        let (best, farthest, tilt) = (best[l], farthest[l], unsteady.tilt[l]);
        limit[l] = match (STEADY, HIGHEST) {
            (true, true) => meter.below(best),
            (true, false) => meter.above(best),
            (false, true) => meter.below_unsteady(best, farthest, tilt),
            (false, false) => meter.above_unsteady(best, farthest, tilt),
        };
    }
    limit
}

/// The groups left after the most promising ones: those whose bound is not beaten by what was read.
struct Rest<const W: usize, const HIGHEST: bool> {
    /// The groups that were read.
    but: [[u32; W]; 2],
    limit: [f32; W],
    /// Those of one set that are not read yet, one bit each.
    marks: [u32; W],
    /// Where the next set begins.
    next: usize,
}

impl<const W: usize, const HIGHEST: bool> Rest<W, HIGHEST> {
    /// The next group for each lane; `None` at the end of all lanes.
    #[inline(always)]
    fn next(&mut self, bound: &[[f32; W]]) -> Option<[u32; W]> {
        while self.marks.iter().fold(0, |any, marks| any | marks) == 0 {
            let bounds = bound.get(self.next..).filter(|bounds| !bounds.is_empty())?;
            self.mark(&bounds[..bounds.len().min(MARKS)]);
            self.next += MARKS;
        }
        let set = (self.next - MARKS) as u32;
        let mut groups = self.but[0];
        for l in 0..W {
            // A lane with nothing left reads its first group once more, which changes nothing.
            let lowest = self.marks[l] & self.marks[l].wrapping_neg();
            groups[l] = if lowest == 0 { groups[l] } else { set + lowest.trailing_zeros() };
            self.marks[l] ^= lowest;
        }
        Some(groups)
    }

    #[inline(always)]
    fn mark(&mut self, bounds: &[[f32; W]]) {
        for (offset, bounds) in (0..).step_by(FEW).zip(bounds.as_chunks::<FEW>().0) {
            for l in 0..W {
                for i in 0..FEW {
                    let here = bounds[i][l];
                    let can_win = if HIGHEST { here >= self.limit[l] } else { here <= self.limit[l] };
                    let group = self.next as u32 + offset + i as u32;
                    let is_new = (group != self.but[0][l]) & (group != self.but[1][l]);
                    self.marks[l] |= u32::from(can_win & is_new) << (offset + i as u32);
                }
            }
        }
    }
}

/// The best reading so far, and the first code that has it.
struct Search<const W: usize, const HIGHEST: bool, const THERMAL: bool, const KEPT: bool, const STEADY: bool>
{
    best: [f32; W],
    at: [Code; W],
}

impl<const W: usize, const HIGHEST: bool, const THERMAL: bool, const KEPT: bool, const STEADY: bool>
    Search<W, HIGHEST, THERMAL, KEPT, STEADY>
{
    /// Takes in the readings of a group, each lane its own.
    #[inline(always)]
    fn read(
        &mut self,
        meter: &Meter,
        unsteady: Unsteady<W>,
        deviates: Deviates<W>,
        power: &[[f32; W]],
        group: &[u32; W],
    ) {
        let here = rows_of(power, group);
        let drift = if STEADY { [[0.0; W]; GROUP] } else { rows_of(unsteady.drift, group) };
        let mut drawn = Drawn::<W, GROUP>::of::<THERMAL>(meter, &here);
        if meter.is_noisy {
            drawn.deviate = deviates.of_groups::<KEPT>(group);
        }
        // A shifter of one bit has half a group.
        let codes = power.len() as Code;
        for l in 0..W {
            let (mut best, mut at) = (self.best[l], self.at[l]);
            for i in 0..GROUP {
                let code = GROUP as Code * group[l] + i as Code;
                let (level, sd, deviate) = (drawn.level[i][l], drawn.sd[i][l], drawn.deviate[i][l]);
                let reading = if STEADY {
                    meter.show(level, sd, deviate)
                } else {
                    meter.show_unsteady(level + sd * deviate, drift[i][l], unsteady.tilt[l])
                };
                let is_better = if HIGHEST { reading > best } else { reading < best };
                let is_first = (reading == best) & (code < at);
                let is_code = code < codes;
                at = if (is_better | is_first) & is_code { code } else { at };
                best = if is_better & is_code { reading } else { best };
            }
            (self.best[l], self.at[l]) = (best, at);
        }
    }
}
