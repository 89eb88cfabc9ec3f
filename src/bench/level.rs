//! Levelling: attenuate the strong channels toward the weak.

use crate::bench::{Code, rounding};
use crate::io::{Check, Dimension, Key, Nested, Optional, Or, Quantity, Table, Word, keys};
use crate::math::{normal, single};
use multiversion::multiversion;

/// The level that the channels are brought to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Goal {
    /// The weakest channel of the unit.
    Weakest,
    /// A fixed level, dB over a nominal channel.
    Target(f64),
}

/// Which step is taken when the goal is between two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rounding {
    /// The nearest step; midway, the one that attenuates less.
    Nearest,
    /// The step that attenuates just enough or too much, so that no channel stays above the goal.
    NextLower,
}

/// Levelling by step attenuators.
///
/// Formula: code = (reading - goal)/step, rounded by `rounding`, held to the attenuator's range. Readings
/// are taken over the wanted level of each channel, so a taper is kept, or made. A channel that reads below the level of a
/// [dead](crate::bench::DeadRule) one is no goal for the others. Units: dB. Source: common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Level {
    /// The level that the channels are brought to.
    pub goal: Goal,
    /// Which step is taken between two.
    pub rounding: Rounding,
}

/// The attenuation at every code, and the level of channels that need none.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Attenuations<'a, const W: usize> {
    /// The nominal step, dB.
    pub step_db: f64,
    /// Number of codes.
    pub states: usize,
    /// Measured attenuations of all codes over code 0, dB, `[channel][code][lane]` in a row; nothing where whole steps are believed.
    pub measured: Option<&'a [[f32; W]]>,
    /// A channel that reads no more than this over its wanted level is dead, dB.
    pub dead_below_db: f32,
}

impl<const W: usize> Attenuations<'_, W> {
    /// Attenuation of a channel at a code in a lane, dB.
    pub(crate) fn of(&self, channel: usize, code: Code, lane: usize) -> f32 {
        match self.measured {
            Some(measured) => measured[channel * self.states + code as usize][lane],
            None => self.step_db as f32 * code as f32,
        }
    }
}

/// Steps that count as midway: readings carry rounding errors of 1e-5 dB at 100 dB.
const TIE: f32 = 1e-4;

keys! {
    KEYS: "Levelling; none where it is left out";
    TOWARD: Word<bool> =
        Key::word("toward", "goal of levelling", || vec![("weakest", false), ("target", true)], "target",
            "What the channels are levelled to: the weakest of them, or a target");
    TARGET: Optional<Quantity> =
        Key::quantity("target", Dimension::Level, Check::Any, "-2 dB",
            "Level to reach, over a nominal channel; required with toward = \"target\"").optional();
    ROUNDING: Or<Word<Rounding>, Rounding> =
        Key::word("rounding", "rounding", || vec![("nearest", Rounding::Nearest), ("next_lower", Rounding::NextLower)],
            "nearest", "How attenuations are rounded to codes; to the nearest where it is left out").or(Rounding::Nearest);
}

/// Key of levelling in the table of a plan.
pub(crate) const LEVEL: Key<Nested> = Key::table("level", &KEYS, "{ toward = \"weakest\" }");

impl Level {
    /// Reads `level = { toward = "weakest" }` or `{ toward = "target", target = "-1 dB" }`; absent: no levelling.
    pub(crate) fn read(calibration: &Table) -> Option<Level> {
        let table = calibration.table(LEVEL)?;
        let to_target = table.read(&TOWARD);
        let goal = if to_target { Goal::Target(table.read(&TARGET.required())) } else { Goal::Weakest };
        Some(Level { goal, rounding: table.read(&ROUNDING) })
    }

    /// Chooses codes from readings over nominal, dB, `[channel][lane]`, by whole steps.
    pub(crate) fn codes<const W: usize>(
        &self,
        readings: &[[f32; W]],
        known: &Attenuations<W>,
        codes: &mut [[Code; W]],
    ) {
        let shift = match self.rounding {
            Rounding::Nearest => -0.5 - TIE,
            Rounding::NextLower => -TIE,
        };
        let goal = self.goal_of(readings, known);
        choose(readings, &goal, (1.0 / known.step_db) as f32, shift, (known.states - 1) as f32, codes);
    }

    /// Moves codes on from where they stand by readings taken there.
    pub(crate) fn adjust<const W: usize>(
        &self,
        readings: &[[f32; W]],
        known: &Attenuations<W>,
        codes: &mut [[Code; W]],
    ) {
        let goal = self.goal_of(readings, known);
        let nominal: Vec<[f32; W]> =
            (0..known.states as Code).map(|code| [known.step_db as f32 * code as f32; W]).collect();
        for (channel, (reading, codes)) in readings.iter().zip(codes).enumerate() {
            let mut wanted = [0.0; W];
            for l in 0..W {
                wanted[l] = known.of(channel, codes[l], l) + (reading[l] - goal[l]);
            }
            let steps = match known.measured {
                Some(measured) => &measured[channel * known.states..][..known.states],
                None => &nominal,
            };
            match self.rounding {
                Rounding::Nearest => nearest::<W, false>(&wanted, steps, codes),
                Rounding::NextLower => nearest::<W, true>(&wanted, steps, codes),
            }
        }
    }

    /// The attenuation that readings taken at some codes ask for before any rounding, dB, held to the attenuator's range.
    pub(crate) fn wanted<const W: usize>(
        &self,
        readings: &[[f32; W]],
        known: &Attenuations<W>,
        codes: &[[Code; W]],
    ) -> Vec<[f32; W]> {
        let goal = self.goal_of(readings, known);
        let channels = readings.iter().zip(codes).enumerate();
        let wanted = channels.map(|(channel, (reading, codes))| {
            std::array::from_fn(|l| {
                let most =
                    (0..known.states as Code).map(|code| known.of(channel, code, l)).fold(0.0, f32::max);
                (known.of(channel, codes[l], l) + (reading[l] - goal[l])).clamp(0.0, most)
            })
        });
        wanted.collect()
    }

    fn goal_of<const W: usize>(&self, readings: &[[f32; W]], known: &Attenuations<W>) -> [f32; W] {
        let mut goal = [f32::INFINITY; W];
        match self.goal {
            Goal::Target(level) => goal = [level as f32; W],
            Goal::Weakest => readings.iter().for_each(|reading| {
                for l in 0..W {
                    let is_live = reading[l] > known.dead_below_db;
                    goal[l] = if is_live & (reading[l] < goal[l]) { reading[l] } else { goal[l] };
                }
            }),
        }
        goal
    }
}

/// The result of levelling, by formula.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Levelled {
    /// Mean square by which the channels still differ for their steps, dB squared.
    pub variance_db: f64,
    /// The probability of each code, `[code]`.
    pub codes: Vec<f64>,
}

impl Level {
    /// Residual levels of channels whose gains spread normally by `sd_db` about those of `over_db`, dB over the wanted levels,
    /// `[channel]`, by an attenuator of `states` steps of `step_db`.
    ///
    /// Formula: toward the weakest, [`rounding`] times ((N - 1)/N)^2, as one of N channels is the goal itself; to the next lower step
    /// all others are half a step below it in the mean, which adds q^2/4 (N - 1)/N^2. The weakest is where the distributions of all
    /// add up to 5/8 (Blom's place of the least of N). Toward a target, the mean square over the distribution of the gains. Units: dB.
    /// Source: own derivation; G. Blom, 1958 (from memory).
    pub(crate) fn leaves(&self, step_db: f64, states: usize, sd_db: f64, over_db: &[f64]) -> Levelled {
        let n = over_db.len() as f64;
        let goal = match self.goal {
            Goal::Target(level) => level,
            Goal::Weakest => weakest(sd_db, over_db),
        };
        let shift = if self.rounding == Rounding::Nearest { -0.5 } else { 0.0 };
        let most = (states - 1) as f64;
        let mut codes = vec![0.0; states];
        let (mut sum, mut squares) = (0.0, 0.0);
        let place = |i: u32| normal::quantile((f64::from(i) + 0.5) / f64::from(PLACES));
        let places: Vec<f64> = (0..PLACES).map(place).collect();
        for over in over_db {
            for z in &places {
                let above = over + sd_db * z - goal;
                let code = (above / step_db + shift).ceil().clamp(0.0, most);
                codes[code as usize] += 1.0 / (n * f64::from(PLACES));
                let left = above - code * step_db;
                sum += left / (n * f64::from(PLACES));
                squares += left * left / (n * f64::from(PLACES));
            }
        }
        let variance_db = match self.goal {
            Goal::Target(_) => (squares - sum * sum) * (n - 1.0) / n,
            Goal::Weakest => {
                let others = rounding(step_db, sd_db) * ((n - 1.0) / n) * ((n - 1.0) / n);
                let below = if self.rounding == Rounding::Nearest { 0.0 } else { 0.25 * step_db * step_db };
                others + below * (n - 1.0) / (n * n)
            }
        };
        Levelled { variance_db, codes }
    }
}

/// Quantiles of a distribution that a mean is taken over.
const PLACES: u32 = 256;

/// Median of the weakest of some channels, dB.
fn weakest(sd_db: f64, over_db: &[f64]) -> f64 {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for over in over_db {
        (low, high) = (low.min(over - 8.0 * sd_db), high.max(over + 8.0 * sd_db));
    }
    if sd_db <= 0.0 {
        return over_db.iter().copied().fold(f64::INFINITY, f64::min);
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        let below: f64 = over_db.iter().map(|over| normal::probability((middle - over) / sd_db)).sum();
        (low, high) = if below < 0.625 { (middle, high) } else { (low, middle) };
    }
    0.5 * (low + high)
}

/// dB that count as equal, in [`TIE`]s.
const ENOUGH: f32 = 0.1;
/// More than any attenuation, dB.
const LITTLE: f32 = 1e4;

/// The codes whose attenuations, `[code][lane]`, are nearest to those that are wanted, or the next that attenuate enough; the lowest of equals.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn nearest<const W: usize, const ENOUGH_ONLY: bool>(
    wanted: &[f32; W],
    steps: &[[f32; W]],
    codes: &mut [Code; W],
) {
    let mut least = [f32::INFINITY; W];
    *codes = [0; W];
    for (code, step) in (0..).zip(steps) {
        for l in 0..W {
            let over = step[l] - wanted[l];
            // A code that attenuates too little counts only where none attenuates enough.
            let short = if over < -TIE * ENOUGH { LITTLE - over } else { over };
            let miss = if ENOUGH_ONLY { short } else { over.abs() };
            let is_nearer = miss < least[l] - TIE * ENOUGH;
            codes[l] = if is_nearer { code } else { codes[l] };
            least[l] = if is_nearer { miss } else { least[l] };
        }
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn choose<const W: usize>(
    readings: &[[f32; W]],
    goal: &[f32; W],
    steps_a_db: f32,
    shift: f32,
    most: f32,
    codes: &mut [[Code; W]],
) {
    for (reading, code) in readings.iter().zip(codes) {
        for l in 0..W {
            let steps = (reading[l] - goal[l]) * steps_a_db + shift;
            // Held to the range first, so that the whole number is one that single precision counts.
            let steps = if steps > 0.0 { steps } else { 0.0 };
            let steps = if steps < most { steps } else { most };
            let nearest = single::nearest_bits(steps);
            code[l] = nearest + Code::from((nearest as i32 as f32) < steps);
        }
    }
}
