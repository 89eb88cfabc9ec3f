//! Stepped blocks without steps: what rounding costs is what they save.

use crate::bench::{Code, CodeTable, Command, ShifterSetting};
use crate::chain::NEPERS_A_DB;
use crate::engine::channels::Channels;
use crate::figure::Field;

/// Turns every channel on from its code to the phase that is wanted of it; the errors of the code stay.
pub(super) fn reach_phases<const W: usize>(
    states: usize,
    commands: &[Command],
    table: &CodeTable<W>,
    codes: &[[Code; W]],
    field: &mut Field<W>,
) {
    let setting = ShifterSetting { offsets: table.offsets, states };
    for (channel, command) in commands.iter().enumerate() {
        let steps = table.measured.phases().map(|of| &of[channel * states..][..states]);
        for l in 0..W {
            let left = setting.left(command, table.phase[channel][l], steps, codes[channel][l], l);
            field.phase[channel][l] += left;
        }
    }
}

/// Attenuates every channel by what its code falls short of.
pub(super) fn reach_levels<const W: usize>(table: &CodeTable<W>, channels: &mut Channels<W>) {
    for (gain, short) in channels.gain.iter_mut().zip(&table.short) {
        for l in 0..W {
            gain[l] -= NEPERS_A_DB as f32 * short[l];
        }
    }
}
