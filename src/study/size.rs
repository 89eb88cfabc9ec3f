//! How large an array a study may ask for: what a thread's memory, the search for side lobes and the arithmetic bear.

use crate::array::{Lattice, MOST_A_SIDE, SPEED_OF_LIGHT};
use crate::chain::Chain;
use crate::figure::OVERSAMPLING;
use crate::io::{Dimension, Table, quantity};
use crate::random::{Grouping, Sources};

/// Most channels of an array, whatever its layout.
const MOST_CHANNELS: usize = MOST_A_SIDE as usize;

/// Spacings in wavelengths: no element is smaller, and wider lattices are all grating lobes.
const NARROWEST: f64 = 0.01;
const WIDEST: f64 = 32.0;

/// Most samples of one far field: 256 MiB for the batch of a thread.
const MOST_SAMPLES: f64 = (1 << 22) as f64;

/// Most draws of one unit: 256 MiB for the batch of a thread.
const MOST_DRAWS: usize = 1 << 22;

/// Refuses a lattice that is too large, too dense or too wide at one of the study's frequencies, Hz (none where they could
/// not be read).
pub(super) fn check_lattice(array: &Table, lattice: &Lattice, frequencies: &[f64], command_frequency: f64) {
    let refuse = |message: String, label: String, help: String| {
        array.error(array.span_of("layout"), message, label, Some(help));
    };
    let Lattice { columns, rows, dx, dy } = *lattice;
    if columns * rows > MOST_CHANNELS {
        refuse(
            format!("{columns} by {rows} elements are {} channels", columns * rows),
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
    let spacings = if lattice.is_line() { vec![dx] } else { vec![dx, dy] };
    for spacing in spacings {
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
    let along = |elements: usize, spacing: f64| {
        let bins = (elements.next_power_of_two() * OVERSAMPLING) as f64;
        if elements == 1 { 1.0 } else { bins * (2.0 * spacing / shortest).max(1.0) }
    };
    let samples = along(columns, dx) * along(rows, dy);
    if samples > MOST_SAMPLES {
        refuse(
            format!("the far field of this array takes {samples:.0} samples"),
            format!("more than {MOST_SAMPLES} samples"),
            "fewer elements, or a closer spacing".into(),
        );
    }
}

/// Refuses more draws than a thread can hold, of an array that is not too large by itself.
pub(super) fn check_draws(root: &Table, chain: &Chain, grouping: Grouping) {
    let mut sources = Sources::new(0, grouping);
    chain.clone().bind(&mut sources);
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
