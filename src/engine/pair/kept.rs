//! Noise that several calibrations read: what is joined is known by key and slot, and has the same deviates at a code whoever reads
//! it, so that they are drawn once for a batch and kept.

use super::{GROUP, Noise};
use crate::bench::Code;
use crate::random::{Key, draw};
use multiversion::multiversion;
use std::collections::HashMap;

/// Most bytes that a thread keeps; what is beyond is drawn each time.
const MOST_BYTES: usize = 2 << 20;

/// Deviates of a batch's readings.
#[derive(Clone, Debug, Default)]
pub(in crate::engine) struct Kept<const W: usize> {
    /// Codes that there is room for, whole groups; 0 where nothing is kept.
    codes: usize,
    first_trial: u64,
    /// Places of what was joined.
    places: HashMap<(Key, u32), usize>,
    /// `[place][code][lane]`
    deviates: Vec<[f32; W]>,
    /// `[place][group]`
    is_there: Vec<bool>,
}

impl<const W: usize> Kept<W> {
    /// Keeps the noise of sweeps of up to so many states.
    pub(crate) fn of_states(states: usize) -> Kept<W> {
        Kept { codes: states.next_multiple_of(GROUP), ..Kept::default() }
    }

    /// Where the noise of what is joined is kept; `None` where it is not.
    pub(crate) fn place(&mut self, noise: Noise) -> Option<usize> {
        if self.codes == 0 {
            return None;
        }
        if self.first_trial != noise.first_trial {
            self.first_trial = noise.first_trial;
            self.places.clear();
            self.is_there.fill(false);
        }
        let next = self.places.len();
        let place = *self.places.entry((noise.key, noise.slot)).or_insert(next);
        if (place + 1) * self.codes * size_of::<[f32; W]>() > MOST_BYTES {
            return None;
        }
        if self.is_there.len() <= place * self.groups() {
            self.deviates.resize((place + 1) * self.codes, [0.0; W]);
            self.is_there.resize((place + 1) * self.groups(), false);
        }
        Some(place)
    }

    /// The deviates at the codes of `count` groups from one on; draws those that are not there yet.
    pub(crate) fn groups_of(
        &mut self,
        place: usize,
        noise: Noise,
        first: usize,
        count: usize,
    ) -> &[[f32; W]] {
        let groups = place * self.groups() + first..place * self.groups() + first + count;
        let deviates = &mut self.deviates[groups.start * GROUP..groups.end * GROUP];
        draw_missing(noise, first as u32, &mut self.is_there[groups], deviates);
        deviates
    }

    /// The deviates at all codes, of which those in the groups of some codes are there.
    pub(crate) fn groups_with(&mut self, place: usize, noise: Noise, codes: &[Code]) -> &[[f32; W]] {
        for code in codes {
            self.groups_of(place, noise, *code as usize / GROUP, 1);
        }
        &self.deviates[place * self.codes..][..self.codes]
    }

    /// Gives the deviates of a reading of each channel, `[channel]`, in place of those at as many codes; says whether they are kept.
    pub(in crate::engine) fn give(&mut self, noise: Noise, deviates: &mut [[f32; W]]) -> bool {
        let place = if deviates.len() <= self.codes { self.place(noise) } else { None };
        let Some(place) = place else { return false };
        let count = deviates.len();
        let kept = self.groups_of(place, noise, 0, count.div_ceil(GROUP));
        deviates.copy_from_slice(&kept[..count]);
        true
    }

    /// The deviates at all codes, if the groups that lanes read are there.
    #[inline(always)]
    pub(crate) fn if_there(&self, place: Option<usize>, groups: &[u32; W]) -> Option<&[[f32; W]]> {
        let place = place?;
        let is_there = &self.is_there[place * self.groups()..][..self.groups()];
        let are_there = groups.iter().all(|group| is_there[*group as usize]);
        are_there.then(|| &self.deviates[place * self.codes..][..self.codes])
    }

    fn groups(&self) -> usize {
        self.codes / GROUP
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn draw_missing<const W: usize>(noise: Noise, first: u32, is_there: &mut [bool], deviates: &mut [[f32; W]]) {
    let groups = is_there.iter_mut().zip(deviates.as_chunks_mut::<GROUP>().0);
    for (group, (is_there, deviates)) in (first..).zip(groups) {
        if !*is_there {
            *deviates = draw::normal_block(noise.key, noise.first_trial, |_| group, noise.slot);
            *is_there = true;
        }
    }
}
