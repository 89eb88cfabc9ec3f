//! Errors by formula, before any run, for people: each tolerance at a channel, and the residual of each plan.

use crate::engine::{Cause, Contribution, Expected, Part, Stands, Variances, is_alike};
use crate::io::Dimension;
use crate::report::errors_words::{Errors, cause, decibels, degrees, no_formula, share};
use crate::report::grid::{Grid, numbers, paragraph, words};
use crate::report::number::{ABSENT, significant};
use crate::report::words::{frequency, key, plain, quantity};

/// Shares below this in phase and in gain are grouped.
const SMALL: f64 = 0.01;

/// Most parts of a plan's residual that are named.
const NAMED: usize = 3;

/// Both parts of the text.
pub(super) fn errors(of: &Errors) -> String {
    channel(of) + "\n" + &plans(of)
}

fn channel(errors: &Errors) -> String {
    let model = errors.model;
    let at = frequency(model.at_bench.command_frequency);
    let is_warm = errors.temperature != model.at_bench.reference_temperature;
    let warm = format!(", {}", quantity(errors.temperature, Dimension::Temperature));
    let mut text =
        format!("What each tolerance does to a channel at {at}{}\n", if is_warm { &*warm } else { "" });
    let gain = significant(errors.nominal_gain_db, 4);
    text.push_str(&paragraph(
        &format!("nominal gain of the chain {gain} dB, stepped blocks at code 0"),
        2,
        4,
    ));
    let total = errors.total();
    let header = [
        words("part"),
        numbers("deg rms"),
        numbers("share"),
        numbers("dB rms"),
        numbers("share"),
        words("drawn for"),
        words("bench"),
    ];
    let mut grid = Grid::new(&header);
    let is_small = |of: &Contribution| {
        let left = of.channel.times(of.differs);
        let is_little = share(left.phase, total.phase) < SMALL && share(left.gain, total.gain) < SMALL;
        is_little && !is_alike(&model.sources.list()[of.source])
    };
    for of in errors.contributions.iter().filter(|of| !is_small(of)) {
        let source = &model.sources.list()[of.source];
        let left = of.channel.times(of.differs);
        let alike = is_alike(source);
        let bench = if of.stands == Stands::Before { "sees it" } else { "stays" };
        let part = |size: String, share: f64| match (size.as_str(), alike) {
            (ABSENT, _) => [size, ABSENT.to_owned()],
            (_, true) => [size, "alike".to_owned()],
            _ => [size, percent(share)],
        };
        let [phase, phase_share] = part(angle(of.channel), share(left.phase, total.phase));
        let [gain, gain_share] = part(level(of.channel), share(left.gain, total.gain));
        let name = plain(&key(&source.name));
        grid.row([
            name,
            phase,
            phase_share,
            gain,
            gain_share,
            source.scope.name().to_owned(),
            bench.to_owned(),
        ]);
    }
    let small: Vec<&Contribution> = errors.contributions.iter().filter(|of| is_small(of)).collect();
    if !small.is_empty() {
        let sum = |of: fn(&Contribution) -> Variances| {
            small.iter().map(|one| of(one)).fold(Variances::default(), Variances::plus)
        };
        let (all, left) = (sum(|of| of.channel), sum(|of| of.channel.times(of.differs)));
        let name = if small.len() == 1 { "1 other".to_owned() } else { format!("{} others", small.len()) };
        let shares = [share(left.phase, total.phase), share(left.gain, total.gain)].map(percent);
        let [phase, gain] = shares;
        grid.row([name, angle(all), phase, level(all), gain, String::new(), String::new()]);
    }
    for (name, size) in own(errors) {
        let none = || ABSENT.to_owned();
        grid.row([name, angle(size), none(), level(size), none(), none(), "its own".to_owned()]);
    }
    text.push_str(&grid.text());
    let mut notes = "to first order (law of propagation of uncertainty, JCGM 100:2008, 5.1.2): standard deviation of one \
                     channel, each part by itself; shares are of the variance by which channels differ, so what is alike in \
                     all channels has none; errors of bits and states with all codes equally probable, each bit on \
                     half the time; \"stays\": behind the reference plane, unless a probe sees it"
        .to_owned();
    if is_warm {
        notes.push_str("; at the temperature in use that is farthest from that of the nominal values");
    }
    let [is_dead, sticks, couples] = errors.left_out;
    let missing: Vec<&str> =
        [(is_dead, "dead channels"), (sticks, "stuck bits"), (couples, "coupling of elements")]
            .iter()
            .filter(|(is_so, _)| *is_so)
            .map(|(_, name)| *name)
            .collect();
    if !missing.is_empty() {
        notes.push_str(&format!("; not in it: {}", missing.join(", ")));
    }
    text + &paragraph(&notes, 2, 4)
}

/// Errors of stepped blocks and of the bench themselves.
fn own(errors: &Errors) -> Vec<(String, Variances)> {
    let model = errors.model;
    let mut rows = Vec::new();
    let shifter = model.chain.shifter().step();
    rows.push((
        "one rounding of the shifter".to_owned(),
        Variances { gain: 0.0, phase: shifter * shifter / 12.0 },
    ));
    let nepers = crate::chain::NEPERS_A_DB;
    if let Some((step_db, _)) = model.hardware.attenuator {
        let step = nepers * step_db;
        rows.push((
            "one step of the attenuator".to_owned(),
            Variances { gain: step * step / 12.0, phase: 0.0 },
        ));
    }
    for number in errors.of_bench() {
        let source = &model.sources.list()[number];
        let sd = source.distribution.sd();
        let size = match source.dimension {
            Dimension::Level => Variances { gain: nepers * sd * nepers * sd, phase: 0.0 },
            Dimension::Angle => Variances { gain: 0.0, phase: sd * sd },
            _ => continue,
        };
        let name = source.name.strip_prefix("bench.").unwrap_or(&source.name);
        rows.push((plain(&key(name)), size));
    }
    rows
}

fn plans(errors: &Errors) -> String {
    let model = errors.model;
    let at = frequency(model.at_bench.command_frequency);
    let mut text = format!("What each plan leaves at {at}, by formula: expected residual, rms\n");
    for (number, calibration) in model.calibrations.iter().enumerate() {
        let all = errors.expected.iter().filter(|of| of.calibration == number);
        let Some(worst) = all.max_by(|a, b| {
            let (a, b) = (a.residual(), b.residual());
            a.phase.total_cmp(&b.phase).then(a.gain.total_cmp(&b.gain))
        }) else {
            continue;
        };
        text.push_str(&one(errors, &calibration.name, worst));
    }
    let notes = "each at the beam, and temperature, where it leaves most phase; root of the sum of the squares of what is \
                 left, codes as phases and gains spread normally ask for them";
    text + &paragraph(notes, 2, 4)
}

/// One plan in a few lines.
fn one(errors: &Errors, name: &str, of: &Expected) -> String {
    let model = errors.model;
    let residual = of.residual();
    let mut place = format!("beam {}", model.beams[of.beam].name);
    if model.conditions.iter().any(|at| at.temperature != of.temperature) {
        place.push_str(&format!(", {}", quantity(of.temperature, Dimension::Temperature)));
    }
    let more = if of.no_formula.is_empty() { "" } else { ", and parts without a formula" };
    let head = format!(
        "{} ({}): {} deg, {} dB{more}",
        plain(name),
        plain(&place),
        three(degrees(residual.phase)),
        three(decibels(residual.gain))
    );
    let mut text = paragraph(&head, 2, 4);
    let taken = of.removed.iter().map(|part| part.size).fold(Variances::default(), Variances::plus);
    if !taken.is_zero() {
        let phase = listed(errors, &of.removed, |size| size.phase, |size| angle(size) + " deg", 2);
        let gain = listed(errors, &of.removed, |size| size.gain, |size| level(size) + " dB", 2);
        text.push_str(&paragraph(&format!("takes out {}", join(&[phase, gain])), 4, 6));
    }
    let phase = listed(errors, &of.left, |size| size.phase, |size| angle(size) + " deg", NAMED);
    let gain = listed(errors, &of.left, |size| size.gain, |size| level(size) + " dB", NAMED);
    text.push_str(&paragraph(&format!("leaves {}", join(&[phase, gain])), 4, 6));
    if !of.no_formula.is_empty() {
        let no_formula: Vec<&str> = of.no_formula.iter().map(|of| no_formula(*of).0).collect();
        text.push_str(&paragraph(&format!("no formula for {}", no_formula.join(", ")), 4, 6));
    }
    text
}

/// The largest parts, and how many others there are.
fn listed(
    errors: &Errors,
    parts: &[Part],
    of: fn(Variances) -> f64,
    size: fn(Variances) -> String,
    most: usize,
) -> String {
    // A cause can have two parts, of phase and of gain, or of two readings.
    let mut sums: Vec<(Cause, Variances)> = Vec::new();
    for part in parts.iter().filter(|part| of(part.size) != 0.0) {
        match sums.iter_mut().find(|(cause, _)| *cause == part.cause) {
            Some((_, sum)) => *sum = sum.plus(part.size),
            None => sums.push((part.cause, part.size)),
        }
    }
    sums.sort_by(|(_, a), (_, b)| of(*b).total_cmp(&of(*a)));
    let total: f64 = sums.iter().map(|(_, size)| of(*size)).sum();
    let is_named = |number: usize, part: f64| number < most && share(part, total) >= SMALL;
    let mut texts = Vec::new();
    let mut others = (0, Variances::default());
    for (number, (from, part)) in sums.iter().enumerate() {
        if is_named(number, of(*part)) {
            let percent = percent(share(of(*part), total));
            texts.push(format!("{} {} ({percent})", plain(&cause(errors.model, *from)), size(*part)));
        } else {
            others = (others.0 + 1, others.1.plus(*part));
        }
    }
    match others.0 {
        0 => {}
        1 => texts.push(format!("1 other {}", size(others.1))),
        count => texts.push(format!("{count} others {}", size(others.1))),
    }
    texts.join(", ")
}

fn join(parts: &[String]) -> String {
    let parts: Vec<&str> = parts.iter().map(String::as_str).filter(|part| !part.is_empty()).collect();
    if parts.is_empty() { "nothing".to_owned() } else { parts.join("; ") }
}

fn three(value: f64) -> String {
    if value < 5e-7 { "0".to_owned() } else { significant(value, 3) }
}

fn angle(of: Variances) -> String {
    let value = degrees(of.phase);
    if value < 5e-5 { ABSENT.to_owned() } else { significant(value, 3) }
}

fn level(of: Variances) -> String {
    let value = decibels(of.gain);
    if value < 5e-6 { ABSENT.to_owned() } else { significant(value, 3) }
}

fn percent(share: f64) -> String {
    match 100.0 * share {
        percent if percent <= 0.0 => ABSENT.to_owned(),
        percent if percent < 1.0 => "< 1 %".to_owned(),
        percent => format!("{} %", percent.round()),
    }
}
