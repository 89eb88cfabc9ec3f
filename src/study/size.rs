//! How large an array a study may ask for: what a thread's memory, the search for side lobes and the arithmetic bear.

use crate::array::{LAYOUT, Lattice, Layout, MOST_A_SIDE, NARROWEST, SPEED_OF_LIGHT};
use crate::chain::Chain;
use crate::figure::{OVERSAMPLING, sample_spacing};
use crate::io::{Dimension, Table, quantity};
use crate::random::{Grouping, Sources, Tolerance};

/// Most channels of an array, whatever its layout.
const MOST_CHANNELS: usize = MOST_A_SIDE as usize;

/// Widest spacing in wavelengths: wider lattices are all grating lobes.
const WIDEST: f64 = 32.0;

/// Most samples of one far field: 256 MiB for the batch of a thread.
const MOST_SAMPLES: f64 = (1 << 22) as f64;

/// Most draws of one unit: 256 MiB for the batch of a thread.
const MOST_DRAWS: usize = 1 << 22;

/// Most phasors of one beam point of an array on no rectangular lattice: 32 MiB.
const MOST_PHASORS: f64 = (1 << 22) as f64;

/// Refuses an array that is too large, too dense or too wide at one of the study's frequencies, Hz (none where they could
/// not be read).
pub(super) fn check_layout(array: &Table, layout: &Layout, frequencies: &[f64], command_frequency: f64) {
    let refuse = |message: String, label: String, help: String| {
        array.error(array.span_of(LAYOUT), message, label, Some(help));
    };
    let channels = layout.channels();
    if channels > MOST_CHANNELS {
        refuse(
            match layout.sides() {
                Some((columns, rows)) => format!("{columns} by {rows} elements are {channels} channels"),
                None => format!("{channels} elements are as many channels"),
            },
            format!("more than {MOST_CHANNELS} channels"),
            format!("at most {MOST_CHANNELS} channels in all"),
        );
        return;
    }
    if frequencies.is_empty() {
        return;
    }
    let all = || frequencies.iter().copied().chain([command_frequency]);
    let shortest = SPEED_OF_LIGHT / all().fold(0.0, f64::max);
    let longest = SPEED_OF_LIGHT / all().fold(f64::INFINITY, f64::min);
    let length = |metres| quantity::format(metres, Dimension::Length);
    for spacing in layout.spacings() {
        let is_possible = NARROWEST * longest <= spacing && spacing <= WIDEST * shortest;
        if !is_possible {
            refuse(
                format!("elements cannot stand {} apart", length(spacing)),
                if spacing > shortest { "too wide a lattice" } else { "too dense a lattice" }.into(),
                format!(
                    "{NARROWEST} to {WIDEST} wavelengths at every frequency, here {} to {}",
                    length(NARROWEST * longest),
                    length(WIDEST * shortest)
                ),
            );
            return;
        }
    }
    let samples = samples(layout, shortest);
    let in_all = samples.0 * samples.1;
    if in_all > MOST_SAMPLES {
        refuse(
            format!("the far field of this array takes {in_all:.0} samples"),
            format!("more than {MOST_SAMPLES} samples"),
            "fewer elements, or a closer spacing".into(),
        );
        return;
    }
    let phasors = (samples.0 + samples.1) * channels as f64;
    if layout.face().lattice.is_none_or(|lattice| lattice.is_staggered) && phasors > MOST_PHASORS {
        refuse(
            format!("the far field of this array takes {phasors:.0} phasors"),
            format!("more than {MOST_PHASORS} phasors"),
            "fewer elements, or elements closer together".into(),
        );
    }
}

/// Samples of the far field along x and along y.
fn samples(layout: &Layout, wavelength: f64) -> (f64, f64) {
    let face = layout.face();
    if let Some(Lattice { columns, rows, dx, dy, .. }) = face.lattice.filter(Lattice::is_rectangular) {
        let along = |elements: usize, spacing: f64| {
            let bins = (elements.next_power_of_two() * OVERSAMPLING) as f64;
            if elements == 1 { 1.0 } else { bins * (2.0 * spacing / wavelength).max(1.0) }
        };
        return (along(columns, dx), along(rows, dy));
    }
    let along = |position: &[f64]| {
        let extent = position.iter().fold(0.0f64, |most, x| most.max(x.abs())) * 2.0;
        2.0 / sample_spacing(extent, wavelength)
    };
    (along(&face.x), if layout.is_line() { 1.0 } else { along(&face.y) })
}

/// Refuses more draws than a thread can hold, of an array that is not too large by itself.
pub(super) fn check_draws(root: &Table, chain: &Chain<Tolerance>, grouping: Grouping) {
    let mut sources = Sources::new(0, grouping);
    chain.bind(&mut sources);
    let draws: usize = sources.list().iter().map(|source| source.slots * source.groups).sum();
    if grouping.channels <= MOST_CHANNELS && draws > MOST_DRAWS {
        root.error(
            None,
            format!("a unit of this study has {draws} tolerances to draw"),
            "",
            Some(format!("at most {MOST_DRAWS}: fewer channels or bits, or errors given for each bit")),
        );
    }
}
