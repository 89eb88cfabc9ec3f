//! What errors of the states of the two stepped blocks leave, where plans have them stand.

use super::{Cause, Expecting, Levels, clean};
use crate::bench::{Code, Command, ShifterSetting, StateShare, Tables};
use crate::engine::propagate::{
    Held, States, SteppedBlock, Variances, differs, is_left_out, place_of, states_of,
};
use crate::math::{elementary, normal};

/// Angles of a pair over which means are taken, and the most channels.
const ANGLES: usize = 48;
const CHANNELS: usize = 32;

/// Where a channel's shifter stands, and what the bench mixes into the phase it found.
struct Standing {
    code: Code,
    /// Where it stood when its level was read.
    read_at: Code,
    shares: usize,
}

impl Expecting<'_> {
    /// What errors of the shifter's states leave.
    pub(super) fn shifter_states(&mut self, held: &mut Held, seen: Variances) {
        let model = self.model;
        if self.calibration.characterise.as_ref().is_some_and(|of| of.shifter.is_some()) {
            return;
        }
        let (standing, shares) = self.standing(seen);
        let channels = self.channels;
        let reference = self.star().map(|of| {
            let code = self.commands[of].code;
            [Standing { code, read_at: 0, shares: 0 }]
        });
        type Take<'a> = &'a dyn Fn(&[Standing], &[Vec<StateShare>]) -> Moments;
        // The reference of a star stays where the beam has it.
        let all = |take: Take| {
            let others = take(&standing, &shares);
            match &reference {
                Some(reference) => others.beside(take(reference, &[Vec::new()]), channels),
                None => others,
            }
        };
        let rest = 1.0 - 1.0 / self.channels;
        let at = self.at;
        for (number, source) in model.sources.list().iter().enumerate() {
            let Some(place) = place_of(&model.chain, &source.name).filter(|_| !is_left_out(source)) else {
                continue;
            };
            if states_of(&model.chain, place, source) != Some(SteppedBlock::Shifter) {
                continue;
            }
            // What channels share of their mean does not count.
            let of_mean = differs(model, source) / rest;
            let size = match held.states(number, SteppedBlock::Shifter, &at) {
                States::Each(moves) => {
                    self.left_by(all(&|standing, shares| self.each_state(moves, standing, shares)), 1.0)
                }
                States::Draws(draws) => draws.iter().fold(Variances::default(), |sum, codes| {
                    let moments = all(&|standing, shares| self.moments(codes, standing, shares));
                    sum.plus(self.left_by(moments, of_mean))
                }),
            };
            self.leave(Cause::Source(number), size.gain, size.phase);
        }
        // The same in all channels, so that only where they stand makes them differ.
        let nominal = held.nominal_states(SteppedBlock::Shifter, &at);
        let size = self.left_by(self.moments(&nominal, &standing, &shares), 0.0);
        let whole = if self.is_aligned { 1.0 } else { 1.0 / rest };
        self.leave(Cause::ShifterOffSteps, clean(size.gain * whole, 1e-3), clean(size.phase * whole, 1e-3));
    }

    /// Mean square residual of errors of states, of whose means so much counts.
    fn left_by(&self, of: Moments, of_mean: f64) -> Variances {
        let rest = 1.0 - 1.0 / self.channels;
        let counts = |square: f64, mean: f64| square - (1.0 - of_mean) * mean;
        let (crossed, mixed) =
            self.calibration.align.as_ref().map_or((0.0, 0.0), |of| of.mixes(self.model.channels()));
        Variances {
            gain: rest * counts(of.gain[1], of.gain[0] * of.gain[0]),
            phase: rest * counts(of.phase[1], of.phase[0] * of.phase[0])
                - crossed * counts(of.product, of.phase[0] * of.found[0])
                + mixed * counts(of.found[1], of.found[0] * of.found[0]),
        }
    }

    /// Where shifters stand, over channels and the angles that channels are found at; what stands in each of those angles.
    fn standing(&self, seen: Variances) -> (Vec<Standing>, Vec<Vec<StateShare>>) {
        let model = self.model;
        let shifter = model.chain.shifter();
        let states = shifter.states();
        let stride = self.commands.len().div_ceil(CHANNELS);
        let commands = || self.commands.iter().step_by(stride);
        let Some(align) = &self.calibration.align else {
            let standing = commands().map(|of| Standing { code: of.code, read_at: 0, shares: 0 });
            return (standing.collect(), vec![Vec::new()]);
        };
        let setting = ShifterSetting { offsets: self.calibration.offsets, states };
        let rereads = self.calibration.relevels || self.calibration.passes > 1;
        let stands_anew = self.calibration.passes > 1 || self.calibration.tables == Tables::Beams;
        let imbalance = if align.is_over_the_air() { 0.0 } else { model.hardware.known_imbalance };
        let (mut standing, mut shares) = (Vec::new(), Vec::new());
        for i in 0..ANGLES {
            let angle = (2.0 * seen.phase).sqrt() * normal::quantile((i as f64 + 0.5) / ANGLES as f64);
            // As the coupler shows it; the certificate is taken out afterwards.
            let shown = angle + imbalance;
            let found = if align.finds_whole_codes() {
                imbalance - shifter.step() * elementary::round(shown / shifter.step())
            } else {
                -angle
            };
            let broadside = setting.code(&Command::ZERO, found as f32);
            let at_code = if stands_anew { broadside } else { 0 };
            for command in commands() {
                let code = setting.code(command, found as f32);
                let read_at = if rereads { broadside } else { 0 };
                standing.push(Standing { code, read_at, shares: shares.len() });
            }
            shares.push(align.shares(shown, at_code, states));
        }
        (standing, shares)
    }

    /// The reference of a star of pairs.
    pub(super) fn star(&self) -> Option<usize> {
        self.calibration.align.as_ref()?.common_reference()
    }

    /// Whether a level that is read at a code holds what its state is off.
    fn shows(&self, read_at: Code) -> bool {
        self.is_levelled && (read_at != 0 || self.model.chain.shows_code_0())
    }

    /// What the moves of all codes leave of the gain, do to the phase, and put into the phase that is found.
    fn moments(&self, moves: &[[f64; 2]], standing: &[Standing], shares: &[Vec<StateShare>]) -> Moments {
        let found = |shares: &Vec<StateShare>| -> f64 {
            shares
                .iter()
                .map(|of| of.phase * moves[of.code as usize][1] + of.gain * moves[of.code as usize][0])
                .sum()
        };
        let found: Vec<f64> = shares.iter().map(found).collect();
        let mut sums = Moments::default();
        for of in standing {
            let [gain, phase] = moves[of.code as usize];
            let read = if self.shows(of.read_at) { moves[of.read_at as usize][0] } else { 0.0 };
            sums.add(gain - read, phase, found[of.shares]);
        }
        sums.times(1.0 / standing.len() as f64)
    }

    /// The mean squares for independent errors of all states.
    fn each_state(
        &self,
        [gain, phase]: [f64; 2],
        standing: &[Standing],
        shares: &[Vec<StateShare>],
    ) -> Moments {
        let mut sums = Moments::default();
        for of in standing {
            let shares = &shares[of.shares];
            let own = shares.iter().filter(|share| share.code == of.code);
            let own: f64 = own.map(|share| share.phase * phase * phase + share.gain * gain * phase).sum();
            let square = |x: f64| x * x;
            let found: f64 =
                shares.iter().map(|share| square(share.phase * phase) + square(share.gain * gain)).sum();
            let times = match () {
                _ if !self.shows(of.read_at) => 1.0,
                _ if of.code == of.read_at => 0.0,
                _ => 2.0,
            };
            sums.gain[1] += gain * gain * times;
            sums.phase[1] += phase * phase;
            sums.product += own;
            sums.found[1] += found;
        }
        sums.times(1.0 / standing.len() as f64)
    }

    /// What errors of the attenuator's states leave at the codes that it takes.
    pub(super) fn attenuator_states(&mut self, held: &mut Held, levels: &Levels) {
        let model = self.model;
        let calibration = self.calibration;
        let measures = calibration.characterise.as_ref().is_some_and(|of| of.attenuator);
        let is_gain_seen = self.is_levelled && (measures || calibration.relevels || calibration.passes > 1);
        let is_phase_seen = self.is_aligned;
        let rest = 1.0 - 1.0 / self.channels;
        let shows = self.shows(0);
        let moments = |codes: &[[f64; 2]]| {
            let read = if shows { codes[0][0] } else { 0.0 };
            let (mut mean, mut square) = ([0.0; 2], [0.0; 2]);
            for (code, share) in levels.codes.iter().enumerate() {
                let gain = if is_gain_seen { 0.0 } else { codes[code][0] - read };
                let phase = if is_phase_seen { 0.0 } else { codes[code][1] };
                for (i, left) in [gain, phase].into_iter().enumerate() {
                    mean[i] += share * left;
                    square[i] += share * left * left;
                }
            }
            [mean, square]
        };
        for (number, source) in model.sources.list().iter().enumerate() {
            let Some(place) = place_of(&model.chain, &source.name).filter(|_| !is_left_out(source)) else {
                continue;
            };
            if states_of(&model.chain, place, source) != Some(SteppedBlock::Attenuator) {
                continue;
            }
            let mut size = Variances::default();
            match held.states(number, SteppedBlock::Attenuator, &self.at) {
                States::Each([gain, phase]) => {
                    let moved = 1.0 - levels.codes[0];
                    let of_gain = if shows { 2.0 * moved } else { 1.0 };
                    size.gain = if is_gain_seen { 0.0 } else { rest * gain * gain * of_gain };
                    size.phase = if is_phase_seen { 0.0 } else { rest * phase * phase };
                }
                States::Draws(draws) => {
                    for codes in &draws {
                        let [mean, square] = moments(codes);
                        let between = differs(model, source);
                        size.gain += (square[0] - mean[0] * mean[0]) * rest + mean[0] * mean[0] * between;
                        size.phase += (square[1] - mean[1] * mean[1]) * rest + mean[1] * mean[1] * between;
                    }
                }
            }
            self.leave(Cause::Source(number), size.gain, size.phase);
        }
        if model.hardware.attenuator.is_some() {
            let [mean, square] = moments(&held.nominal_states(SteppedBlock::Attenuator, &self.at));
            let rest = if self.is_levelled { rest } else { 1.0 };
            let gain = clean((square[0] - mean[0] * mean[0]) * rest, 1e-3);
            self.leave(Cause::AttenuatorOffSteps, gain, clean((square[1] - mean[1] * mean[1]) * rest, 1e-3));
        }
    }
}

/// Means and mean squares over where shifters stand, nepers and rad.
#[derive(Clone, Copy, Debug, Default)]
struct Moments {
    /// Of the gain that is left.
    gain: [f64; 2],
    /// Of the phase in use.
    phase: [f64; 2],
    /// Of what is found.
    found: [f64; 2],
    /// Mean product of the phase in use and what is found.
    product: f64,
}

impl Moments {
    fn add(&mut self, gain: f64, phase: f64, found: f64) {
        for (sums, value) in [(&mut self.gain, gain), (&mut self.phase, phase), (&mut self.found, found)] {
            sums[0] += value;
            sums[1] += value * value;
        }
        self.product += phase * found;
    }

    /// Those of channels of which one has others, which finds nothing.
    fn beside(self, one: Moments, channels: f64) -> Moments {
        let mix = |all: [f64; 2], one: [f64; 2]| [0, 1].map(|i| all[i] + (one[i] - all[i]) / channels);
        Moments { gain: mix(self.gain, one.gain), phase: mix(self.phase, one.phase), ..self }
    }

    fn times(self, factor: f64) -> Moments {
        let Moments { gain, phase, found, product } = self;
        let [gain, phase, found] = [gain, phase, found].map(|of| of.map(|sum| sum * factor));
        Moments { gain, phase, found, product: product * factor }
    }
}
