//! How the figures spread: for each, its worst beam and frequency, the calibration plans side by side.

use crate::engine::{CalibrationSummary, FigureSummary, LimitSummary, PERCENTILES, Summary};
use crate::figure::Figure;
use crate::model::Model;
use crate::report::Run;
use crate::report::grid::{Grid, Paper, Side, paragraph};
use crate::report::number::{ABSENT, estimate, percent, rounded};
use crate::report::words;

/// The percentiles shown.
const SHOWN: [u32; 2] = [5, 95];

/// Least width of a plan's name.
const NAME: usize = 8;

/// Width of a number.
const NUMBER: usize = 9;

/// Width of the share of units within a limit.
const MET: usize = 17;

/// One block of lines a figure.
pub(super) fn spreads(run: &Run, paper: Paper) -> String {
    let model = run.model;
    let widest = run.summary.calibrations.iter().map(|of| of.name.chars().count()).max().unwrap_or(0);
    let number = (Side::Right, NUMBER);
    let name = (Side::Left, widest.clamp(NAME, paper.widest_name()));
    let columns = [name, number, number, number, number, (Side::Right, MET)];
    let grid = || Grid::in_line(&columns).on(paper);

    let mut text = String::from("How the figures spread");
    if model.points.len() > 1 {
        text.push_str(", each at its worst beam and frequency (--json has all)");
    }
    text.push_str("\n\n");
    let mut header = grid();
    let names = ["", "mean", "predicted", "5 %", "95 %", "within limit"];
    header.row(names.map(str::to_owned));
    text.push_str(&header.text());
    for figure in figures(model) {
        let Some(column) = worst(model, &[run.summary], figure) else { continue };
        text.push_str(&paragraph(&heading(run, column), 2, 4));
        let mut grid = grid();
        for of in &run.summary.calibrations {
            grid.row(row(of, column));
        }
        text.push_str(&grid.text());
    }
    text
}

/// The model's figures, each once.
pub(super) fn figures(model: &Model) -> Vec<Figure> {
    let mut figures: Vec<Figure> = model.columns.iter().map(|column| column.figure).collect();
    figures.dedup();
    figures
}

/// "peak side lobe (dB), beam 45 deg, 28 GHz: at most -12.4 dB"
pub(super) fn heading(run: &Run, column: usize) -> String {
    let of = run.model.columns[column];
    let name = format!("{}, {}", words::figure(of.figure), words::point(run.model, of.point));
    let limits: Vec<String> = run
        .model
        .limits
        .iter()
        .filter(|limit| limit.column == column)
        .map(|limit| words::bound(run.model, limit))
        .collect();
    if limits.is_empty() { name } else { format!("{name}: {}", limits.join(", ")) }
}

fn row(of: &CalibrationSummary, column: usize) -> Vec<String> {
    let figure = &of.figures[column];
    let moments = &figure.moments;
    let error = moments.standard_error();
    let mean = if moments.count > 0 { rounded(moments.mean, error) } else { ABSENT.to_owned() };
    let predicted = figure.predicted_mean.map_or(ABSENT.to_owned(), |mean| rounded(mean, error));
    let percentile = |p| percentile(figure, p).map_or(ABSENT.to_owned(), estimate);
    let met = tightest(of, column).map_or(ABSENT.to_owned(), |limit| percent(&limit.yield_).0);
    let [low, high] = SHOWN.map(percentile);
    vec![of.name.clone(), mean, predicted, low, high, met]
}

pub(super) fn percentile(figure: &FigureSummary, p: u32) -> Option<&crate::stats::Estimate> {
    PERCENTILES.iter().zip(&figure.percentiles).find(|(of, _)| **of == p).map(|(_, estimate)| estimate)
}

/// Of the limits on a column, the one that fewest units meet.
pub(super) fn tightest(of: &CalibrationSummary, column: usize) -> Option<&LimitSummary> {
    let on_column = of.limits.iter().filter(|limit| limit.limit.column == column);
    on_column.min_by(|a, b| a.yield_.value.total_cmp(&b.yield_.value))
}

/// The beam point at which a figure is worst: the one whose limit fewest units meet, over all calibrations; where that does
/// not decide, the one whose 5th or 95th percentile is farthest from the error-free value.
pub(super) fn worst(model: &Model, summaries: &[&Summary], figure: Figure) -> Option<usize> {
    let plans = || summaries.iter().flat_map(|of| &of.calibrations);
    let met = |column: usize| -> f64 {
        plans().map(|of| tightest(of, column).map_or(1.0, |limit| limit.yield_.value)).sum()
    };
    let stray = |column: usize| {
        let point = &model.points[model.columns[column].point];
        let error_free = point.error_free_value(figure).unwrap_or(0.0);
        let percentiles = plans().flat_map(|of| SHOWN.map(|p| percentile(&of.figures[column], p)));
        percentiles.flatten().map(|of| (of.value - error_free).abs()).fold(0.0, f64::max)
    };
    let columns = (0..model.columns.len()).filter(|column| model.columns[*column].figure == figure);
    columns.min_by(|a, b| met(*a).total_cmp(&met(*b)).then(stray(*b).total_cmp(&stray(*a))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;

    #[test]
    fn a_mean_stands_beside_its_prediction_and_an_absent_one_is_a_dash() {
        let model = sample::model();
        let summary = sample::summary(&model);
        let text = spreads(&sample::run(&model, &summary), Paper::FILE);
        let rows: Vec<Vec<&str>> = text.lines().map(|line| line.split_whitespace().collect()).collect();
        // The sample's mean is -13 and -14 with a standard error of 0.2/sqrt(1000) = 0.0063.
        assert!(rows.contains(&vec!["none", "-13.00", "-13.10", "-13.30", "-12.70", "93.0", "%"]), "{text}");
        assert!(
            rows.contains(&vec!["+fit", "-14.00", "-", "-14.30", "-13.70", "at", "least", "99.6", "%"]),
            "{text}"
        );
    }

    #[test]
    fn long_names_do_not_widen_the_page() {
        let model = sample::model();
        let mut summary = sample::summary(&model);
        summary.calibrations[0].name = "a plan with a name that goes on and on".into();
        let text = spreads(&sample::run(&model, &summary), Paper::FILE);
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
        assert!(!text.contains("a plan with a name that goes"), "{text}");
        // Where there is room, they are not cut.
        let wide = spreads(&sample::run(&model, &summary), Paper::terminal(155, true));
        assert!(wide.contains("a plan with a name that goes"), "{wide}");
    }

    #[test]
    fn the_worst_point_is_the_one_whose_limit_fewest_meet() {
        let model = sample::model();
        let mut summary = sample::summary(&model);
        let worst_of = |summary: &crate::engine::Summary| {
            let column = worst(&model, &[summary], Figure::PeakSideLobe).unwrap();
            model.columns[column].point
        };
        // Side lobes are missed by more units at the second beam ("ahead").
        assert_eq!(worst_of(&summary), 1);
        summary.calibrations[0].limits[0].yield_.value = 0.2;
        assert_eq!(worst_of(&summary), 0);
    }
}
