//! A table with a row for every figure at every beam, frequency and temperature.

use crate::io::Dimension;
use crate::model::Model;
use crate::report::grid::{Grid, Side, paragraph};
use crate::report::words;

/// Width of a beam's name: as wide as the widest, within these bounds.
const NAME: std::ops::RangeInclusive<usize> = 6..=22;

/// Width of a frequency, and of a temperature.
const FREQUENCY: usize = 10;
const TEMPERATURE: usize = 9;

/// For each figure a heading and a row for each beam point; `columns` are names, sides and widths of the `cells` of a
/// column of the model, by its number.
pub(super) fn by_figure(
    model: &Model,
    columns: &[(&str, Side, usize)],
    cells: impl Fn(usize) -> Vec<String>,
) -> String {
    let widest = model.beams.iter().map(|beam| beam.name.chars().count()).max().unwrap_or(0);
    let mut layout = vec![(Side::Left, widest.clamp(*NAME.start(), *NAME.end())), (Side::Right, FREQUENCY)];
    let mut names = vec!["beam", "frequency"];
    if (0..model.points.len()).any(|point| model.temperature_of(point).is_some()) {
        layout.push((Side::Right, TEMPERATURE));
        names.push("at");
    }
    layout.extend(columns.iter().map(|(_, side, width)| (*side, *width)));
    names.extend(columns.iter().map(|(name, ..)| *name));

    let mut header = Grid::in_line(&layout);
    header.row(names.into_iter().map(str::to_owned));
    let mut text = header.text();
    let numbered: Vec<(usize, _)> = model.columns.iter().enumerate().collect();
    for of_figure in numbered.chunk_by(|a, b| a.1.figure == b.1.figure) {
        let mut grid = Grid::in_line(&layout);
        for (number, column) in of_figure {
            let point = &model.points[column.point];
            let mut row = vec![model.beams[point.beam].name.clone(), words::frequency(point.frequency)];
            row.extend(
                model.temperature_of(column.point).map(|of| words::quantity(of, Dimension::Temperature)),
            );
            row.extend(cells(*number));
            grid.row(row);
        }
        if let Some((_, column)) = of_figure.first() {
            text.push_str(&paragraph(&words::figure(column.figure), 2, 4));
        }
        text.push_str(&grid.text());
    }
    text
}
