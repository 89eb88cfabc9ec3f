//! What each calibration plan leaves of the errors, by formula.

mod states;

use crate::bench::{Calibration, Command, Offsets, Readout, Receiver, rounding};
use crate::chain::{Conditions, NEPERS_A_DB};
use crate::engine::propagate::{Held, Moves, Variances, differs, is_left_out, place_of, states_of};
use crate::math::elementary;
use crate::model::{Model, View};

/// What an error that is removed or left comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cause {
    /// A tolerance: number of the source among those of the model.
    Source(usize),
    /// What two correlated tolerances do together beyond what each does: their numbers. It may be negative.
    Together(usize, usize),
    /// States of the shifter that the drawing itself has off whole steps.
    ShifterOffSteps,
    /// The same of the attenuator.
    AttenuatorOffSteps,
    /// Rounding the phases that are found to codes.
    FoundRounding,
    /// Rounding the beam's phases to codes, found ones with them where they are kept as phases.
    BeamRounding,
    /// Steps of the attenuators.
    LevelSteps,
    /// Noise and display.
    Readings,
    /// Cables that are moved.
    Connections,
    /// What the coupler's certificate does not know.
    Coupler,
    /// What is not known of the ways to the probe.
    Probe,
}

/// An error and its mean square over the channels of a unit, with what they share taken out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Part {
    /// Where it comes from.
    pub cause: Cause,
    /// How large it is.
    pub size: Variances,
}

/// Why there is no formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum NoFormula {
    /// What noise and display do to the plan's method.
    Method,
    /// A receiver that drifts, stretches or saturates.
    Receiver,
    /// How well measured states are known.
    Characterising,
    /// Amplifiers that compress as the codes have it.
    Compression,
    /// Elements that couple.
    Coupling,
    /// Dead channels and stuck bits.
    Faults,
    /// Phases that spread over so much of a turn that they are not proportional any more.
    Turn,
}

/// What a calibration plan removes and leaves at the command frequency.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Expected {
    /// Number of the plan.
    pub calibration: usize,
    /// Number of the beam.
    pub beam: usize,
    /// Temperature in use, K.
    pub temperature: f64,
    /// What it takes out.
    pub removed: Vec<Part>,
    /// What stays, or what it adds.
    pub left: Vec<Part>,
    /// What is missing in that.
    pub no_formula: Vec<NoFormula>,
}

impl Expected {
    /// Mean square residual of a unit: the sum of what is left.
    pub(crate) fn residual(&self) -> Variances {
        self.left.iter().fold(Variances::default(), |sum, part| sum.plus(part.size))
    }
}

/// Residual phase beyond which a phase and its deviation within half a turn differ, rad: an eighth of a turn.
const WIDEST: f64 = crate::math::PI / 4.0;

/// What each plan leaves at each beam and each temperature in use: plans first, then beams.
///
/// Formula: the root of the sum of the squares of what is left, each cause by itself to first order (distribution of propagation of
/// uncertainty, JCGM 100:2008, 5.1.2); see [`propagate`](super::propagate) for tolerances, [`rounding`] for steps,
/// `Align::leaves` and `Level::leaves` for the bench. Codes are those that phases spread normally ask for.
pub(crate) fn expect(model: &Model) -> Vec<Expected> {
    let mut temperatures: Vec<f64> = model.conditions.iter().map(|of| of.temperature).collect();
    temperatures.sort_by(f64::total_cmp);
    temperatures.dedup();
    let (mut held, mut all) = (Held::new(model), Vec::new());
    for calibration in 0..model.calibrations.len() {
        for beam in 0..model.beams.len() {
            for temperature in &temperatures {
                let case = Expecting::new(model, calibration, beam, *temperature);
                all.extend(case.map(|case| case.expect(&mut held)));
            }
        }
    }
    all
}

/// One plan at one beam.
struct Expecting<'p> {
    model: &'p Model,
    calibration: &'p Calibration,
    receiver: Receiver,
    commands: &'p [Command],
    view: &'p View,
    at: Conditions,
    is_levelled: bool,
    is_aligned: bool,
    channels: f64,
    found: Expected,
}

impl<'p> Expecting<'p> {
    fn new(model: &'p Model, number: usize, beam: usize, temperature: f64) -> Option<Expecting<'p>> {
        let calibration = &model.calibrations[number];
        let command_frequency = model.at_bench.command_frequency;
        let away = |point: &usize| (model.points[*point].frequency - command_frequency).abs();
        let points = (0..model.points.len()).filter(|point| model.points[*point].beam == beam);
        let point = points.min_by(|a, b| away(a).total_cmp(&away(b)))?;
        let course = &model.courses[number];
        let view = &model.views[course.tables[course.chosen[point]].view];
        Some(Expecting {
            model,
            calibration,
            receiver: model.receiver_for(calibration),
            commands: &model.commands[point],
            view,
            at: Conditions { temperature, ..model.at_bench },
            is_levelled: calibration.level.is_some() && model.hardware.attenuator.is_some(),
            is_aligned: calibration.align.is_some(),
            channels: model.channels() as f64,
            found: Expected {
                calibration: number,
                beam,
                temperature,
                removed: Vec::new(),
                left: Vec::new(),
                no_formula: Vec::new(),
            },
        })
    }

    fn expect(mut self, held: &mut Held) -> Expected {
        let seen = self.base(held);
        self.no_formula();
        self.shifter_states(held, seen);
        let levels = self.levels(seen);
        self.attenuator_states(held, &levels);
        self.phasing(&levels, seen);
        if self.found.residual().phase > WIDEST * WIDEST {
            self.found.no_formula.push(NoFormula::Turn);
        }
        self.found
    }

    fn leave(&mut self, cause: Cause, gain: f64, phase: f64) {
        let size = Variances { gain, phase };
        if !size.is_zero() {
            self.found.left.push(Part { cause, size });
        }
    }

    /// What all tolerances but those of states do; answers with the variances between channels that the bench sees.
    fn base(&mut self, held: &mut Held) -> Variances {
        let model = self.model;
        let mut seen = Variances::default();
        let mut slopes: Vec<(usize, [f64; 2], f64)> = Vec::new();
        for (number, source) in model.sources.list().iter().enumerate() {
            let Some(place) = place_of(&model.chain, &source.name).filter(|_| !is_left_out(source)) else {
                continue;
            };
            if states_of(&model.chain, place, source).is_some() {
                continue;
            }
            let between = differs(model, source);
            let (mut all, mut rest) = (Variances::default(), Variances::default());
            for slot in 0..source.slots {
                let in_use = held.moves(number, slot, &self.at, true);
                let on_bench = held.moves(number, slot, &self.view.at, self.view.is_whole);
                let left = self.left_of(&in_use, &on_bench);
                seen = seen.plus(on_bench.variances().times(between));
                all = all.plus(in_use.variances().times(between));
                rest = rest.plus(left.variances().times(between));
                if slot == 0 {
                    slopes.push((number, left.slopes(), between));
                }
            }
            self.leave(Cause::Source(number), clean(rest.gain, all.gain), clean(rest.phase, all.phase));
            let taken = |all: f64, rest: f64| if all > rest { all - clean(rest, all) } else { 0.0 };
            let size = Variances { gain: taken(all.gain, rest.gain), phase: taken(all.phase, rest.phase) };
            if !size.is_zero() {
                self.found.removed.push(Part { cause: Cause::Source(number), size });
            }
        }
        for (i, (a, of_a, between)) in slopes.iter().enumerate() {
            for (b, of_b, _) in &slopes[i + 1..] {
                let twice = 2.0 * model.sources.coefficient(*a, *b) * between;
                if twice != 0.0 {
                    self.leave(Cause::Together(*a, *b), twice * of_a[0] * of_b[0], twice * of_a[1] * of_b[1]);
                }
            }
        }
        seen
    }

    fn left_of(&self, in_use: &Moves, on_bench: &Moves) -> Moves {
        in_use.less(self.is_levelled.then_some(on_bench), self.is_aligned.then_some(on_bench))
    }

    fn no_formula(&mut self) {
        let model = self.model;
        let [is_dead, sticks, couples] = super::propagate::leaves_out(model);
        let calibration = self.calibration;
        let reads = self.is_levelled || self.is_aligned;
        let is_unsteady = !model.stability.is_ideal() || self.receiver.saturation_db.is_some();
        let measures = calibration.characterise.as_ref().is_some_and(|of| of.shifter.is_some());
        let is_unsure = model.chain.compresses();
        let no_formula = [
            (NoFormula::Receiver, reads && is_unsteady),
            (NoFormula::Characterising, measures),
            (NoFormula::Compression, is_unsure),
            (NoFormula::Coupling, couples),
            (NoFormula::Faults, is_dead || sticks),
        ];
        self.found.no_formula.extend(no_formula.iter().filter(|(_, is_so)| *is_so).map(|(what, _)| *what));
    }

    /// What levelling leaves, and the probability of each code of the attenuators.
    fn levels(&mut self, seen: Variances) -> Levels {
        let model = self.model;
        let rest = 1.0 - 1.0 / self.channels;
        let (Some(level), Some((step_db, states))) = (&self.calibration.level, model.hardware.attenuator)
        else {
            let states = model.hardware.attenuator.map_or(1, |(_, states)| states);
            let mut codes = vec![0.0; states];
            model.hardware.rest.iter().for_each(|code| codes[*code as usize] += 1.0 / self.channels);
            let short: Vec<f64> = model.hardware.rest_short.iter().map(|db| f64::from(*db)).collect();
            if !model.hardware.unrounded.attenuator {
                self.leave(Cause::LevelSteps, NEPERS_A_DB * NEPERS_A_DB * spread(&short), 0.0);
            }
            return Levels { codes, unlike: 2.0 * seen.gain };
        };
        let squared = NEPERS_A_DB * NEPERS_A_DB;
        let over: Vec<f64> = model.head_start.iter().map(|nepers| nepers / NEPERS_A_DB).collect();
        let reading = squared * Readout::new(&self.receiver, 0.0).variance_db(1.0);
        let cable = if self.view.is_whole {
            model.fixture.probe_gain.sd()
        } else {
            model.fixture.reconnection_gain.sd()
        };
        let cable = squared * cable * cable;
        let sd_db = (seen.gain + reading + cable).sqrt() / NEPERS_A_DB;
        let found = level.leaves(step_db, states, sd_db, &over);
        let steps = if model.hardware.unrounded.attenuator { 0.0 } else { squared * found.variance_db };
        self.leave(Cause::LevelSteps, steps, 0.0);
        self.leave(Cause::Readings, rest * reading, 0.0);
        let cause = if self.view.is_whole { Cause::Probe } else { Cause::Connections };
        self.leave(cause, rest * cable, 0.0);
        Levels { codes: found.codes, unlike: 2.0 * (steps + reading + cable) }
    }

    /// What phasing and the rounding to codes leave.
    fn phasing(&mut self, levels: &Levels, seen: Variances) {
        let model = self.model;
        let step = model.chain.shifter().step();
        let rests: Vec<f64> = self.commands.iter().map(|of| step * f64::from(of.rest)).collect();
        let is_free = model.hardware.unrounded.shifter;
        let Some(align) = &self.calibration.align else {
            self.leave(Cause::BeamRounding, 0.0, if is_free { 0.0 } else { spread(&rests) });
            return;
        };
        let squared = NEPERS_A_DB * NEPERS_A_DB;
        let square = |x: f64| x * x;
        let imbalance = &model.fixture.gain_imbalance;
        let arms =
            square(imbalance.nominal) + square(imbalance.sd()) + square(model.fixture.reconnection_gain.sd());
        let readout = Readout::new(&self.receiver, levels.unlike + squared * arms);
        let phased = align.leaves(model.channels(), &self.receiver, &readout, &model.fixture);
        match phased.readings {
            Some(variance) => self.leave(Cause::Readings, 0.0, variance),
            None => self.found.no_formula.insert(0, NoFormula::Method),
        }
        self.leave(Cause::Connections, 0.0, phased.connections);
        self.leave(Cause::Coupler, 0.0, phased.coupler);
        self.leave(Cause::Probe, 0.0, phased.probe);
        let one = 1.0 - 1.0 / self.channels;
        let by_found = rounding(step, seen.phase.sqrt()) * one * one;
        let is_codes = self.calibration.offsets == Offsets::Codes;
        if align.finds_whole_codes() {
            self.leave(Cause::FoundRounding, 0.0, by_found);
            // What is added to a whole code is rounded the same way everywhere.
            let added = model.hardware.known_imbalance / step;
            let with = |(channel, of): (usize, &Command)| {
                let added = if channel == align.reference { 0.0 } else { added };
                let wanted = f64::from(of.rest) + added;
                let reached = if is_codes { elementary::round(added) } else { elementary::round(wanted) };
                step * (reached - wanted)
            };
            let errors: Vec<f64> = self.commands.iter().enumerate().map(with).collect();
            self.leave(Cause::BeamRounding, 0.0, if is_free { 0.0 } else { spread(&errors) });
        } else if is_codes && !is_free {
            self.leave(Cause::FoundRounding, 0.0, by_found);
            self.leave(Cause::BeamRounding, 0.0, spread(&rests));
        } else if !is_free {
            let sd = (seen.phase + spread(&rests)).sqrt();
            let others = rounding(step, sd);
            let reference = self.star().map_or(others, |of| rests[of] * rests[of]);
            let mean = others + (reference - others) / self.channels;
            self.leave(Cause::BeamRounding, 0.0, mean * one);
        }
    }
}

/// What levelling does to the attenuators.
struct Levels {
    /// The probability of each code.
    codes: Vec<f64>,
    /// Mean square by which the gains of two channels differ, nepers squared.
    unlike: f64,
}

/// Mean square about the mean.
fn spread(values: &[f64]) -> f64 {
    let n = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / n;
    values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n
}

/// What is far below another number is what rounding left of none.
fn clean(part: f64, of: f64) -> f64 {
    if part > 1e-9 * of { part } else { 0.0 }
}
