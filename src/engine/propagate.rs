//! What each tolerance does to one channel, before any unit is drawn.

use crate::chain::{Chain, Conditions, Side};
use crate::engine::compression::{Compressor, Inputs, Stepped};
use crate::model::Model;
use crate::random::{Draws, Scope, Source};

/// Values of a distribution that a source is put at: its quantiles.
pub(super) const POINTS: usize = 16;

/// What one source does to the gain (nepers) and the phase (rad) of a channel, over its distribution.
///
/// Formula: all other sources at nominal, the source at 16 quantiles of its distribution, stretched to the distribution's standard deviation about
/// its mean; what the blocks make of it, about its mean. Where that is proportional to the deviation its standard deviation is
/// |c| u, c the sensitivity and u the distribution's standard deviation: the distribution of propagation of uncertainty, JCGM 100:2008, 5.1.2, by
/// differences as in 5.1.3, note 2. The phase of a connector may be anywhere on a turn, where no sensitivity would do.
/// Source: JCGM 100:2008; for quantiles own derivation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Moves {
    gain: [f64; POINTS],
    phase: [f64; POINTS],
    /// The deviations over the distribution's standard deviation.
    at: [f64; POINTS],
}

/// Variances of gain (nepers squared) and phase (rad squared).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Variances {
    /// Nepers squared.
    pub gain: f64,
    /// Rad squared.
    pub phase: f64,
}

impl Variances {
    /// Both times a factor.
    pub(crate) fn times(self, factor: f64) -> Variances {
        Variances { gain: self.gain * factor, phase: self.phase * factor }
    }

    /// The sums of both.
    pub(crate) fn plus(self, other: Variances) -> Variances {
        Variances { gain: self.gain + other.gain, phase: self.phase + other.phase }
    }

    /// Whether there is none of either.
    pub(crate) fn is_zero(self) -> bool {
        self == Variances::default()
    }
}

impl Moves {
    fn new(mut gain: [f64; POINTS], mut phase: [f64; POINTS], at: [f64; POINTS]) -> Moves {
        for values in [&mut gain, &mut phase] {
            let mean = values.iter().sum::<f64>() / POINTS as f64;
            values.iter_mut().for_each(|value| *value -= mean);
        }
        Moves { gain, phase, at }
    }

    /// What is left of these where others are taken out of them.
    pub(super) fn less(&self, gain: Option<&Moves>, phase: Option<&Moves>) -> Moves {
        let mut left = *self;
        for i in 0..POINTS {
            left.gain[i] -= gain.map_or(0.0, |of| of.gain[i]);
            left.phase[i] -= phase.map_or(0.0, |of| of.phase[i]);
        }
        left
    }

    /// Their mean squares.
    pub(super) fn variances(&self) -> Variances {
        let mean = |of: &[f64; POINTS]| of.iter().map(|x| x * x).sum::<f64>() / POINTS as f64;
        Variances { gain: mean(&self.gain), phase: mean(&self.phase) }
    }

    /// What a standard deviation of the source does, signed: nepers, rad.
    pub(super) fn slopes(&self) -> [f64; 2] {
        let squares: f64 = self.at.iter().map(|x| x * x).sum();
        let slope = |of: &[f64; POINTS]| {
            let sum = of.iter().zip(&self.at).map(|(y, x)| y * x).sum::<f64>();
            if squares > 0.0 { sum / squares } else { 0.0 }
        };
        [slope(&self.gain), slope(&self.phase)]
    }
}

/// Where a source stands to the bench.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stands {
    /// Before the reference plane: cables of the bench see it.
    Before,
    /// Behind it: it stays, unless a probe sees it.
    Behind,
}

/// What one tolerance does to one channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Contribution {
    /// Number of the source among those of the model.
    pub source: usize,
    /// Where it stands.
    pub stands: Stands,
    /// What it does to one channel; for errors of bits and states at a code that is any with equal probability.
    pub channel: Variances,
    /// The part of that by which channels of a unit differ: 1 - k/N where k of N channels share a draw.
    pub differs: f64,
}

/// A number for what is drawn at random or shifts all channels alike is of no use, so these sources are left out.
pub(super) fn is_left_out(source: &Source) -> bool {
    source.distribution.is_event() || source.distribution.sd() == 0.0
}

/// What every tolerance does to one channel at the command frequency and a temperature (K), largest first.
pub(crate) fn propagate(model: &Model, temperature: f64) -> Vec<Contribution> {
    let at = Conditions { temperature, ..model.at_bench };
    let mut bench = Held::new(model);
    let all = model.sources.list().iter().enumerate().filter(|(_, source)| !is_left_out(source));
    let of = |(number, source): (usize, &Source)| {
        let place = place_of(&model.chain, &source.name)?;
        let stands = if place < model.chain.plane() { Stands::Before } else { Stands::Behind };
        let channel = match states_of(&model.chain, place, source) {
            Some(stepped) => bench.states(number, stepped, &at).anywhere(),
            None => (0..source.slots).fold(Variances::default(), |sum, slot| {
                sum.plus(bench.moves(number, slot, &at, true).variances())
            }),
        };
        Some(Contribution { source: number, stands, channel, differs: differs(model, source) })
    };
    let mut found: Vec<Contribution> = all.filter_map(of).collect();
    let total = found.iter().fold(Variances::default(), |sum, of| sum.plus(of.channel.times(of.differs)));
    let share = |part: f64, of: f64| if of > 0.0 { part / of } else { 0.0 };
    let weight = |of: &Contribution| {
        let left = of.channel.times(of.differs);
        let share = share(left.phase, total.phase).max(share(left.gain, total.gain));
        (share, share_of(of.channel))
    };
    found.sort_by(|a, b| weight(b).partial_cmp(&weight(a)).unwrap_or(std::cmp::Ordering::Equal));
    found
}

/// For those by which no channels differ.
fn share_of(of: Variances) -> f64 {
    of.gain + of.phase
}

/// The part of a source's variance by which channels of a unit differ.
pub(super) fn differs(model: &Model, source: &Source) -> f64 {
    1.0 - model.sources.grouping().channels_of(source.scope) as f64 / model.channels() as f64
}

/// Place of the block that a source belongs to; `None` for the bench's and the array's own.
pub(super) fn place_of(chain: &Chain, source: &str) -> Option<usize> {
    let named = |name: &str| source.strip_prefix(name).is_some_and(|rest| rest.starts_with('.'));
    let blocks = chain.blocks().iter().enumerate().filter(|(_, of)| named(&of.name));
    blocks.max_by_key(|(_, of)| of.name.len()).map(|(place, _)| place)
}

/// The two blocks that are stepped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum SteppedBlock {
    Shifter,
    Attenuator,
}

/// The stepped block whose states a source moves, if it does; what is common to all states is none of it.
pub(super) fn states_of(chain: &Chain, place: usize, source: &Source) -> Option<SteppedBlock> {
    let of_states = source.name.rsplit_once('.').is_some_and(|(_, key)| !key.starts_with("loss"));
    match () {
        _ if !of_states => None,
        _ if place == chain.shifter_place() => Some(SteppedBlock::Shifter),
        _ if Some(place) == chain.attenuator_place() => Some(SteppedBlock::Attenuator),
        _ => None,
    }
}

/// How far a source moves the states of a stepped block, a standard deviation of it: nepers, rad.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum States {
    /// Each state by as much, on its own.
    Each([f64; 2]),
    /// Several independent draws, each of which moves some states: `[draw][code]`.
    Draws(Vec<Vec<[f64; 2]>>),
}

impl States {
    /// Their mean squares at a code that is any with equal probability, so that a bit is on half the time.
    pub(super) fn anywhere(&self) -> Variances {
        match self {
            States::Each([gain, phase]) => Variances { gain: gain * gain, phase: phase * phase },
            States::Draws(draws) => draws.iter().fold(Variances::default(), |sum, codes| {
                let mean = |i: usize| codes.iter().map(|of| of[i] * of[i]).sum::<f64>() / codes.len() as f64;
                sum.plus(Variances { gain: mean(0), phase: mean(1) })
            }),
        }
    }
}

/// A unit as on the drawing, of which one source at a time is moved.
pub(super) struct Held<'p> {
    model: &'p Model,
    draws: Draws<POINTS>,
    /// The channel that is looked at; those behind it are left out.
    channel: usize,
    /// Where each source is put, in standard deviations about its mean, `[source]`.
    points: Vec<[f64; POINTS]>,
}

impl<'p> Held<'p> {
    pub(super) fn new(model: &'p Model) -> Held<'p> {
        let mut draws = model.sources.buffer();
        model.sources.hold(&mut draws);
        // Channels are alike but for how far the taper drives amplifiers that compress.
        let amplitude = if model.chain.compresses() { &model.array.amplitude[..] } else { &[] };
        let most = |most: usize, n: usize| if amplitude[n] > amplitude[most] { n } else { most };
        let channel = (0..amplitude.len()).fold(0, most);
        let points = model.sources.list().iter().map(points);
        Held { model, draws, channel, points: points.collect() }
    }

    /// Over the distribution of one draw of a source, what stands before the reference plane or the whole chain does, stepped blocks at code 0.
    pub(super) fn moves(&mut self, number: usize, slot: usize, at: &Conditions, is_whole: bool) -> Moves {
        let source = &self.model.sources.list()[number];
        let (mean, sd) = (source.distribution.mean(), source.distribution.sd());
        let at_points = self.points[number];
        let deviation = at_points.map(|x| (mean + x * sd) as f32);
        let group = source.group_of(self.channel);
        self.put(number, slot, group, &deviation);
        let [gain, phase] = self.add(at, is_whole);
        self.put(number, slot, group, &[0.0; POINTS]);
        Moves::new(gain, phase, at_points)
    }

    /// How far a source moves the states of a stepped block.
    pub(super) fn states(&mut self, number: usize, of: SteppedBlock, at: &Conditions) -> States {
        let source = &self.model.sources.list()[number];
        let count = self.count(of);
        let (sd, mean) = (source.distribution.sd(), source.distribution.mean());
        // To either side, so that a half of the difference is what a standard deviation does.
        let mut deviation = [mean as f32; POINTS];
        (deviation[0], deviation[1]) = ((mean + sd) as f32, (mean - sd) as f32);
        let group = source.group_of(self.channel);
        let is_each = source.slots == count && count > 2;
        let slots = if is_each { 1 } else { source.slots };
        let mut draws = Vec::new();
        for slot in 0..slots {
            self.put(number, slot, group, &deviation);
            let codes = if is_each { 0..1 } else { 0..count };
            draws.push(codes.map(|code| halved(self.state(of, code, at))).collect::<Vec<_>>());
            self.put(number, slot, group, &[0.0; POINTS]);
        }
        if is_each { States::Each(draws[0][0]) } else { States::Draws(draws) }
    }

    /// How far the states of a stepped block are off whole steps on the drawing, `[code]`: nepers, rad.
    pub(super) fn nominal_states(&self, of: SteppedBlock, at: &Conditions) -> Vec<[f64; 2]> {
        let states = (0..self.count(of)).map(|code| self.state(of, code, at).map(|rows| f64::from(rows[0])));
        states.collect()
    }

    fn count(&self, of: SteppedBlock) -> usize {
        match of {
            SteppedBlock::Shifter => self.model.chain.shifter().states(),
            SteppedBlock::Attenuator => self.model.chain.attenuator().map_or(1, |of| of.states()),
        }
    }

    fn put(&mut self, number: usize, slot: usize, group: usize, deviation: &[f32; POINTS]) {
        self.model.sources.deviate(number, slot, group, deviation, &mut self.draws);
    }

    /// How far a state is off its whole steps: nepers, rad.
    fn state(&self, of: SteppedBlock, code: usize, at: &Conditions) -> [[f32; POINTS]; 2] {
        let (mut gain, mut phase) = ([[0.0; POINTS]], [[0.0; POINTS]]);
        let codes = [[code as u32; POINTS]];
        let chain = &self.model.chain;
        match of {
            SteppedBlock::Shifter => {
                chain.shifter().add_states(at, &self.draws, self.channel, &codes, &mut gain, &mut phase);
            }
            SteppedBlock::Attenuator => {
                if let Some(attenuator) = chain.attenuator() {
                    attenuator.set(at, &self.draws, self.channel, &codes, &mut gain, &mut phase);
                    let step = crate::chain::NEPERS_A_DB * attenuator.step_db() * code as f64;
                    gain[0].iter_mut().for_each(|gain| *gain += step as f32);
                }
            }
        }
        [gain[0], phase[0]]
    }

    /// Gain (nepers) and phase (rad) of the channel over its nominal, `[lane]`.
    fn add(&self, at: &Conditions, is_whole: bool) -> [[f64; POINTS]; 2] {
        let model = self.model;
        let starts = &model.head_start[..=self.channel];
        let mut gain: Vec<[f64; POINTS]> = starts.iter().map(|nepers| [*nepers; POINTS]).collect();
        let mut phase = vec![[0.0; POINTS]; gain.len()];
        let mut inputs = Inputs::default();
        let sides = if is_whole { &[Side::Before, Side::Behind][..] } else { &[Side::Before] };
        for side in sides {
            model.chain.add(*side, at, &self.draws, &mut gain, &mut phase, |gain| inputs.push(gain));
        }
        let (mut gain, mut phase) = (gain[self.channel], phase[self.channel]);
        if let Some(compressor) = Compressor::new(model, at, is_whole) {
            let (mut by, mut turn) = ([0.0; POINTS], [0.0; POINTS]);
            let rests = [-model.head_start[self.channel] as f32; POINTS];
            let stepped = Stepped { attenuator: &rests, shifter: &[0.0; POINTS] };
            compressor.add(&inputs, &self.draws, self.channel, stepped, &mut by, &mut turn);
            for l in 0..POINTS {
                gain[l] += f64::from(by[l]);
                phase[l] += f64::from(turn[l]);
            }
        }
        [gain, phase]
    }
}

/// Quantiles of a source's distribution, stretched to its standard deviation, in standard deviations about its mean.
fn points(source: &Source) -> [f64; POINTS] {
    if is_left_out(source) {
        return [0.0; POINTS];
    }
    let points: [f64; POINTS] =
        std::array::from_fn(|i| source.distribution.quantile((i as f64 + 0.5) / POINTS as f64));
    let mean = points.iter().sum::<f64>() / POINTS as f64;
    let spread = (points.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / POINTS as f64).sqrt();
    points.map(|x| if spread > 0.0 { (x - mean) / spread } else { 0.0 })
}

/// Half the difference of the first two lanes: nepers, rad.
fn halved(state: [[f32; POINTS]; 2]) -> [f64; 2] {
    state.map(|rows| 0.5 * (f64::from(rows[0]) - f64::from(rows[1])))
}

/// Gain of the chain as on the drawing, dB, at the command frequency and the temperature of the nominal values, stepped blocks at code
/// 0 or where they are left; amplifiers that compress do so as the drive has it.
pub(crate) fn nominal_gain_db(model: &Model) -> f64 {
    let at = Conditions { temperature: model.at_bench.reference_temperature, ..model.at_bench };
    let small_signal =
        |chain: &Chain| -> f64 { chain.blocks().iter().map(|named| named.block.nominal_gain_db(&at)).sum() };
    match model.chain.drive() {
        Some(drive) if model.chain.compresses() => {
            let end = model.chain.blocks().len();
            model
                .chain
                .nominal_input_dbm(end, &at)
                .map_or(small_signal(&model.chain), |output| output - drive)
        }
        _ => small_signal(&model.chain),
    }
}

/// Whether all channels of a unit share a source's draw.
pub(crate) fn is_alike(source: &Source) -> bool {
    matches!(source.scope, Scope::Unit | Scope::Lot)
}

/// Whether something is drawn that no standard deviation describes: dead channels, stuck bits, elements that couple.
pub(crate) fn leaves_out(model: &Model) -> [bool; 3] {
    let is_dead = !model.dead.fate.is_zero();
    let sticks = model.chain.blocks().iter().any(|named| named.block.may_stick());
    [is_dead, sticks, model.coupling.is_some()]
}
