//! A report as one page: its content as data, its charts, and the one writer that makes a file of it. The file is self-contained: no
//! script, nothing to fetch, so it opens from a mail attachment and prints as it is.

mod about;
mod axis;
mod budget_page;
pub(crate) mod chart;
mod compare_page;
mod cost_page;
mod frame;
mod html;
mod inspect_page;
mod labels;
mod limit_page;
mod palette;
mod parts;
mod run_page;
mod spread_charts;
mod style;
mod svg;
mod sweep_page;
mod view_charts;

pub(crate) use about::Origin;
pub(crate) use axis::Axis;
pub(crate) use budget_page::budget_page;
pub(crate) use chart::Plot;
pub(crate) use compare_page::compare_page;
pub(crate) use cost_page::cost_page;
pub(crate) use html::page_html;
pub(crate) use inspect_page::inspect_page;
pub(crate) use limit_page::limit_page;
pub(crate) use run_page::run_page;
pub(crate) use sweep_page::sweep_page;

use crate::report::grid::Side;
use crate::report::number::ABSENT;

/// A page, its parts in the order in which they are read.
#[derive(Clone, Debug)]
pub(crate) struct Page {
    /// The study's title.
    pub title: String,
    /// One sentence on the run.
    pub lead: String,
    /// The answer, in words.
    pub verdict: String,
    /// The sections, the charts first.
    pub sections: Vec<Section>,
    /// The studies whole, as they were run, each with its name.
    pub studies: Vec<(String, String)>,
    /// Provenance: program, seed, command line, each with its name.
    pub provenance: Vec<(String, String)>,
    /// The cautions.
    pub cautions: Vec<String>,
}

/// A part of a page with a heading.
#[derive(Clone, Debug)]
pub(crate) struct Section {
    /// The heading.
    pub title: String,
    /// Its content.
    pub parts: Vec<Part>,
}

/// A part of a section.
#[derive(Clone, Debug)]
pub(crate) enum Part {
    /// A paragraph.
    Text(String),
    /// A table.
    Table(Table),
    /// A chart, with its table.
    Chart(Box<Chart>),
}

/// A table.
#[derive(Clone, Debug, Default)]
pub(crate) struct Table {
    /// Its title.
    pub caption: String,
    /// Names of the columns, and the side that their cells keep to.
    pub header: Vec<(String, Side)>,
    /// Rows as long as the header.
    pub rows: Vec<Vec<String>>,
}

/// A chart, with a text and a table for readers who cannot see it.
#[derive(Clone, Debug)]
pub(crate) struct Chart {
    /// Its title.
    pub title: String,
    /// Its text alternative, a sentence.
    pub alt: String,
    /// The plot.
    pub plot: Plot,
    /// The same in numbers.
    pub table: Table,
}

impl Section {
    /// A section; `None` without parts, so that none is empty.
    pub(crate) fn of(title: &str, parts: Vec<Part>) -> Option<Section> {
        (!parts.is_empty()).then(|| Section { title: title.to_owned(), parts })
    }
}

impl Part {
    /// A chart.
    pub(crate) fn chart(title: impl Into<String>, alt: impl Into<String>, plot: Plot, table: Table) -> Part {
        Part::Chart(Box::new(Chart { title: title.into(), alt: alt.into(), plot, table }))
    }
}

impl Table {
    /// A table without rows.
    pub(crate) fn new(caption: impl Into<String>, header: Vec<(String, Side)>) -> Table {
        Table { caption: caption.into(), header, rows: Vec::new() }
    }

    /// Without the columns that are empty in every row.
    pub(crate) fn trimmed(mut self) -> Table {
        let says = |column: usize| self.rows.iter().any(|row| row[column] != ABSENT);
        let kept: Vec<bool> = (0..self.header.len()).map(says).collect();
        let mut of_header = kept.iter();
        self.header.retain(|_| of_header.next() == Some(&true));
        for row in &mut self.rows {
            let mut of_row = kept.iter();
            row.retain(|_| of_row.next() == Some(&true));
        }
        self
    }

    /// Adds a row.
    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::grid::{numbers, words};

    #[test]
    fn a_column_that_is_empty_in_every_row_is_left_out() {
        let mut table = Table::new("caption", vec![words("plan"), numbers("mean"), numbers("predicted")]);
        table.row(["a", "1", ABSENT].map(str::to_owned));
        table.row(["b", ABSENT, ABSENT].map(str::to_owned));
        let trimmed = table.clone().trimmed();
        assert_eq!(trimmed.header.iter().map(|of| of.0.as_str()).collect::<Vec<_>>(), ["plan", "mean"]);
        assert_eq!(trimmed.rows, [["a", "1"], ["b", ABSENT]]);
        table.row(["c", ABSENT, "2"].map(str::to_owned));
        assert_eq!(table.clone().trimmed().rows, table.rows);
    }
}
