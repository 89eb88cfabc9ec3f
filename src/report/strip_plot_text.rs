//! Strip plots: the distribution of the units about each limit, a row of characters a plan.

use crate::engine::{CalibrationSummary, FigureSummary};
use crate::report::Run;
use crate::report::grid::{Paper, paragraph};
use crate::report::number::significant;
use crate::report::spread_axis::{Stop, shared_range, stops};
use crate::report::spreads_text::{figures, heading, worst};
use crate::stats::histogram::round_ends;
use crate::stats::{Histogram, Moments};

/// Cells of a chart on a page of 80 columns.
const CELLS: usize = 40;

/// Columns for the share beyond the chart, on either side.
const BESIDE: usize = 8;

/// Shades of a cell by its units, relative to the fullest cell; the first is for any units at all.
const SHADES: [&str; 2] = [".:-=+*#%@", "▁▂▃▄▅▆▇█"];

/// One chart for each figure that has a limit, with a row for each plan; empty without limits.
pub(super) fn charts(run: &Run, paper: Paper) -> String {
    let charts: Vec<String> = figures(run.model)
        .into_iter()
        .filter_map(|figure| worst(run.model, &[run.summary], figure))
        .filter_map(|column| chart(run, paper, column))
        .collect();
    if charts.is_empty() {
        return String::new();
    }
    let points = if run.model.points.len() > 1 { ", each at its worst beam and frequency" } else { "" };
    let heading = format!(
        "Units about each limit{points}: the darker a cell, the more of a plan's units; | is the limit"
    );
    format!("{}\n{}", paragraph(&heading, 0, 0), charts.concat())
}

fn chart(run: &Run, paper: Paper, column: usize) -> Option<String> {
    let stops = stops(run.model, column);
    if stops.is_empty() {
        return None;
    }
    let plans = &run.summary.calibrations;
    let cells = CELLS + paper.room() * 2 / 3;
    let spreads: Vec<Option<Spread>> = plans.iter().map(|of| Spread::of(&of.figures[column])).collect();
    let axis = Axis::over(spreads.iter().flatten(), &stops, cells)?;
    let name = plans.iter().map(|of| of.name.chars().count()).max().unwrap_or(0);
    let name = name.min(paper.widest_name());

    let mut text = paragraph(&heading(run, column), 2, 4);
    for (of, spread) in plans.iter().zip(&spreads) {
        let [below, above] = spread.as_ref().map_or([None, None], |of| axis.beyond(of));
        let (below, above) = (
            below.map_or(String::new(), |of| of + " <"),
            above.map_or(String::new(), |of| "> ".to_owned() + &of),
        );
        let shades = SHADES[usize::from(paper.has_blocks)];
        let row = spread.as_ref().map_or(String::new(), |of| axis.row(of, shades));
        for (number, part) in cut(of, name).iter().enumerate() {
            let line = match number {
                0 => format!("  {part:<name$}{below:>BESIDE$} {row} {above}"),
                _ => format!("  {part}"),
            };
            text.push_str(&(line.trim_end().to_owned() + "\n"));
        }
    }
    let width = axis.width();
    let (low, high) = (significant(axis.low, 4), significant(axis.high, 4));
    let between = width.saturating_sub(low.chars().count());
    Some(text + &format!("  {:<name$}{:BESIDE$} {low}{high:>between$}\n", "", ""))
}

/// A plan's name in pieces no wider than `width`.
fn cut(of: &CalibrationSummary, width: usize) -> Vec<String> {
    let letters: Vec<char> = of.name.chars().collect();
    letters.chunks(width.max(1)).map(|piece| piece.iter().collect()).collect()
}

/// The data of a row.
struct Spread {
    histogram: Histogram,
    moments: Moments,
}

impl Spread {
    fn of(figure: &FigureSummary) -> Option<Spread> {
        Some(Spread { histogram: figure.histogram()?, moments: figure.moments })
    }

    /// The share of the values below a place, 0 and 1 beyond all of them.
    fn share_below(&self, place: f64) -> f64 {
        // A value on a limit from above meets it.
        if place >= self.moments.max {
            return 1.0;
        }
        if place <= self.moments.min { 0.0 } else { self.histogram.share_below(place) }
    }

    /// The range of nearly all values.
    fn range(&self) -> (f64, f64) {
        let (low, high) = self.histogram.range();
        (low.max(self.moments.min), high.min(self.moments.max))
    }
}

/// The cells of a chart.
struct Axis {
    low: f64,
    high: f64,
    /// Ends of the cells, ascending; the end nearest to a limit is moved onto it.
    ends: Vec<f64>,
    /// Numbers of the ends that are limits.
    marked: Vec<usize>,
}

impl Axis {
    /// An axis for the limits and the values of all plans, as far as they share a range.
    fn over<'a>(spreads: impl Iterator<Item = &'a Spread>, stops: &[Stop], cells: usize) -> Option<Axis> {
        let (low, high) = shared_range(spreads.map(Spread::range), stops)?;
        let (low, high) = round_ends(low, high);
        let mut ends: Vec<f64> =
            (0..=cells).map(|end| low + (high - low) * (end as f64 / cells as f64)).collect();
        let nearest = |stop: &Stop| ((stop.value - low) / (high - low) * cells as f64).round() as usize;
        let mut marked: Vec<usize> = stops.iter().map(nearest).map(|end| end.min(cells)).collect();
        stops.iter().zip(&marked).for_each(|(stop, end)| ends[*end] = stop.value);
        marked.dedup();
        Some(Axis { low, high, ends, marked })
    }

    /// Columns that a row takes.
    fn width(&self) -> usize {
        self.ends.len() - 1 + self.marked.len()
    }

    /// A row of the chart.
    fn row(&self, of: &Spread, shades: &str) -> String {
        let shades: Vec<char> = shades.chars().collect();
        let below: Vec<f64> = self.ends.iter().map(|end| of.share_below(*end)).collect();
        let shares: Vec<f64> = below.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let fullest = shares.iter().copied().fold(0.0, f64::max);
        let shade = |share: f64| {
            // A bin's units are spread evenly over it, so less than half a unit means none.
            if share * of.moments.count as f64 <= 0.5 {
                return ' ';
            }
            let step = (share / fullest * shades.len() as f64).ceil() as usize;
            shades[step.clamp(1, shades.len()) - 1]
        };
        let mut row = String::new();
        for end in 0..self.ends.len() {
            if self.marked.contains(&end) {
                row.push('|');
            }
            row.extend(shares.get(end).map(|share| shade(*share)));
        }
        row
    }

    /// The share of units beyond the ends, in percent.
    fn beyond(&self, of: &Spread) -> [Option<String>; 2] {
        let count = of.moments.count;
        let [first, last] = [self.ends[0], self.ends[self.ends.len() - 1]];
        [of.share_below(first), 1.0 - of.share_below(last)].map(|share| {
            let units = (share * count as f64).round() as u64;
            let percent = significant(100.0 * share, 2);
            match units {
                0 => None,
                _ if share < 0.001 => Some("<0.1 %".to_owned()),
                _ if percent == "100" && units < count => Some(">99 %".to_owned()),
                _ => Some(format!("{percent} %")),
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::Summary;
    use crate::figure::Figure;
    use crate::report::sample;
    use crate::stats::Column;

    #[test]
    fn a_chart_shows_the_units_and_the_limit() {
        let model = sample::model();
        let summary = sample::summary(&model);
        let text = charts(&sample::run(&model, &summary), Paper::FILE);
        // Means -13 and -14, sd 0.2, 1000 units, limit -11 dB: from -14.66 to -11, to round ends.
        let expected = "\
peak side lobe (dB), beam ahead, 10 GHz: at most -11 dB
  none                     ..:-+%@@%+-...              |
  +fit          ...:=*@@%*=:...                        |
               -14.8                                 -11
";
        let pointing = text.find("  pointing error").expect("a chart of the other limit");
        assert_eq!(&text[text.find("peak").unwrap()..], expected, "{}", &text[pointing..]);
    }

    #[test]
    fn a_limit_on_a_size_has_both_signs() {
        let model = sample::model();
        let mut summary = sample::summary(&model);
        let column = model.columns.iter().position(|of| of.figure == Figure::PointingError && of.point == 1);
        let column = column.unwrap();
        let row = |summary: &Summary| {
            let text = charts(&sample::run(&model, summary), Paper::FILE);
            let lines = text.lines().skip_while(|line| !line.contains("pointing error"));
            lines.skip(1).find(|line| line.starts_with("  none")).unwrap().to_owned()
        };
        // 0.5 deg at 2.5 sd: some beyond on either side.
        let parts: Vec<String> = row(&summary).split('|').map(str::to_owned).collect();
        assert_eq!(parts.len(), 3, "{parts:?}");
        assert!(parts[0].contains('.') && parts[1].contains('@') && parts[2].contains('.'), "{parts:?}");
        // The reverse: where no unit is beyond, none is drawn there, however near the limit it is.
        let moments = &mut summary.calibrations[0].figures[column].moments;
        (moments.min, moments.max) = (-0.5, 0.5);
        let parts: Vec<String> = row(&summary).split('|').map(str::to_owned).collect();
        assert_eq!((parts[0].trim(), parts[2].trim()), ("none", ""), "{parts:?}");
    }

    #[test]
    fn a_plan_that_spreads_far_does_not_flatten_the_others() {
        let model = sample::model();
        let mut summary = sample::summary(&model);
        for of in &mut summary.calibrations[0].figures {
            let far: Vec<f64> = (0..1000).map(|i| f64::from(i - 500) * 0.5).collect();
            of.moments = Moments::of(&far);
            of.values = Column::new();
            of.values.keep(&far);
            of.percentiles[0].value = -245.0;
            of.percentiles[4].value = 244.5;
        }
        let text = charts(&sample::run(&model, &summary), Paper::FILE);
        let rows = |name: &str| -> Vec<&str> { text.lines().filter(|line| line.contains(name)).collect() };
        for row in rows("none") {
            assert!(row.contains(" % <") && row.contains("> ") && row.ends_with(" %"), "{text}");
        }
        for row in rows("+fit") {
            assert!(
                !row.contains('<') && row.chars().filter(|c| ".:-=+*#%@".contains(*c)).count() >= 5,
                "{text}"
            );
        }
    }

    #[test]
    fn a_chart_keeps_to_its_paper() {
        let model = sample::model();
        let mut summary = sample::summary(&model);
        summary.calibrations[0].name = "a plan with a name that goes on and on".into();
        let papers =
            [Paper::FILE, Paper::terminal(20, true), Paper::terminal(117, true), Paper::terminal(999, false)];
        for (paper, width) in papers.into_iter().zip([80, 80, 117, 140]) {
            let text = charts(&sample::run(&model, &summary), paper);
            let widest = text.lines().map(|line| line.chars().count()).max().unwrap();
            assert!(widest <= width && widest > width - 20, "{widest} of {width}\n{text}");
            assert_eq!(text.contains('█'), paper.has_blocks);
        }
    }

    #[test]
    fn without_limits_there_is_nothing_to_draw() {
        let mut model = sample::model();
        let summary = sample::summary(&model);
        model.limits.clear();
        assert_eq!(charts(&sample::run(&model, &summary), Paper::FILE), "");
    }
}
