//! One unit for people: what was drawn, read, set and measured.

use crate::engine::{Reading, Unit, UnitPlan};
use crate::plan::Plan;
use crate::report::draws_text::draws;
use crate::report::grid::{Grid, Side, numbers, paragraph};
use crate::report::looks_text::by_figure;
use crate::report::number::{ABSENT, computed, counted, duration};
use crate::report::words::{bound, plain};

/// A unit for people, at most 80 columns wide.
pub fn unit_text(plan: &Plan, unit: &Unit) -> String {
    let built = format!("Unit {} of seed {}, {} channels.", unit.trial, plan.seed, plan.channels());
    let mut text = paragraph(&plain(&plan.title), 0, 0) + &paragraph(&built, 0, 0);
    text.push_str(&draws(plan, unit));
    for (number, of) in unit.plans.iter().enumerate() {
        text.push_str(&calibration(plan, number, of));
    }
    text
}

/// Whether a unit meets every limit and has every figure.
pub(super) fn passes(of: &UnitPlan) -> bool {
    of.met.iter().all(|met| *met) && of.values.iter().all(|value| value.is_finite())
}

fn calibration(plan: &Plan, number: usize, of: &UnitPlan) -> String {
    let missed = of.met.iter().filter(|met| !**met).count() as u64;
    let verdict = match missed {
        0 if passes(of) => "passes".to_owned(),
        0 => "fails, as a figure could not be computed".to_owned(),
        missed => format!("fails, {} missed", counted(missed, "limit")),
    };
    let time =
        if of.seconds > 0.0 { format!(", {} on the bench", duration(of.seconds)) } else { String::new() };
    let mut text = format!("\nCalibration \"{}\": {verdict}{time}\n", plan.calibrations[number].name);
    text.push_str(&alone(of));
    text.push_str(&pairs(of));
    text.push_str(&codes(plan, of));
    text.push_str(&figures(plan, of));
    text
}

fn level(db: f32) -> String {
    if db.is_finite() { format!("{db:.3}") } else { ABSENT.to_owned() }
}

fn alone(of: &UnitPlan) -> String {
    let readings = of.readings.iter().filter(|reading| reading.reference.is_none());
    let listed: Vec<String> =
        readings.map(|reading| format!("{}:{}", reading.channel, level(reading.level_db))).collect();
    if listed.is_empty() {
        return String::new();
    }
    let heading = "\n  Channels read alone, channel:level in dB over a nominal channel\n";
    heading.to_owned() + &paragraph(&listed.join(" "), 4, 4)
}

fn pairs(of: &UnitPlan) -> String {
    let joined: Vec<&Reading> = of.readings.iter().filter(|reading| reading.reference.is_some()).collect();
    if joined.is_empty() {
        return String::new();
    }
    let mut text = "\n  Pairs read, code:level in dB over a nominal channel\n".to_owned();
    for pair in joined.chunk_by(|a, b| (a.channel, a.reference) == (b.channel, b.reference)) {
        text.push_str(&self::pair(pair));
    }
    text
}

fn pair(readings: &[&Reading]) -> String {
    let ordered = || readings.iter().filter(|reading| reading.level_db.is_finite());
    let highest = ordered().max_by(|a, b| a.level_db.total_cmp(&b.level_db));
    let lowest = ordered().min_by(|a, b| a.level_db.total_cmp(&b.level_db));
    let mut text = String::new();
    if let (Some(first), Some(highest), Some(lowest)) = (readings.first(), highest, lowest) {
        let reference = first.reference.map_or(ABSENT.to_owned(), |reference| reference.to_string());
        let ends = format!(
            "channel {} against {reference}: highest {} dB at code {}, lowest {} dB at code {}",
            first.channel,
            level(highest.level_db),
            highest.code,
            level(lowest.level_db),
            lowest.code
        );
        text.push_str(&paragraph(&ends, 4, 6));
    }
    let listed: Vec<String> =
        readings.iter().map(|reading| format!("{}:{}", reading.code, level(reading.level_db))).collect();
    text + &paragraph(&listed.join(" "), 6, 6)
}

/// Codes of every channel. Shifters are commanded for one frequency, so a beam has one set.
fn codes(plan: &Plan, of: &UnitPlan) -> String {
    let mut header = vec![numbers("channel"), numbers("attenuator"), numbers("found phase (deg)")];
    let first_of_beam: Vec<usize> = (0..plan.beams.len()).map(|beam| beam * plan.conditions.len()).collect();
    header.extend(plan.beams.iter().map(|beam| numbers(format!("shifter, {}", beam.name))));
    let mut grid = Grid::new(&header);
    for channel in 0..plan.channels() {
        let mut row = vec![channel.to_string(), of.attenuator[channel].to_string()];
        row.push(computed(of.phase[channel].to_degrees()));
        row.extend(first_of_beam.iter().map(|look| of.shifter[*look][channel].to_string()));
        grid.row(row);
    }
    format!("\n  Codes\n{}", grid.text())
}

fn figures(plan: &Plan, of: &UnitPlan) -> String {
    let columns = [("value", Side::Right, 10), ("limit", Side::Left, 20), ("", Side::Left, 6)];
    let listed = by_figure(plan, &columns, |number| {
        let limits = plan.limits.iter().zip(&of.met).filter(|(limit, _)| limit.column == number);
        let (bounds, verdicts): (Vec<String>, Vec<&str>) =
            limits.map(|(limit, met)| (bound(plan, limit), if *met { "met" } else { "MISSED" })).unzip();
        let value = of.values[number];
        let value = if value.is_finite() { computed(value) } else { ABSENT.to_owned() };
        vec![value, bounds.join(", "), verdicts.join(", ")]
    });
    format!("\n  Figures\n{listed}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::rebuild;
    use crate::report::sample;

    #[test]
    fn draws_readings_codes_and_verdicts_are_all_there() {
        let plan = sample::plan();
        let unit = rebuild(&plan, 5);
        let text = unit_text(&plan, &unit);
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("Unit 5 of seed 7, 8 channels."), "{text}");
        for said in [
            "bit phase error (deg)",
            "Calibration \"+fit\"",
            "Channels read alone",
            "channel 7 against 0:",
            "Codes",
        ] {
            assert!(words.contains(said), "{said}\n---\n{text}");
        }
        assert_eq!(words.matches(" against 0: highest").count(), 7);
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    }

    #[test]
    fn chips_share_their_draw_and_channels_do_not() {
        let plan = sample::plan();
        let unit = rebuild(&plan, 5);
        let text = draws(&plan, &unit);
        let cells = |block: &str| -> Vec<String> {
            let of_block = text.lines().skip_while(|line| line.trim() != block).skip(2).take(8);
            of_block.map(|line| line.split_whitespace().nth(1).unwrap().to_owned()).collect()
        };
        let (chip, own) = (cells("amplifier"), cells("feed"));
        assert!(chip.chunks(2).all(|pair| pair[0] == pair[1]), "{text}");
        assert!(own.chunks(2).all(|pair| pair[0] != pair[1]), "{text}");
    }

    #[test]
    fn a_missed_limit_is_told_as_such() {
        let plan = sample::plan();
        let mut unit = rebuild(&plan, 5);
        let of = &mut unit.plans[1];
        of.met = vec![true, false, true];
        assert!(calibration(&plan, 1, of).starts_with("\nCalibration \"+fit\": fails, 1 limit missed"));
        assert_eq!(calibration(&plan, 1, of).matches("MISSED").count(), 1);
        of.met = vec![true; 3];
        assert!(calibration(&plan, 1, of).starts_with("\nCalibration \"+fit\": passes"));
        of.values[0] = f64::NAN;
        assert!(calibration(&plan, 1, of).contains("fails, as a figure could not be computed"));
    }
}
