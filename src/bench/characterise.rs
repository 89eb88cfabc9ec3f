//! What the states of attenuators and shifters really are, measured before they are used.

use crate::bench::method::{Method, Sweep, SweepScratch};
use crate::bench::{Code, Desk, Hardware, Joint, Measured, Moved};
use crate::io::Table;
use crate::math::{TAU, single};

/// Characterising a unit's stepped blocks: their measured states then stand in for nominal steps when levelling, phasing and
/// steering.
///
/// Attenuator: every channel is read alone at each code; the attenuation of a code is the fall from code 0. This holds what an
/// amplifier behind it compresses. Shifter: every channel is joined with the reference, and at each of its codes the
/// reference's shifter steps through K equally spaced codes; the angle of the sinusoid through their powers is the phase of the
/// state, whatever the levels of the two arms. The reference itself is measured against its neighbour. Ties: none. Noise: standard deviation
/// s sqrt(2/K) for additive noise s of the amplitude. What the reference's own steps are off shifts all states of a channel alike, and so
/// drops out. Units: dB, rad. Source: common practice, no source; the sinusoid as in [`Fit`](crate::bench::method::Fit).
#[derive(Clone, Debug, PartialEq)]
pub struct Characterise {
    /// The attenuators are measured.
    pub attenuator: bool,
    /// The shifters are measured by these codes of the reference; `None` where they are not.
    pub shifter: Option<Sweep>,
}

/// Codes of the reference for each state where the study does not say.
const USUAL_CODES: usize = 4;

impl Characterise {
    /// Reads `characterise = { attenuator = true, shifter = true, codes = 4 }` for a shifter of `states`; absent: nothing.
    pub(super) fn read(calibration: &Table, states: usize) -> Option<Characterise> {
        let table = calibration.table("characterise")?;
        let attenuator = table.flag_or("attenuator", false);
        let is_shifter = table.flag_or("shifter", false);
        let mut shifter = None;
        if is_shifter && states < USUAL_CODES {
            table.error(
                table.span_of("shifter"),
                "the shifter has too few codes to be measured by",
                format!("{USUAL_CODES} codes are needed, it has {states}"),
                Some("a shifter of 2 bits or more".into()),
            );
        } else if is_shifter {
            let count = table.count_or("codes", 3..=states as u64, USUAL_CODES as u64) as usize;
            if states.is_multiple_of(count) {
                shifter = Some(Sweep::new(Method::Fit, states, count));
            } else {
                table.error(
                    table.span_of("codes"),
                    format!("{count} codes are not equally spaced over the {states} of the shifter"),
                    "does not divide the number of states",
                    Some(format!("a divisor of {states} that is at least 3")),
                );
            }
        }
        if !attenuator && !is_shifter {
            table.error(
                table.span(),
                "nothing is characterised",
                "neither attenuator nor shifter",
                Some("`attenuator = true`, `shifter = true`, or both".into()),
            );
        }
        Some(Characterise { attenuator, shifter })
    }

    /// Reads every channel at each code of its attenuator in run `round`; the readings at code 0 stay in `level`.
    pub(super) fn attenuators<const W: usize>(
        &self,
        desk: &mut impl Desk<W>,
        hardware: &Hardware,
        round: u32,
        level: &mut [[f32; W]],
        measured: &mut Measured<W>,
    ) {
        let Some((_, states)) = hardware.attenuator else { return };
        let channels = level.len();
        let mut readings = vec![[0.0; W]; channels];
        measured.attenuation.resize(channels * states, [0.0; W]);
        for code in 0..states {
            desk.set_attenuators(&vec![[code as Code; W]; channels]);
            desk.read_alone(round, code as Code, &mut readings);
            if code == 0 {
                level.copy_from_slice(&readings);
            }
            for (channel, reading) in readings.iter().enumerate() {
                for l in 0..W {
                    measured.attenuation[channel * states + code][l] = level[channel][l] - reading[l];
                }
            }
        }
    }

    /// Measures the states of every channel's shifter against `reference`.
    pub(super) fn shifters<const W: usize>(
        &self,
        desk: &mut impl Desk<W>,
        reference: usize,
        channels: usize,
        round: u32,
        scratch: &mut SweepScratch<W>,
        measured: &mut Measured<W>,
    ) {
        let Some(sweep) = &self.shifter else { return };
        let states = sweep.states();
        measured.phase.resize(channels * states, [0.0; W]);
        let mut last = None;
        for channel in 0..channels {
            let against = match () {
                _ if channel != reference => reference,
                _ if reference > 0 => reference - 1,
                _ => 1,
            };
            // Against another channel than the last both cables move.
            let moved = if last == Some(against) { Moved::Stepped } else { Moved::Both };
            last = Some(against);
            desk.join(Joint { reference: against, stepped: channel, is_swapped: false, moved, round });
            let mut zero = [0.0; W];
            for code in 0..states {
                let phase = angle(sweep, desk, code as Code, scratch);
                zero = if code == 0 { phase } else { zero };
                for l in 0..W {
                    let over = phase[l] - zero[l];
                    measured.phase[channel * states + code][l] =
                        over - TAU as f32 * single::round(over * (1.0 / TAU) as f32);
                }
            }
        }
    }
}

/// Phase of the stepped channel at a code over the reference's, rad: where the reference's sinusoid peaks.
fn angle<const W: usize>(
    sweep: &Sweep,
    desk: &mut impl Desk<W>,
    code: Code,
    scratch: &mut SweepScratch<W>,
) -> [f32; W] {
    scratch.readings.resize(sweep.codes().len(), [0.0; W]);
    for (turned, reading) in sweep.codes().iter().zip(&mut scratch.readings) {
        desk.turn_reference(*turned);
        *reading = desk.read(code, &[true; W]);
    }
    sweep.angle(&scratch.readings)
}
