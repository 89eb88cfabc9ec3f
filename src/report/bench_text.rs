//! The bench and the calibration plans, for people.

use crate::bench::{
    Align, Calibration, DeadRule, Fixture, Goal, Level, Offsets, Receiver, Rounding, Stability, Tables,
};
use crate::io::Dimension;
use crate::model::Model;
use crate::random::Tolerance;
use crate::report::grid::paragraph;
use crate::report::number::{counted, duration};
use crate::report::words::{frequency, quantity, tolerance};
use crate::study::Study;

/// Receiver, coupler, cables and clock.
pub(super) fn bench(study: &Study) -> String {
    let mut text = "Bench\n".to_owned();
    let lines = [receiver(&study.receiver, &study.stability), fixture(&study.fixture), clock(study)];
    for line in lines.into_iter().chain(dead(study.dead.rule)) {
        text.push_str(&paragraph(&line, 2, 4));
    }
    text
}

/// How dead channels are found, where there can be any.
fn dead(rule: DeadRule) -> Option<String> {
    let level = |db| quantity(db, Dimension::Level);
    rule.is_looked_for.then(|| {
        format!(
            "dead channels: those that read alone below {} over what they should have, looked at once more where they read less than {} \
             above that; left out, and the next that lives takes the place of a dead reference",
            level(rule.below_db),
            level(DeadRule::DOUBT_DB)
        )
    })
}

fn receiver(of: &Receiver, stability: &Stability<Tolerance>) -> String {
    let level = |db: f64| quantity(db, Dimension::Level);
    let mut parts = Vec::new();
    if of.noise_db > 0.0 {
        parts.push(format!("noise {} (sd of one reading)", level(of.noise_db)));
    }
    if let Some(floor) = of.noise_floor_db {
        parts.push(format!("thermal noise at {} over a nominal channel", level(floor)));
    }
    if let Some(floor) = of.floor_db {
        parts.push(format!("shows nothing below {} over a nominal channel", level(floor)));
    }
    if let Some(top) = of.saturation_db {
        parts.push(format!("saturates at {} over a nominal channel", level(top)));
    }
    if of.resolution_db > 0.0 {
        parts.push(format!("shows steps of {}", level(of.resolution_db)));
    }
    if !stability.linearity.is_zero() {
        parts.push(format!("linearity error {} a dB", tolerance(&stability.linearity, Dimension::Ratio)));
    }
    if stability.walk_db > 0.0 {
        parts.push(format!("wanders by {} in an hour (sd)", level(stability.walk_db)));
    }
    if !stability.warm_up.is_zero() {
        let (gain, time) = (tolerance(&stability.warm_up, Dimension::Level), stability.warm_up_time);
        parts.push(format!("gains {gain} in warming up with {}", quantity(time, Dimension::Time)));
    }
    if parts.is_empty() {
        return "receiver: ideal".to_owned();
    }
    if of.averages > 1 {
        parts.push(format!("averages {} readings", of.averages));
    }
    format!("receiver: {}", parts.join(", "))
}

fn fixture(of: &Fixture<Tolerance>) -> String {
    let parts = [
        ("coupler gain imbalance", &of.gain_imbalance, Dimension::Level),
        ("coupler phase imbalance", &of.phase_imbalance, Dimension::Angle),
        ("gain at each reconnection", &of.reconnection_gain, Dimension::Level),
        ("phase at each reconnection", &of.reconnection_phase, Dimension::Angle),
        ("gain of a channel's way to the probe", &of.probe_gain, Dimension::Level),
        ("phase of a channel's way to the probe", &of.probe_phase, Dimension::Angle),
    ];
    let real = parts.iter().filter(|(_, of, _)| !of.is_zero());
    let listed: Vec<String> =
        real.map(|(name, of, dimension)| format!("{name} {}", tolerance(of, *dimension))).collect();
    if listed.is_empty() { "coupler and cables: ideal".to_owned() } else { listed.join("; ") }
}

fn clock(study: &Study) -> String {
    let clock = &study.clock;
    let parts = [
        ("set-up", clock.set_up),
        ("moving a cable", clock.reconnection),
        ("setting a code", clock.setting),
        ("a reading", clock.reading),
    ];
    let timed = parts.iter().filter(|(_, seconds)| *seconds > 0.0);
    let listed: Vec<String> =
        timed.map(|(name, seconds)| format!("{name} {}", quantity(*seconds, Dimension::Time))).collect();
    if listed.is_empty() {
        "time: not stated, so bench work takes none".to_owned()
    } else {
        format!("time: {}", listed.join(", "))
    }
}

/// Every plan as a sentence, with its bench time.
pub(super) fn calibrations(model: &Model, seconds: &[Option<f64>]) -> String {
    let mut text = "Calibration plans, each on the same units\n".to_owned();
    for (of, seconds) in model.calibrations.iter().zip(seconds) {
        text.push_str(&paragraph(&format!("{}: {}", of.name, sentence(of, *seconds)), 2, 4));
    }
    text
}

fn sentence(of: &Calibration, seconds: Option<f64>) -> String {
    if of.is_none() {
        return "leaves units as they come from assembly".to_owned();
    }
    let mut parts = Vec::new();
    parts.extend(characterised(of));
    parts.extend(of.level.as_ref().map(level));
    parts.extend(of.align.as_ref().map(|align| self::align(align, of.offsets)));
    if of.passes > 1 {
        parts.push(format!("all of it {} times, each from where the last one ended", of.passes));
    }
    if of.relevels {
        parts.push("levels once more".to_owned());
    }
    match &of.tables {
        Tables::One => {}
        Tables::Frequencies(at) => {
            let at: Vec<String> = at.iter().map(|hertz| frequency(*hertz)).collect();
            parts.push(format!("a table for each of {}, the nearest in use", at.join(", ")));
        }
        Tables::Beams => parts.push("a table for each beam, the probe in its direction".to_owned()),
    }
    if let Some(averages) = of.averages {
        parts.push(format!("{} averaged", counted(averages.into(), "reading")));
    }
    if seconds.is_none() {
        parts.push("its bench time takes too long to work out".to_owned());
    }
    if let Some(seconds) = seconds.filter(|seconds| *seconds > 0.0) {
        let pairs = of.align.as_ref().and_then(Align::pairs);
        let varies = pairs.is_some_and(|pairs| pairs.method.length_varies());
        let note = if varies { " for unit 0, as its readings have it" } else { "" };
        parts.push(format!("{}{note}", duration(seconds)));
    }
    parts.join("; ")
}

fn characterised(of: &Calibration) -> Option<String> {
    let of = of.characterise.as_ref()?;
    let mut parts = Vec::new();
    if of.attenuator {
        parts.push("every attenuator's steps".to_owned());
    }
    if let Some(sweep) = &of.shifter {
        parts.push(format!("every shifter's steps by {} codes of the reference", sweep.codes().len()));
    }
    Some(format!("measures {} first and uses them", parts.join(" and ")))
}

fn level(of: &Level) -> String {
    let goal = match of.goal {
        Goal::Weakest => "the weakest channel".to_owned(),
        Goal::Target(db) => format!("{} over a nominal channel", quantity(db, Dimension::Level)),
    };
    let rounding = match of.rounding {
        Rounding::Nearest => "to the nearest step",
        Rounding::NextLower => "to the next lower step",
    };
    format!("levels toward {goal} {rounding}")
}

fn align(of: &Align, offsets: Offsets) -> String {
    let kept = match offsets {
        Offsets::Codes => "kept as whole codes",
        Offsets::Phases => "kept as phases and rounded once with the beam",
    };
    format!("phases {}, {kept}", of.title())
}
