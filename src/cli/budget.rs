//! `beamyield budget`: the causes of the failures and of the spread.

use crate::cli::Execute;
use crate::cli::asked::Asked;
use crate::cli::outputs::{Reports, at_end};
use crate::cli::work::{Work, nothing_yet};
use crate::decide::budget::{budget, causes_of, fewest_units, refuse_unfit, units_to_build};
use crate::decide::with_progress;
use crate::engine::End;
use crate::error::{Error, Result};
use crate::figure::Figure;
use crate::io::suggest;
use crate::model::vary::Wish;
use crate::report::page::budget_page;
use crate::report::{BudgetRun, budget_json, budget_text, write_budget_csv};
use clap::Args;
use std::path::PathBuf;

/// Find which tolerances cause failures, and the gain without each
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct BudgetCommand {
    #[command(flatten)]
    asked: Asked,
    /// Budget this figure alone, instead of all that have a limit
    #[arg(long, value_name = "FIGURE", value_parser = figure)]
    figure: Option<Figure>,
    /// Treat several causes as one; repeat for more groups
    #[arg(long, value_name = "NAME=ITEM,...", value_parser = group)]
    group: Vec<Wish>,
    /// Write every share to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write a page with charts to this .html file; - is standard output
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

const NOTES: &str = "\
An ITEM is a block, one of its values, or a part of the bench: jumper,
\"feed trace.length\", bench.receiver, bench.receiver.noise, array.dead_channel,
shifter.rounding. A budget needs at least 1024 units; a study that stops by its
yield builds as many as it allows. Each cause takes two further runs.";

impl Execute for BudgetCommand {
    const EXAMPLES: &'static [&'static str] =
        &["beamyield budget studies/quay-link-16.toml --calibration 'level and fit'"];

    fn run(&self) -> Result<()> {
        let mut opened = self.asked.open()?;
        self.figure.into_iter().for_each(|figure| opened.add_figure(figure));
        opened.build_all();
        let model = opened.model();
        refuse_unfit(&opened, &model, self.figure)?;
        let causes = causes_of(&opened, &model, &self.group)?;
        let control = self.asked.control()?;
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let mut work = Work::open(&self.asked, &wanted, Reports::Pages, [&opened])?;
        work.begin(opened.warnings(&model).len());
        let budget = with_progress(&mut work.progress, units_to_build(&model, &causes), |advance| {
            budget(&model, causes, self.figure, control, advance)
        })?;
        let Some(budget) = budget else {
            return Err(nothing_yet(&format!("the first {} units were done", fewest_units(&model))));
        };
        let (seconds, warnings) = (work.seconds(), work.warnings);
        let run = BudgetRun { model: &model, budget: &budget, figure: self.figure, seconds, warnings };
        let end = match budget.end {
            End::Interrupted => {
                Err(Error::Interrupted("stopped before the end; the budget is partial".into()))
            }
            _ => Ok(()),
        };
        work.finish(
            end,
            at_end(|csv| write_budget_csv(&run, csv)),
            || budget_json(&run),
            |report, origin| report.write_page(|| budget_page(&run, origin)),
            || budget_text(&run),
        )
    }
}

type Checked<T> = std::result::Result<T, String>;

fn figure(text: &str) -> Checked<Figure> {
    let names = || Figure::ALL.iter().map(|figure| figure.name());
    let unknown = || format!("there is no figure `{text}`; {}", suggest::instead_of(text, names()));
    Figure::from_name(text).ok_or_else(unknown)
}

fn group(text: &str) -> Checked<Wish> {
    let (name, items) = text.split_once('=').unwrap_or((text, ""));
    let name = name.trim();
    let items: Vec<String> = items.split(',').map(|item| item.trim().to_owned()).collect();
    if name.is_empty() {
        return Err(format!(
            "`{text}` gives the group no name: expected NAME=ITEM,..., such as cables=jumper,feed"
        ));
    }
    if items.iter().all(String::is_empty) {
        return Err(format!(
            "the group `{name}` is empty: expected NAME=ITEM,..., such as cables=jumper,feed"
        ));
    }
    if items.iter().any(String::is_empty) {
        return Err(format!(
            "`{text}` has an empty item: expected NAME=ITEM,..., such as cables=jumper,feed"
        ));
    }
    Ok(Wish { name: name.to_owned(), items })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_group_has_a_name_and_items() {
        let found = group(" cables = jumper , feed trace.length").unwrap();
        assert_eq!(
            (found.name.as_str(), found.items),
            ("cables", vec!["jumper".into(), "feed trace.length".into()])
        );
        for text in ["cables", "cables=", "=jumper", "cables=jumper,", "cables=,jumper", ""] {
            assert!(group(text).unwrap_err().contains("expected NAME=ITEM"), "{text}");
        }
    }

    #[test]
    fn an_unknown_figure_is_refused_with_the_one_that_was_meant() {
        assert_eq!(figure("pointing_error"), Ok(Figure::PointingError));
        assert!(figure("pointing_eror").unwrap_err().contains("did you mean `pointing_error`?"));
    }
}
