//! A study as the program reads it, in a person's units.

use crate::array::{SPEED_OF_LIGHT, TaperBy};
use crate::engine::Forecast;
use crate::io::Dimension;
use crate::model::Model;
use crate::random::Grouping;
use crate::report::error_free::error_free_text;
use crate::report::grid::{Grid, Side, numbers, paragraph, words};
use crate::report::number::{ABSENT, computed, counted, significant};
use crate::report::points_text::by_figure;
use crate::report::words::{bound, frequency, plain, quantity};
use crate::report::{Errors, bench_text, chain_text, errors_text};
use crate::study::{Study, Trials};

/// A study for people; `seconds` is the bench time that each of its calibration plans takes for some unit, `errors` its errors by
/// formula, before any run.
pub(crate) fn check_text(
    study: &Study,
    model: &Model,
    seconds: &[Option<f64>],
    errors: &Errors,
    forecast: &Forecast,
) -> String {
    let parts = [
        head(study),
        array(study, model),
        beams(study),
        chain_text::chain(study),
        bench_text::bench(study),
        bench_text::calibrations(model, seconds),
        errors_text::errors(errors),
        error_free_text(model),
        figures(model),
        run(forecast),
    ];
    parts.join("\n")
}

/// Time and memory of a run.
fn run(of: &Forecast) -> String {
    // To two digits, however large.
    let rough = |value: f64| {
        let two: f64 = format!("{value:.1e}").parse().unwrap_or(value);
        significant(two, 3)
    };
    let memory = of.bytes.map(|bytes| format!("{} MB of memory", rough(bytes as f64 / 1e6)));
    let time = of.seconds.map_or("more than anybody waits for".to_owned(), |seconds| match seconds {
        _ if seconds < 1.0 => "less than a second".to_owned(),
        _ if seconds < 120.0 => format!("{} s", rough(seconds)),
        _ if seconds < 7200.0 => format!("{} min", rough(seconds / 60.0)),
        _ => format!("{} h", rough(seconds / 3600.0)),
    });
    let taken: Vec<String> = memory.into_iter().chain([time]).collect();
    let text = format!(
        "A run of {} on {} takes about {}.",
        counted(of.units, "unit"),
        counted(of.threads as u64, "thread"),
        taken.join(" and ")
    );
    paragraph(&text, 0, 0)
}

fn head(study: &Study) -> String {
    let percent = |share: f64| format!("{} %", significant(100.0 * share, 4));
    let trials = match study.trials {
        Trials::Fixed(count) => counted(count, "unit"),
        Trials::UntilYield { half_width, at_most } => {
            format!(
                "Units are built until every yield is known to +/-{}, {at_most} at most,",
                percent(half_width)
            )
        }
    };
    let text =
        format!("{trials} from seed {}; intervals at {} confidence.", study.seed, percent(study.confidence));
    paragraph(&plain(&study.title), 0, 0) + &paragraph(&text, 0, 0)
}

fn array(study: &Study, model: &Model) -> String {
    let wavelength = SPEED_OF_LIGHT / study.command_frequency;
    let apart = |spacing: f64| {
        let wavelengths = significant(spacing / wavelength, 4);
        format!("{} ({wavelengths} wavelengths)", quantity(spacing, Dimension::Length))
    };
    let elements = counted(model.channels() as u64, "element");
    let layout = format!("{elements}{}", study.layout.words(&apart));
    let taper = study.taper.words();
    let is_set = study.taper_by == TaperBy::Attenuators && !study.taper.is_uniform();
    let taper = if is_set { format!("{taper}, set by the attenuators in their steps") } else { taper };
    let element = if study.element.exponent == 0.0 {
        "isotropic elements".to_owned()
    } else {
        format!(
            "element amplitude cos^{} of the angle from broadside",
            significant(study.element.exponent, 4)
        )
    };
    let mut text = "Array\n".to_owned();
    for line in [layout, taper, element] {
        text.push_str(&paragraph(&line, 2, 4));
    }
    let Grouping { chip, board, lot, .. } = study.grouping;
    if chip > 1 {
        text.push_str(&paragraph(&format!("{chip} channels on a chip"), 2, 4));
    }
    if let Some(board) = board {
        text.push_str(&paragraph(&format!("{} on a board", counted(board as u64, "channel")), 2, 4));
    }
    if let Some(lot) = lot {
        text.push_str(&paragraph(&format!("{} in a lot", counted(lot, "unit")), 2, 4));
    }
    text
}

fn beams(study: &Study) -> String {
    let angle = |radians: f64| quantity(radians, Dimension::Angle);
    let has_null = study.beams.iter().any(|beam| beam.null_at.is_some());
    let is_line = study.layout.is_line();
    let mut header = vec![words("beam"), numbers("theta")];
    if !is_line {
        header.push(numbers("phi"));
    }
    if has_null {
        header.push(numbers("null at"));
    }
    let mut grid = Grid::new(&header);
    for beam in &study.beams {
        let mut row = vec![beam.name.clone(), angle(beam.theta)];
        if !is_line {
            row.push(angle(beam.phi));
        }
        if has_null {
            row.push(beam.null_at.map_or(ABSENT.to_owned(), angle));
        }
        grid.row(row);
    }
    let listed: Vec<String> = study.frequencies.iter().map(|hertz| frequency(*hertz)).collect();
    let used = format!(
        "used at {}; commanded and calibrated at {}",
        listed.join(", "),
        frequency(study.command_frequency)
    );
    let warm = |kelvin: f64| quantity(kelvin, Dimension::Temperature);
    let in_use: Vec<String> = study.temperatures.iter().map(|kelvin| warm(*kelvin)).collect();
    let temperatures = format!(
        "used at {}; calibrated at {}; nominal values hold at {}",
        in_use.join(", "),
        warm(study.bench_temperature),
        warm(study.reference_temperature)
    );
    let is_told = study.temperatures != [study.bench_temperature];
    let temperatures = if is_told { paragraph(&temperatures, 2, 4) } else { String::new() };
    format!("Beams\n{}{}{temperatures}", grid.text(), paragraph(&used, 2, 4))
}

fn figures(model: &Model) -> String {
    let columns = [("error-free", Side::Right, 10), ("limit", Side::Left, 20)];
    let listed = by_figure(model, &columns, |number| {
        let column = model.columns[number];
        let error_free = model.points[column.point].error_free_value(column.figure);
        let limits = model.limits.iter().filter(|limit| limit.column == number);
        let limits: Vec<String> = limits.map(|limit| bound(model, limit)).collect();
        // Single precision leaves some 1e-8 where the exact value is 0.
        let error_free = error_free.map(|value| if value.abs() < 1e-6 { 0.0 } else { value });
        vec![error_free.map_or(ABSENT.to_owned(), computed), limits.join(", ")]
    });
    let none = if model.limits.is_empty() { "  No limits, so there is no yield.\n" } else { "" };
    format!("Figures and limits\n{listed}{none}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::bench_seconds;
    use crate::report::sample;

    const FORECAST: Forecast =
        Forecast { units: 20_000, threads: 2, bytes: Some(123_456_789), seconds: Some(12.34) };

    #[test]
    fn what_a_run_takes_is_told_in_its_own_unit() {
        let said = |bytes, seconds| run(&Forecast { bytes, seconds, ..FORECAST });
        let of = "A run of 20000 units on 2 threads takes about ";
        let both = said(Some(123_456_789), Some(12.34)).replace('\n', " ");
        assert_eq!(both, format!("{of}120 MB of memory and 12 s. "));
        for (seconds, expected) in [(0.2, "less than a second"), (600.0, "10 min"), (36_000.0, "10 h")] {
            assert_eq!(said(None, Some(seconds)).replace('\n', " "), format!("{of}{expected}. "));
        }
        assert!(said(None, None).replace('\n', " ").contains("more than anybody waits for"));
    }

    #[test]
    fn everything_of_a_study_is_told() {
        let (study, model) = (sample::study(), sample::model());
        let text = check_text(&study, &model, &bench_seconds(&model, 0), &Errors::of(&model), &FORECAST);
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for said in [
            "Sample 1000 units from seed 7; intervals at 95 % confidence.",
            "8 elements in a line along x, 15 mm (0.5003 wavelengths) apart",
            "2 channels on a chip",
            "-20 deg -20 deg",
            "used at 10 GHz; commanded and calibrated at 10 GHz",
            "1. feed: cable length: 50 mm, normal, sd 0.2 mm; drawn for each channel",
            "gain: 20 dB, uniform, sd 0.289 dB, within +/-0.5 dB; drawn for each chip of 2 channels",
            "3. shifter: phase shifter, 4 bits, 16 states, 22.5 deg a step \
             bit phase error: 0 deg, normal, sd 2 deg; drawn for each channel, each of 4 bits",
            "-- reference plane: cables of the bench see what stands above; what stands below remains",
            "5. tail: trace",
            "receiver: noise 0.1 dB (sd of one reading)",
            "coupler and cables: ideal",
            "none: leaves units as they come from assembly",
            "+fit: levels toward the weakest channel to the nearest step; phases every channel against channel 0 by a \
             sinusoid fitted to 16 codes, kept as phases and rounded once with the beam",
            "-20 deg 10 GHz -12.8 at most -11 dB",
            "What each tolerance does to a channel at 10 GHz",
            "sees it",
            "What each plan leaves at 10 GHz, by formula: expected residual, rms none (beam",
        ] {
            assert!(words.contains(said), "{said}\n---\n{text}");
        }
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    }

    #[test]
    fn bench_time_is_told_where_the_clock_runs() {
        let model = sample::model();
        let text =
            check_text(&sample::study(), &model, &bench_seconds(&model, 0), &Errors::of(&model), &FORECAST);
        // Levelling: 8 cables and 8 readings; aligning: 1 + 7 cables, 7 x 16 readings. 10 s a cable, 0.5 s a reading.
        let minutes = (16.0 * 10.0 + 120.0 * 0.5) / 60.0;
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains(&format!("; {} min", significant(minutes, 3))), "{text}");
    }
}
