//! Readings of powers, with deviates that are drawn or kept.

use super::{GROUP, Kept, Noise, four};
use crate::bench::{Code, Meter};
use crate::random::draw;
use multiversion::multiversion;

/// Where a search has its deviates from: those that are kept, if they are, or drawn.
#[derive(Clone, Copy)]
pub(super) struct Deviates<'k, const W: usize> {
    pub noise: Noise,
    pub kept: &'k Kept<W>,
    pub place: Option<usize>,
}

impl<const W: usize> Deviates<'_, W> {
    /// At the codes of a group of its own for each lane; with `KEPT` they are looked for where they may be kept. What only that needs
    /// is not compiled into a search without it, which it would slow down by a tenth.
    #[inline(always)]
    pub(super) fn of_groups<const KEPT: bool>(&self, groups: &[u32; W]) -> [[f32; W]; GROUP] {
        let kept = if KEPT { self.kept.if_there(self.place, groups) } else { None };
        let Some(kept) = kept else {
            let Noise { key, first_trial, slot } = self.noise;
            return draw::normal_block(key, first_trial, |l| groups[l], slot);
        };
        rows_of(kept, groups)
    }
}

/// The rows of a group of its own for each lane.
#[inline(always)]
pub(super) fn rows_of<const W: usize>(rows: &[[f32; W]], group: &[u32; W]) -> [[f32; W]; GROUP] {
    let (groups, []) = rows.as_chunks::<GROUP>() else {
        return four(rows).map(|rows| *rows);
    };
    let mut here = [[0.0; W]; GROUP];
    for l in 0..W {
        let rows = &groups[group[l] as usize];
        for i in 0..GROUP {
            here[i][l] = rows[i][l];
        }
    }
    here
}

/// Reads codes with deviates that are kept, alike in all lanes.
pub(super) fn read_kept<const W: usize>(
    meter: &Meter,
    deviates: &[[f32; W]],
    power: &[[f32; W]],
    readings: &mut [[f32; W]],
) {
    if meter.is_thermal {
        read_groups_kept::<W, true>(meter, deviates, power, readings);
    } else {
        read_groups_kept::<W, false>(meter, deviates, power, readings);
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn read_groups_kept<const W: usize, const THERMAL: bool>(
    meter: &Meter,
    deviates: &[[f32; W]],
    power: &[[f32; W]],
    readings: &mut [[f32; W]],
) {
    let (powers, few) = power.as_chunks::<GROUP>();
    let (readings, few_readings) = readings.as_chunks_mut::<GROUP>();
    let deviates = deviates.as_chunks::<GROUP>().0;
    for ((power, deviates), readings) in powers.iter().zip(deviates).zip(readings) {
        Drawn { deviate: *deviates, ..Drawn::of::<THERMAL>(meter, power) }.show(meter, readings);
    }
    // A shifter of one bit.
    let few = few.as_chunks::<2>().0.iter().zip(few_readings.as_chunks_mut::<2>().0);
    for ((power, readings), deviates) in few.zip(deviates) {
        Drawn { deviate: *deviates, ..Drawn::of::<THERMAL>(meter, power) }.show(meter, readings);
    }
}

/// Reads codes from those of a group on, alike in all lanes.
pub(super) fn read<const W: usize>(
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
    let (powers, few) = power.as_chunks::<GROUP>();
    let (readings, few_readings) = readings.as_chunks_mut::<GROUP>();
    for (group, (power, readings)) in (first_group..).zip(powers.iter().zip(readings)) {
        read_group::<W, GROUP, THERMAL>(meter, noise, group, power, readings);
    }
    // A shifter of one bit.
    for (power, readings) in few.as_chunks::<2>().0.iter().zip(few_readings.as_chunks_mut::<2>().0) {
        read_group::<W, 2, THERMAL>(meter, noise, first_group, power, readings);
    }
}

#[inline(always)]
fn read_group<const W: usize, const N: usize, const THERMAL: bool>(
    meter: &Meter,
    noise: Noise,
    group: u32,
    power: &[[f32; W]; N],
    readings: &mut [[f32; W]; N],
) {
    let mut drawn = Drawn::<W, N>::of::<THERMAL>(meter, power);
    // The draws come last: they take longest, and the levels need not wait for them.
    if meter.is_noisy {
        drawn.deviate = draw::normal_block(noise.key, noise.first_trial, |_| group, noise.slot);
    }
    drawn.show(meter, readings);
}

/// Reads codes of which no two are of one group, alike in all lanes, with deviates that are kept, `[code]`, or drawn.
pub(super) fn read_some<const W: usize>(
    meter: &Meter,
    noise: Noise,
    codes: &[Code],
    power: &[[f32; W]],
    kept: Option<&[[f32; W]]>,
    readings: &mut [[f32; W]],
) {
    if meter.is_thermal {
        read_codes::<W, true>(meter, noise, codes, power, kept, readings);
    } else {
        read_codes::<W, false>(meter, noise, codes, power, kept, readings);
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn read_codes<const W: usize, const THERMAL: bool>(
    meter: &Meter,
    noise: Noise,
    codes: &[Code],
    power: &[[f32; W]],
    kept: Option<&[[f32; W]]>,
    readings: &mut [[f32; W]],
) {
    for (code, reading) in codes.iter().zip(readings) {
        let power = &power[*code as usize];
        let (mut level, mut sd, mut deviate) = ([0.0; W], [0.0; W], [0.0; W]);
        for l in 0..W {
            level[l] = meter.level::<THERMAL>(power[l]);
            sd[l] = meter.sd_at::<THERMAL>(power[l]);
        }
        if let Some(kept) = kept {
            deviate = kept[*code as usize];
        } else if meter.is_noisy {
            deviate = draw::normal_at(noise.key, noise.first_trial, *code, noise.slot);
        }
        for l in 0..W {
            reading[l] = meter.show(level[l], sd[l], deviate[l]);
        }
    }
}

/// Reads a code of its own in each lane, with deviates that are kept, or drawn.
pub(super) fn read_lanes<const W: usize>(
    meter: &Meter,
    noise: Noise,
    codes: &[Code; W],
    power: &[f32; W],
    kept: Option<[f32; W]>,
) -> [f32; W] {
    if meter.is_thermal {
        read_each::<W, true>(meter, noise, codes, power, kept)
    } else {
        read_each::<W, false>(meter, noise, codes, power, kept)
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn read_each<const W: usize, const THERMAL: bool>(
    meter: &Meter,
    noise: Noise,
    codes: &[Code; W],
    power: &[f32; W],
    kept: Option<[f32; W]>,
) -> [f32; W] {
    let (mut reading, mut deviate) = ([0.0; W], kept.unwrap_or([0.0; W]));
    if meter.is_noisy && kept.is_none() {
        let rows: [[f32; W]; GROUP] =
            draw::normal_block(noise.key, noise.first_trial, |l| codes[l] / GROUP as Code, noise.slot);
        for l in 0..W {
            deviate[l] = rows[codes[l] as usize % GROUP][l];
        }
    }
    for l in 0..W {
        reading[l] =
            meter.show(meter.level::<THERMAL>(power[l]), meter.sd_at::<THERMAL>(power[l]), deviate[l]);
    }
    reading
}

/// What readings of N codes of a group are made of, `[code][lane]`.
pub(super) struct Drawn<const W: usize, const N: usize> {
    pub level: [[f32; W]; N],
    pub sd: [[f32; W]; N],
    /// For all codes of the group.
    pub deviate: [[f32; W]; GROUP],
}

impl<const W: usize, const N: usize> Drawn<W, N> {
    /// Of codes with these powers, without noise yet.
    #[inline(always)]
    pub(super) fn of<const THERMAL: bool>(meter: &Meter, power: &[[f32; W]; N]) -> Drawn<W, N> {
        let mut drawn = Drawn { level: [[0.0; W]; N], sd: [[0.0; W]; N], deviate: [[0.0; W]; GROUP] };
        for l in 0..W {
            for i in 0..N {
                drawn.level[i][l] = meter.level::<THERMAL>(power[i][l]);
                drawn.sd[i][l] = meter.sd_at::<THERMAL>(power[i][l]);
            }
        }
        drawn
    }

    #[inline(always)]
    fn show(&self, meter: &Meter, readings: &mut [[f32; W]; N]) {
        for l in 0..W {
            for i in 0..N {
                readings[i][l] = meter.show(self.level[i][l], self.sd[i][l], self.deviate[i][l]);
            }
        }
    }
}
