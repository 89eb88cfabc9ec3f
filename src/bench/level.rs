//! Levelling: attenuate the strong channels toward the weak.

use crate::bench::Code;
use crate::io::{Check, Dimension, Table};

/// What the channels are brought to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Goal {
    /// The weakest channel of the unit.
    Weakest,
    /// A fixed level, dB over a nominal channel.
    Target(f64),
}

/// Which step is taken when the goal lies between two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rounding {
    /// The nearest step; midway, the one that attenuates less.
    Nearest,
    /// The step that attenuates just enough or too much, so that no channel stays above the goal.
    NextLower,
}

/// Levelling by step attenuators.
///
/// Formula: code = (reading - goal)/step, rounded by `rounding`, held to the attenuator's range. Readings
/// are taken over each channel's nominal, so a taper fed by the divider is kept. Units: dB.
/// Source: common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// What the channels are brought to.
    pub goal: Goal,
    /// Which step is taken between two.
    pub rounding: Rounding,
}

/// Ties are decided on readings that carry rounding errors of about 1e-13 steps; a hundredth of a
/// display digit is never as small as this.
const TIE: f64 = 1e-9;

impl Level {
    /// Reads `level = { toward = "weakest" }` or `{ toward = "target", target = "-1 dB" }`; absent: no levelling.
    pub fn read(calibration: &Table) -> Option<Level> {
        let table = calibration.table("level")?;
        let to_target = table.choice("toward", "goal of levelling", &[("weakest", false), ("target", true)]);
        let goal = if to_target {
            Goal::Target(table.quantity("target", Dimension::Level, Check::Any))
        } else {
            Goal::Weakest
        };
        let roundings = &[("nearest", Rounding::Nearest), ("next_lower", Rounding::NextLower)];
        Some(Level { goal, rounding: table.choice_or("rounding", "rounding", roundings, Rounding::Nearest) })
    }

    /// Chooses codes from readings over nominal, dB, `[channel][lane]`, for an attenuator of `states` steps of
    /// `step_db`.
    pub fn codes<const W: usize>(
        &self,
        readings: &[[f64; W]],
        step_db: f64,
        states: usize,
        codes: &mut [[Code; W]],
    ) {
        let mut goal = [f64::INFINITY; W];
        match self.goal {
            Goal::Target(level) => goal = [level; W],
            Goal::Weakest => readings.iter().for_each(|reading| {
                for l in 0..W {
                    goal[l] = goal[l].min(reading[l]);
                }
            }),
        }
        let shift = match self.rounding {
            Rounding::Nearest => -0.5 - TIE,
            Rounding::NextLower => -TIE,
        };
        let most = (states - 1) as f64;
        for (reading, code) in readings.iter().zip(codes) {
            for l in 0..W {
                let steps = ((reading[l] - goal[l]) / step_db + shift).ceil();
                code[l] = steps.clamp(0.0, most) as Code;
            }
        }
    }
}
