//! The states of attenuators and shifters, measured before they are used.

use crate::bench::method::{Sweep, SweepScratch, codes};
use crate::bench::{Bench, Code, Hardware, LiveChannels, Measured, Pair, Reconnection};
use crate::io::{Count, Flag, Key, Nested, Optional, Table, keys};
use crate::math::single::within_half_a_turn;

/// Characterising a unit's stepped blocks: their measured states then stand in for nominal steps when levelling, phasing and
/// steering.
///
/// Attenuator: every channel is read alone at each code; the attenuation of a code is the fall from code 0. This holds the compression of an
/// amplifier behind it. Shifter: every channel is joined with the reference, and at each of its codes the
/// reference's shifter steps through K evenly spread codes; the angle of the sinusoid through their powers is the phase of the
/// state, whatever the levels of the two arms; over the air the two channels are on alone. The reference itself is measured against
/// its neighbour, the nearest live channel before it or else behind it; dead channels are left out. Ties: none. Noise: standard deviation s sqrt(2/K) for additive noise s of the amplitude. The mean error of the reference's own
/// steps shifts all states of a channel alike, and so drops out; an error that alternates from step to step stays, at twice
/// the angle: by half the error of its quarter-turn bit at K = 4, by 0.35 of it at K = 8 (own derivation: the phasor of the sum of
/// e^(j (2 t + error)) over the reference's steps t). Units: dB, rad. Source: common practice, no source; the sinusoid as in
/// [`Fit`](crate::bench::method::Fit).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Characterise {
    /// The attenuators are measured.
    pub attenuator: bool,
    /// The shifters are measured by these codes of the reference; `None` where they are not.
    pub shifter: Option<Sweep>,
}

/// Codes of the reference for each state where the study does not say.
const USUAL_CODES: usize = 4;

keys! {
    KEYS: "Measuring the steps first";
    ATTENUATOR: Flag = Key::flag("attenuator", "Whether the attenuators' steps are measured");
    SHIFTER: Flag = Key::flag("shifter", "Whether the shifters' steps are measured");
    CODES: Optional<Count> =
        codes("4", "Codes of the reference for each state; 4 where it is left out");
}

/// Key of it in the table of a plan.
pub(crate) const CHARACTERISE: Key<Nested> =
    Key::table("characterise", &KEYS, "{ attenuator = true, shifter = true }");

impl Characterise {
    /// Reads `characterise = { attenuator = true, shifter = true, codes = 4 }` for a shifter of `states`; absent: nothing.
    pub(super) fn read(calibration: &Table, states: usize) -> Option<Characterise> {
        let table = calibration.table(CHARACTERISE)?;
        let attenuator = table.read(&ATTENUATOR);
        let is_shifter = table.read(&SHIFTER);
        let mut shifter = None;
        if is_shifter && states < USUAL_CODES {
            table.error(
                table.span_of(SHIFTER),
                "the shifter has too few codes to be measured by",
                format!("{USUAL_CODES} codes are needed, it has {states}"),
                Some("a shifter of 2 bits or more".into()),
            );
        } else if is_shifter {
            shifter = Some(Sweep::read_spread(&table, &CODES, states, USUAL_CODES));
        }
        let is_sound = [ATTENUATOR, SHIFTER].iter().all(|key| !table.has(key) || table.is_sound(key));
        if !attenuator && !is_shifter && is_sound {
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
    pub(super) fn attenuators<D: Bench<W>, const W: usize>(
        &self,
        bench: &mut D,
        hardware: &Hardware,
        round: u32,
        live: &mut LiveChannels<W>,
        level: &mut [[f32; W]],
        measured: &mut Measured<W>,
    ) -> Result<(), D::Fault> {
        let Some((_, states)) = hardware.attenuator else { return Ok(()) };
        let channels = level.len();
        let mut readings = vec![[0.0; W]; channels];
        measured.attenuation.resize(channels * states, [0.0; W]);
        for code in 0..states {
            bench.set_attenuators(&vec![[code as Code; W]; channels])?;
            bench.read_alone(round, code as Code, live.to_read().as_deref(), &mut readings)?;
            if code == 0 {
                level.copy_from_slice(&readings);
                live.classify(bench, hardware, round, &mut over_wanted(hardware, &readings))?;
            }
            for (channel, reading) in readings.iter().enumerate() {
                for l in 0..W {
                    measured.attenuation[channel * states + code][l] = level[channel][l] - reading[l];
                }
            }
        }
        Ok(())
    }

    /// Measures the states of every live channel's shifter against the reference.
    pub(super) fn shifters<D: Bench<W>, const W: usize>(
        &self,
        bench: &mut D,
        live: &LiveChannels<W>,
        channels: usize,
        round: u32,
        scratch: &mut SweepScratch<W>,
        measured: &mut Measured<W>,
    ) -> Result<(), D::Fault> {
        let Some(sweep) = &self.shifter else { return Ok(()) };
        let states = sweep.states();
        measured.phase.resize(channels * states, [0.0; W]);
        let mut last = [None; W];
        for channel in 0..channels {
            // Against another channel than the last both cables move.
            let joined = |l: usize| {
                let reference = live.reference(l);
                let against = match () {
                    _ if !live.is_live(channel, l) => None,
                    _ if channel != reference => Some(reference),
                    _ => live.neighbour(reference, channels, l),
                };
                against.map(|against| (against, last[l] == Some(against)))
            };
            let mut now = last;
            live.in_groups(joined, |(against, is_connected), lanes| {
                let reconnection = if is_connected { Reconnection::Stepped } else { Reconnection::Both };
                bench.join(
                    Pair { reference: against, stepped: channel, is_swapped: false, reconnection, round },
                    lanes,
                )?;
                (0..W).filter(|l| lanes[*l]).for_each(|l| now[l] = Some(against));
                let mut zero = [0.0; W];
                for code in 0..states {
                    let phase = angle(sweep, bench, code as Code, scratch)?;
                    zero = if code == 0 { phase } else { zero };
                    for l in (0..W).filter(|l| lanes[*l]) {
                        measured.phase[channel * states + code][l] = within_half_a_turn(phase[l] - zero[l]);
                    }
                }
                Ok(())
            })?;
            last = now;
        }
        Ok(())
    }
}

/// Readings over the wanted level of each channel.
fn over_wanted<const W: usize>(hardware: &Hardware, readings: &[[f32; W]]) -> Vec<[f32; W]> {
    let over = readings.iter().zip(&hardware.wanted_db);
    over.map(|(reading, wanted)| reading.map(|reading| reading - *wanted as f32)).collect()
}

/// Phase of the stepped channel at a code over the reference's, rad: where the reference's sinusoid peaks.
fn angle<D: Bench<W>, const W: usize>(
    sweep: &Sweep,
    bench: &mut D,
    code: Code,
    scratch: &mut SweepScratch<W>,
) -> Result<[f32; W], D::Fault> {
    scratch.readings.resize(sweep.codes().len(), [0.0; W]);
    bench.sweep_reference(sweep.codes(), code, &mut scratch.readings)?;
    Ok(sweep.angle(&scratch.readings))
}
