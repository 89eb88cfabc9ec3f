//! One unit for people: draws, readings, codes and figures.

use crate::bench::{Of, Reading};
use crate::engine::{Failure, Unit, UnitPlan};
use crate::model::Model;
use crate::report::draws_text::draws;
use crate::report::grid::{Grid, Side, numbers, paragraph};
use crate::report::number::{ABSENT, computed, counted, duration};
use crate::report::points_text::by_figure;
use crate::report::words::{bound, plain};

/// A unit for people, at most 80 columns wide.
pub(crate) fn unit_text(model: &Model, unit: &Unit) -> String {
    let built = format!("Unit {} of seed {}, {} channels.", unit.trial, model.seed, model.channels());
    let mut text = paragraph(&plain(&model.title), 0, 0) + &paragraph(&built, 0, 0);
    text.push_str(&draws(model, unit));
    for (number, of) in unit.calibrations.iter().enumerate() {
        text.push_str(&calibration(model, number, of));
    }
    text
}

fn calibration(model: &Model, number: usize, of: &UnitPlan) -> String {
    let missed = of.met.iter().filter(|met| !**met).count() as u64;
    let verdict = match (of.failure, missed) {
        (Some(failure), 0) => format!("fails, as {}", why(failure)),
        (Some(failure), missed) => format!("fails, as {}; {} missed", why(failure), counted(missed, "limit")),
        (None, 0) => "passes".to_owned(),
        (None, missed) => format!("fails, {} missed", counted(missed, "limit")),
    };
    let time =
        if of.seconds > 0.0 { format!(", {} on the bench", duration(of.seconds)) } else { String::new() };
    let mut text = format!("\nCalibration \"{}\": {verdict}{time}\n", model.calibrations[number].name);
    text.push_str(&dead(model, number, of));
    text.push_str(&alone(of));
    text.push_str(&pairs(of));
    text.push_str(&codes(model, number, of));
    text.push_str(&figures(model, of));
    text
}

fn level(db: f32) -> String {
    if db.is_finite() { format!("{db:.3}") } else { ABSENT.to_owned() }
}

fn why(failure: Failure) -> &'static str {
    match failure {
        Failure::DeadChannels => "it has more dead channels than allowed",
        Failure::DeadReference => "a dead channel was taken for a living one, and phases depend on it",
        Failure::NoFigure => "a figure could not be computed",
    }
}

/// Channels found dead, and the reference used instead; empty where all channels live.
fn dead(model: &Model, number: usize, of: &UnitPlan) -> String {
    let Some(dead) = of.dead.as_ref().filter(|dead| !dead.is_empty()) else { return String::new() };
    let listed: Vec<String> = dead.iter().map(usize::to_string).collect();
    let mut text = format!("Read as dead: {}.", listed.join(", "));
    let named = model.calibrations[number].reference();
    match of.reference {
        Some(reference) if reference != named => {
            text.push_str(&format!(
                " Channel {reference} takes the place of channel {named} as the reference."
            ));
        }
        _ => {}
    }
    format!("\n{}", paragraph(&text, 2, 2))
}

fn alone(of: &UnitPlan) -> String {
    let readings = of.readings.iter().filter_map(|reading| match reading.of {
        Of::Alone { channel } => Some((channel, reading)),
        _ => None,
    });
    let code = |code| if code == 0 { String::new() } else { format!(" at {code}") };
    let listed: Vec<String> =
        readings.map(|(channel, of)| format!("{channel}{}:{}", code(of.code), level(of.level_db))).collect();
    if listed.is_empty() {
        return String::new();
    }
    let heading = "\n  Channels read alone, channel:level in dB over a nominal channel\n";
    heading.to_owned() + &paragraph(&listed.join(" "), 4, 4)
}

fn pairs(of: &UnitPlan) -> String {
    let is_joined = |reading: &&Reading| !matches!(reading.of, Of::Alone { .. });
    let joined: Vec<&Reading> = of.readings.iter().filter(is_joined).collect();
    let Some(first) = joined.first() else { return String::new() };
    let what = match first.of {
        Of::Pair { .. } | Of::Alone { .. } => "Pairs read, code:level",
        Of::Rest { .. } => "Channels rotated among all others, code:level",
        Of::All { .. } => "All channels toggled, reading:level",
    };
    let mut text = format!("\n  {what} in dB over a nominal channel\n");
    for of_one in joined.chunk_by(|a, b| name(a) == name(b)) {
        text.push_str(&sweep(of_one));
    }
    text
}

/// The joined channels, in words.
fn name(reading: &Reading) -> String {
    match reading.of {
        Of::Alone { channel } => format!("channel {channel}"),
        Of::Pair { pair, turned } => {
            let arms = if pair.is_swapped { ", arms exchanged" } else { "" };
            let turned = if turned > 0 { format!(" at code {turned}") } else { String::new() };
            format!("channel {} against {}{turned}{arms}", pair.stepped, pair.reference)
        }
        Of::Rest { channel } => format!("channel {channel} among all"),
        Of::All { .. } => "all channels".to_owned(),
    }
}

fn sweep(readings: &[&Reading]) -> String {
    let ordered = || readings.iter().filter(|reading| reading.level_db.is_finite());
    let highest = ordered().max_by(|a, b| a.level_db.total_cmp(&b.level_db));
    let lowest = ordered().min_by(|a, b| a.level_db.total_cmp(&b.level_db));
    let number = |reading: &Reading| match reading.of {
        Of::All { row } => row,
        _ => reading.code,
    };
    let mut text = String::new();
    if let (Some(first), Some(highest), Some(lowest)) = (readings.first(), highest, lowest) {
        let ends = format!(
            "{}: highest {} dB at code {}, lowest {} dB at code {}",
            name(first),
            level(highest.level_db),
            number(highest),
            level(lowest.level_db),
            number(lowest)
        );
        text.push_str(&paragraph(&ends, 4, 6));
    }
    let listed: Vec<String> =
        readings.iter().map(|reading| format!("{}:{}", number(reading), level(reading.level_db))).collect();
    text + &paragraph(&listed.join(" "), 6, 6)
}

/// Codes of every channel. Shifters are commanded for one frequency, so a beam has one set for each code table that it uses.
fn codes(model: &Model, number: usize, of: &UnitPlan) -> String {
    let chosen = &model.courses[number].chosen;
    let several = of.tables.len() > 1;
    let nth = |table: usize| if several { format!(" {}", table + 1) } else { String::new() };
    let mut header = vec![numbers("channel")];
    for table in 0..of.tables.len() {
        header.push(numbers(format!("attenuator{}", nth(table))));
        header.push(numbers(format!("found phase{} (deg)", nth(table))));
    }
    let mut sets: Vec<usize> = Vec::new();
    for point in 0..model.points.len() {
        let set = (model.points[point].beam, chosen[point]);
        if !sets.iter().any(|of| (model.points[*of].beam, chosen[*of]) == set) {
            sets.push(point);
        }
    }
    header.extend(sets.iter().map(|point| {
        let by = if several { format!(", by table{}", nth(chosen[*point])) } else { String::new() };
        numbers(format!("shifter, {}{by}", model.beams[model.points[*point].beam].name))
    }));
    let mut grid = Grid::new(&header);
    for channel in 0..model.channels() {
        let mut row = vec![channel.to_string()];
        for table in &of.tables {
            row.push(table.attenuator[channel].to_string());
            let is_dead = of.dead.as_ref().is_some_and(|dead| dead.contains(&channel));
            let phase = table.phase[channel].to_degrees();
            row.push(if is_dead { ABSENT.to_owned() } else { computed(phase) });
        }
        row.extend(sets.iter().map(|point| of.shifter[*point][channel].to_string()));
        grid.row(row);
    }
    format!("\n  Codes\n{}", grid.text())
}

fn figures(model: &Model, of: &UnitPlan) -> String {
    let columns = [("value", Side::Right, 10), ("limit", Side::Left, 20), ("", Side::Left, 6)];
    let listed = by_figure(model, &columns, |number| {
        let limits = model.limits.iter().zip(&of.met).filter(|(limit, _)| limit.column == number);
        let (bounds, verdicts): (Vec<String>, Vec<&str>) =
            limits.map(|(limit, met)| (bound(model, limit), if *met { "met" } else { "MISSED" })).unzip();
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
        let model = sample::model();
        let unit = rebuild(&model, 5);
        let text = unit_text(&model, &unit);
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
        let model = sample::model();
        let unit = rebuild(&model, 5);
        let text = draws(&model, &unit);
        let cells = |block: &str| -> Vec<String> {
            let of_block = text.lines().skip_while(|line| line.trim() != block).skip(2).take(8);
            of_block.map(|line| line.split_whitespace().nth(1).unwrap().to_owned()).collect()
        };
        let (chip, own) = (cells("amplifier"), cells("feed"));
        assert!(chip.chunks(2).all(|pair| pair[0] == pair[1]), "{text}");
        assert!(own.chunks(2).all(|pair| pair[0] != pair[1]), "{text}");
    }

    #[test]
    fn a_missed_limit_is_marked() {
        let model = sample::model();
        let mut unit = rebuild(&model, 5);
        let of = &mut unit.calibrations[1];
        of.met = vec![true, false, true];
        assert!(calibration(&model, 1, of).starts_with("\nCalibration \"+fit\": fails, 1 limit missed"));
        assert_eq!(calibration(&model, 1, of).matches("MISSED").count(), 1);
        of.met = vec![true; 3];
        assert!(calibration(&model, 1, of).starts_with("\nCalibration \"+fit\": passes"));
        of.failure = Some(Failure::NoFigure);
        assert!(calibration(&model, 1, of).contains("fails, as a figure could not be computed"));
    }
}
