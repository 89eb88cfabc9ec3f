//! Tables and paragraphs of at most 80 columns, without lines.

use comfy_table::presets::NOTHING;
use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, Table, Width};

/// Columns of a page.
pub(super) const WIDTH: usize = 80;

/// Most columns of a page; a wider one is no easier to read.
const WIDEST: usize = 140;

/// Columns of the widest plan's name on a page of 80 columns; a longer one continues below.
const NAME: usize = 15;

/// The page that a text is written on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Paper {
    /// Columns, at least 80.
    width: usize,
    /// Whether charts are drawn with block characters, else with plain ASCII.
    pub(super) has_blocks: bool,
}

impl Paper {
    /// A file or a pipe: 80 columns of ASCII.
    pub(crate) const FILE: Paper = Paper { width: WIDTH, has_blocks: false };

    /// A terminal of so many columns, at least 80.
    pub(crate) fn terminal(columns: usize, has_blocks: bool) -> Paper {
        Paper { width: columns.clamp(WIDTH, WIDEST), has_blocks }
    }

    /// Columns beyond 80.
    pub(super) fn room(self) -> usize {
        self.width - WIDTH
    }

    /// Columns that a plan's name may take beside other columns.
    pub(super) fn widest_name(self) -> usize {
        NAME + self.room() / 3
    }
}

/// The indent of a table.
const INDENT: &str = "  ";

/// Blanks between two columns.
const GAP: u16 = 2;

/// The alignment of a column's cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// A table being filled.
pub(super) struct Grid {
    table: Table,
    /// Side, and width where it is given.
    columns: Vec<(Side, Option<usize>)>,
}

impl Grid {
    /// A table under a header, its columns as wide as they need.
    pub(super) fn new(header: &[(String, Side)]) -> Grid {
        let mut grid = Grid::empty(header.iter().map(|(_, side)| (*side, None)).collect());
        grid.table.set_header(header.iter().map(|(name, _)| name.clone()));
        grid
    }

    /// The same table on a wider page.
    pub(super) fn on(mut self, paper: Paper) -> Grid {
        self.table.set_width((paper.width - INDENT.len()) as u16);
        self
    }

    /// A table without header, its columns of given widths, so that several of them are aligned.
    pub(super) fn in_line(columns: &[(Side, usize)]) -> Grid {
        Grid::empty(columns.iter().map(|(side, width)| (*side, Some(*width))).collect())
    }

    fn empty(columns: Vec<(Side, Option<usize>)>) -> Grid {
        let mut table = Table::new();
        table.load_style(NOTHING);
        table.set_content_arrangement(ContentArrangement::Dynamic);
        table.set_width((WIDTH - INDENT.len()) as u16);
        Grid { table, columns }
    }

    /// Adds a row.
    pub(super) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.table.add_row(cells.into_iter().collect::<Vec<String>>());
    }

    /// The table, indented, with a line end.
    pub(super) fn text(mut self) -> String {
        for (column, (side, width)) in self.table.column_iter_mut().zip(&self.columns) {
            column.set_padding((0, GAP));
            if *side == Side::Right {
                column.set_cell_alignment(CellAlignment::Right);
            }
            if let Some(width) = width {
                column.set_constraint(ColumnConstraint::Absolute(Width::Fixed(*width as u16 + GAP)));
            }
        }
        self.table.lines().map(|line| format!("{INDENT}{line}").trim_end().to_owned() + "\n").collect()
    }
}

/// A header cell over words.
pub(super) fn words(name: impl Into<String>) -> (String, Side) {
    (name.into(), Side::Left)
}

/// A header cell over numbers.
pub(super) fn numbers(name: impl Into<String>) -> (String, Side) {
    (name.into(), Side::Right)
}

/// A text in lines of at most 80 columns: the first indented by `first` blanks, the others by `rest`.
pub(super) fn paragraph(text: &str, first: usize, rest: usize) -> String {
    let mut out = String::new();
    let mut line = " ".repeat(first);
    let mut is_empty = true;
    for word in text.split_whitespace() {
        if !is_empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            out.push_str(&line);
            out.push('\n');
            line = " ".repeat(rest);
            is_empty = true;
        }
        if !is_empty {
            line.push(' ');
        }
        line.push_str(word);
        is_empty = false;
    }
    out + &line + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_keeps_to_its_columns() {
        let mut grid = Grid::new(&[words("plan"), numbers("yield")]);
        grid.row(["none".to_owned(), "1 %".to_owned()]);
        grid.row(["level and peak".to_owned(), "97.5 %".to_owned()]);
        assert_eq!(
            grid.text(),
            "  plan             yield\n  none               1 %\n  level and peak  97.5 %\n"
        );
    }

    #[test]
    fn a_wide_table_is_wrapped() {
        let mut grid = Grid::new(&[words("plan"), words("sentence")]);
        grid.row(["a".to_owned(), "word ".repeat(40)]);
        let text = grid.text();
        assert!(text.lines().all(|line| line.chars().count() <= WIDTH), "{text}");
        assert_eq!(text.matches("word").count(), 40);
    }

    #[test]
    fn tables_of_given_widths_are_aligned() {
        let ends = |name: &str| {
            let mut grid = Grid::in_line(&[(Side::Left, 6), (Side::Right, 4)]);
            grid.row([name.to_owned(), "1".to_owned()]);
            grid.text().trim_end().len()
        };
        assert_eq!((ends("a"), ends("abcdef")), (14, 14));
    }

    #[test]
    fn a_paragraph_is_wrapped_and_hangs() {
        let text = paragraph(&"word ".repeat(17), 2, 4);
        assert_eq!(text, format!("  {}\n    word word\n", ["word"; 15].join(" ")));
    }
}
