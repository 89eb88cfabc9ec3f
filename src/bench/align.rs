//! Phasing: which channels are compared with which, and what the phases between them make of a unit.

mod all_pairs;
mod coded_toggling;
mod rotating_element;

use crate::bench::method::{Method, Steps, Sweep, SweepScratch};
use crate::bench::{Bench, Code, Fixture, Living, Pair, Readout, Receiver, Reconnection, StateShare};
use crate::io::Table;
use crate::math::single::within_half_a_turn;
use crate::random::Value;

/// Which pairs are joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pairing {
    /// Every channel against one reference.
    Star,
    /// Every channel against the one before it: errors add up along the chain, common ones to a slope. A dead channel is left out: the
    /// coupler joins its living neighbours.
    Chain,
    /// Every channel against every other, solved by least squares; over those that live.
    AllPairs,
}

impl Pairing {
    /// Words for `pairing`.
    pub const KINDS: &[(&'static str, Pairing)] =
        &[("star", Pairing::Star), ("chain", Pairing::Chain), ("all_pairs", Pairing::AllPairs)];
}

/// What is compared.
#[derive(Clone, Debug, PartialEq)]
pub enum Comparison {
    /// Pairs of channels through the coupler.
    Pairs {
        /// How a pair's phase is found.
        sweep: Sweep,
        /// Which pairs.
        pairing: Pairing,
        /// Every pair is measured a second time with its arms exchanged, and the two phases are averaged. Four connections make a
        /// phase then, each made for it alone.
        swaps_arms: bool,
    },
    /// Each channel against all others, on in front of a probe: see `align/rotating_element.rs`.
    RotatingElement(Sweep),
    /// All channels at once in front of a probe: see `align/coded_toggling.rs`.
    CodedToggling,
}

/// Words for the methods over the air.
pub const OVER_THE_AIR: [&str; 2] = [rotating_element::KIND, coded_toggling::KIND];

/// Phasing of a unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Align {
    /// What is compared.
    pub comparison: Comparison,
    /// The channel whose phase stays, the first of a star; where it is dead, the next one that lives.
    pub reference: usize,
}

/// What a way of phasing needs to know of a unit on the bench.
#[derive(Clone, Copy, Debug)]
pub(super) struct Knowledge<'a, const W: usize> {
    /// Which time the plan phases this unit, from 0.
    pub round: u32,
    /// Phase of the coupler's stepped arm over the reference arm, as certified, rad.
    pub imbalance: f32,
    /// Measured phases of the states, `[channel][code][lane]` in a row.
    pub steps: Option<&'a [[f32; W]]>,
    /// Number of those.
    pub states: usize,
    /// Phases that the shifters stand at, rad, `[channel][lane]`.
    pub standing: &'a [[f32; W]],
    /// Which channels live, and against which one the others are phased.
    pub living: &'a Living<W>,
}

impl<'a, const W: usize> Knowledge<'a, W> {
    fn steps_of(&self, channel: usize) -> Option<Steps<'a, W>> {
        self.steps.map(|steps| &steps[channel * self.states..][..self.states])
    }
}

impl Align {
    /// Reads `align = { method = "peak", pairing = "star", reference = 0 }` for a unit of `channels` and a shifter of
    /// `states`; absent: no phasing.
    pub fn read(calibration: &Table, channels: usize, states: usize) -> Option<Align> {
        let table = calibration.table("align")?;
        let reference = table.count_or("reference", 0..=channels as u64 - 1, 0) as usize;
        #[derive(Clone, Copy)]
        enum Word {
            Pair(Method),
            Rotating,
            Toggling,
        }
        let mut words: Vec<(&'static str, Word)> =
            Method::KINDS.iter().map(|(word, method)| (*word, Word::Pair(*method))).collect();
        words.push((rotating_element::KIND, Word::Rotating));
        words.push((coded_toggling::KIND, Word::Toggling));
        let comparison = match table.choice("method", "method", &words) {
            Word::Pair(method) => Comparison::Pairs {
                sweep: Sweep::read(&table, method, states),
                pairing: table.choice_or("pairing", "pairing", Pairing::KINDS, Pairing::Star),
                swaps_arms: table.flag_or("swap_arms", false),
            },
            // A sinusoid is fitted to what the rotating element adds.
            Word::Rotating => Comparison::RotatingElement(Sweep::read(&table, Method::Fit, states)),
            Word::Toggling => Comparison::CodedToggling,
        };
        if !table.is_sound("method") {
            ["codes", "pairing", "swap_arms"].iter().for_each(|key| _ = table.has(key));
        }
        Some(Align { comparison, reference })
    }

    /// Phasing by pairs, every channel against one reference, by sweeps of `count` codes of `states`.
    pub fn star(method: Method, reference: usize, states: usize, count: usize) -> Align {
        let sweep = Sweep::new(method, states, count);
        Align {
            comparison: Comparison::Pairs { sweep, pairing: Pairing::Star, swaps_arms: false },
            reference,
        }
    }

    /// True when a probe in front of the unit takes the place of the coupler.
    pub fn is_over_the_air(&self) -> bool {
        !matches!(self.comparison, Comparison::Pairs { .. })
    }

    /// True when phases can hang on any channel, so that each has to be looked at before.
    pub fn leans_on_every_channel(&self) -> bool {
        use Pairing::{AllPairs, Chain};
        matches!(self.comparison, Comparison::Pairs { pairing: Chain | AllPairs, .. })
    }

    /// True when phases of living channels hang on a dead one that was taken for living: in a star on its reference, in a chain on
    /// what stands between two of them, in all pairs on every one.
    pub(super) fn is_misled(
        &self,
        reference: usize,
        channels: usize,
        is_dead: impl Fn(usize) -> bool,
        is_taken_for_living: impl Fn(usize) -> bool,
    ) -> bool {
        let Comparison::Pairs { pairing, .. } = self.comparison else { return false };
        match pairing {
            Pairing::Star => is_taken_for_living(reference),
            Pairing::Chain => {
                let lives = |channel: &usize| !is_dead(*channel);
                let (first, last) = ((0..channels).find(lives), (0..channels).rfind(lives));
                let between = first.unwrap_or(0)..last.unwrap_or(0);
                between.into_iter().any(is_taken_for_living)
            }
            Pairing::AllPairs => (0..channels).any(is_taken_for_living),
        }
    }

    /// The method of a pair's sweep, if pairs are joined.
    pub fn pair_method(&self) -> Option<Method> {
        match &self.comparison {
            Comparison::Pairs { sweep, .. } => Some(sweep.method),
            _ => None,
        }
    }

    /// How many times a channel can be compared in one phasing, exchanged arms counted.
    pub fn rounds(&self) -> u32 {
        if matches!(self.comparison, Comparison::Pairs { swaps_arms: true, .. }) { 2 } else { 1 }
    }

    /// Finds the phase that every channel must add to come into phase, rad, `[channel][lane]`; the reference's own is 0.
    pub(super) fn run<D: Bench<W>, const W: usize>(
        &self,
        bench: &mut D,
        known: &Knowledge<W>,
        scratch: &mut SweepScratch<W>,
        phase: &mut [[f32; W]],
    ) -> Result<(), D::Fault> {
        match &self.comparison {
            Comparison::Pairs { sweep, pairing, swaps_arms } => {
                let mut pairs = Pairs { sweep, swaps_arms: *swaps_arms, known, bench, scratch };
                match pairing {
                    Pairing::Star => pairs.star(phase)?,
                    Pairing::Chain => {
                        pairs.chain(phase)?;
                        refer(known.living, phase);
                    }
                    Pairing::AllPairs => {
                        all_pairs::run(&mut pairs, phase)?;
                        refer(known.living, phase);
                    }
                }
            }
            Comparison::RotatingElement(sweep) => {
                rotating_element::run(sweep, bench, known, scratch, phase)?;
                refer(known.living, phase);
            }
            Comparison::CodedToggling => {
                coded_toggling::run(bench, known, phase)?;
                refer(known.living, phase);
            }
        }
        Ok(())
    }
}

/// What phasing leaves in the channels, mean squares over them with what is common taken out, rad squared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Phased {
    /// By noise and display; `None` where there is no formula.
    pub readings: Option<f64>,
    /// By cables that are moved.
    pub connections: f64,
    /// By what the coupler's certificate does not know.
    pub coupler: f64,
    /// By what is not known of the ways to the probe.
    pub probe: f64,
}

impl Align {
    /// What is left of the bench's own errors in `channels` channels.
    ///
    /// Formula: of independent errors s^2 of pairs a star leaves ((N - 1)/N)^2 s^2, a chain (N^2 - 1)/(6 N), all pairs
    /// (N - 1)/N^2; of an error c that all pairs share, a star (N - 1)/N^2 c^2, as the reference has none, a chain c per link and so
    /// (N^2 - 1)/12, all pairs (N^2 - 1)/(3 N^2). A pair of a star moves one cable, any other two, each of r^2; exchanged arms are
    /// four cables and half of each, and share nothing. Units: rad. Source: own derivation.
    pub fn leaves(
        &self,
        channels: usize,
        receiver: &Receiver,
        readout: &Readout,
        fixture: &Fixture,
    ) -> Phased {
        let n = channels as f64;
        let square = |of: &Value| of.sd() * of.sd();
        match &self.comparison {
            Comparison::Pairs { sweep, pairing, swaps_arms } => {
                let (own, shared) = match pairing {
                    Pairing::Star => ((n - 1.0) * (n - 1.0) / (n * n), (n - 1.0) / (n * n)),
                    Pairing::Chain => ((n * n - 1.0) / (6.0 * n), (n * n - 1.0) / 12.0),
                    Pairing::AllPairs => ((n - 1.0) / (n * n), (n * n - 1.0) / (3.0 * n * n)),
                };
                let cables = match (pairing, swaps_arms) {
                    (Pairing::Star, false) | (_, true) => 1.0,
                    (_, false) => 2.0,
                };
                let halved = if *swaps_arms { 0.5 } else { 1.0 };
                Phased {
                    readings: sweep.variance(readout).map(|variance| own * halved * variance),
                    connections: own * cables * square(&fixture.reconnection_phase),
                    coupler: if *swaps_arms { 0.0 } else { shared * square(&fixture.phase_imbalance) },
                    probe: 0.0,
                }
            }
            over_the_air => {
                let readings = matches!(over_the_air, Comparison::CodedToggling)
                    .then(|| coded_toggling::variance(channels, receiver));
                let own = (n - 1.0) / n;
                Phased {
                    readings: readings.map(|variance| own * variance),
                    connections: 0.0,
                    coupler: 0.0,
                    probe: own * square(&fixture.probe_phase),
                }
            }
        }
    }

    /// By how much errors of states stand in the phase that is found of a channel that is `angle` (rad) ahead, its shifter standing
    /// at a code meanwhile where all channels are on.
    pub fn shares(&self, angle: f64, standing: Code, states: usize) -> Vec<StateShare> {
        match &self.comparison {
            Comparison::Pairs { sweep, .. } | Comparison::RotatingElement(sweep) => sweep.shares(angle),
            Comparison::CodedToggling => coded_toggling::shares(standing, states),
        }
    }

    /// How an error s that each channel's own states put into the phases found spreads over `channels` channels: with u what the states do
    /// where they are used, the mean square residual is (1 - 1/N) u^2 - a u s + b s^2, for the means of the products; (a, b).
    ///
    /// Formula: star a = 2 ((N - 1)/N)^2, b = ((N - 1)/N)^2; chain a = (N - 1)/N, b = (N^2 - 1)/(6 N), as a link stands in all
    /// channels behind it; all pairs a = (N - 1)/N, b = (N^2 - 1)/(3 N^2), as a channel is stepped against those before it only.
    /// Source: own derivation, traces of the matrices that make phases of differences.
    pub fn mixes(&self, channels: usize) -> (f64, f64) {
        let n = channels as f64;
        let all = (n - 1.0) / n;
        match &self.comparison {
            Comparison::Pairs { pairing: Pairing::Star, .. } => (2.0 * all * all, all * all),
            Comparison::Pairs { pairing: Pairing::Chain, .. } => (all, (n * n - 1.0) / (6.0 * n)),
            Comparison::Pairs { pairing: Pairing::AllPairs, .. } => (all, (n * n - 1.0) / (3.0 * n * n)),
            _ => (2.0 * all, all),
        }
    }

    /// Whether nothing finer than whole codes is found.
    pub fn finds_whole_codes(&self) -> bool {
        self.pair_method().is_some_and(Method::finds_whole_codes)
    }
}

/// Pairs joined one after the other.
struct Pairs<'a, 'k, D, const W: usize> {
    sweep: &'a Sweep,
    swaps_arms: bool,
    known: &'a Knowledge<'k, W>,
    bench: &'a mut D,
    scratch: &'a mut SweepScratch<W>,
}

impl<D: Bench<W>, const W: usize> Pairs<'_, '_, D, W> {
    /// Exchanged arms leave the reference's cable in the stepped arm, so it is moved back for the next pair: no connection of it
    /// serves two pairs then.
    fn star(&mut self, phase: &mut [[f32; W]]) -> Result<(), D::Fault> {
        let living = self.known.living;
        let mut is_connected = [false; W];
        for (channel, phase) in phase.iter_mut().enumerate() {
            *phase = [0.0; W];
            let before = is_connected;
            let pair = |l: usize| {
                let reference = living.reference(l);
                (living.lives(channel, l) && reference != channel).then_some((reference, before[l]))
            };
            living.alike(pair, |(reference, is_connected_before), lanes| {
                let reconnection = match () {
                    _ if self.swaps_arms => Reconnection::Anew,
                    _ if is_connected_before => Reconnection::Stepped,
                    _ => Reconnection::Both,
                };
                let found = self.measure(reference, channel, reconnection, lanes)?;
                for l in 0..W {
                    phase[l] = if lanes[l] { found[l] } else { phase[l] };
                    is_connected[l] |= lanes[l];
                }
                Ok(())
            })?;
        }
        Ok(())
    }

    fn chain(&mut self, phase: &mut [[f32; W]]) -> Result<(), D::Fault> {
        let living = self.known.living;
        let mut last: [Option<usize>; W] = [None; W];
        for channel in 0..phase.len() {
            phase[channel] = [0.0; W];
            let before = |l: usize| last[l].filter(|_| living.lives(channel, l));
            living.alike(before, |before, lanes| {
                let difference = self.measure(before, channel, Reconnection::Anew, lanes)?;
                for l in (0..W).filter(|l| lanes[*l]) {
                    phase[channel][l] = within_half_a_turn(phase[before][l] + difference[l]);
                }
                Ok(())
            })?;
            (0..W).filter(|l| living.lives(channel, *l)).for_each(|l| last[l] = Some(channel));
        }
        Ok(())
    }

    /// The phase that `stepped` must add to come into phase with `reference`, rad, in some lanes.
    fn measure(
        &mut self,
        reference: usize,
        stepped: usize,
        reconnection: Reconnection,
        lanes: &[bool; W],
    ) -> Result<[f32; W], D::Fault> {
        let steps = self.known.steps_of(stepped);
        let round = self.known.round;
        let pair = Pair { reference, stepped, is_swapped: false, reconnection, round };
        self.bench.join(pair, lanes)?;
        let mut phase = self.sweep.solve(steps, self.bench, self.scratch)?;
        phase.iter_mut().for_each(|phase| *phase += self.known.imbalance);
        if self.swaps_arms {
            self.bench.join(Pair { is_swapped: true, round: round + 1, ..pair }, lanes)?;
            let other = self.sweep.solve(steps, self.bench, self.scratch)?;
            for l in 0..W {
                // Exchanged arms turn the imbalance's sign.
                phase[l] += 0.5 * within_half_a_turn(other[l] - self.known.imbalance - phase[l]);
            }
        }
        Ok(phase)
    }
}

/// Takes the reference's phase out of all; what is known to be dead has none.
fn refer<const W: usize>(living: &Living<W>, phase: &mut [[f32; W]]) {
    let own: [f32; W] = std::array::from_fn(|l| phase[living.reference(l)][l]);
    for (channel, phase) in phase.iter_mut().enumerate() {
        for l in 0..W {
            phase[l] = if living.lives(channel, l) { within_half_a_turn(phase[l] - own[l]) } else { 0.0 };
        }
    }
}
