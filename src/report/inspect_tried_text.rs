//! The limits tried by a search, as a table.

use crate::decide::inspect::{Cheapest, Search, SettingResult, Widest};
use crate::decide::{Probe, Verdict};
use crate::report::InspectRun;
use crate::report::grid::{Grid, numbers, paragraph, words};
use crate::report::inspect_words::percent_of;
use crate::report::money::money;
use crate::report::number::{ABSENT, percent};
use crate::report::refused::refused_text;
use crate::report::words::plain;

/// The limits tried for a setting.
pub(super) fn tried_text(run: &InspectRun, answer: &SettingResult) -> String {
    let tried = match &answer.search {
        Search::Widest(widest) => probed(run, widest),
        Search::Cheapest(Some(cheapest)) => priced(run, cheapest),
        Search::Stated | Search::Cheapest(None) => return String::new(),
    };
    let refused = answer.search.refused().iter();
    tried + &refused_text(refused.map(|of| (run.bare_limit(of.value), of.reason.as_str())))
}

fn probed(run: &InspectRun, Widest { found, shares }: &Widest) -> String {
    let mut grid = Grid::new(&[
        words(format!("Limit tried{}", run.unit_behind())),
        numbers("rejected"),
        numbers("units"),
        numbers("yield"),
        numbers("interval"),
        words("demand"),
    ]);
    for Probe { value, units, yield_, verdict, .. } in found.in_order() {
        let shares =
            found.probes.iter().position(|probe| probe.value == *value).and_then(|at| shares.get(at));
        let (share, interval) = percent(yield_);
        let demand = match verdict {
            Verdict::Meets => "met",
            Verdict::Unclear => "unclear",
            Verdict::Misses => "missed",
        };
        grid.row([
            run.bare_limit(*value),
            shares.map_or(ABSENT.to_owned(), |of| percent_of(of.turned_away)),
            units.to_string(),
            share,
            interval,
            demand.to_owned(),
        ]);
    }
    grid.text()
}

fn priced(run: &InspectRun, cheapest: &Cheapest) -> String {
    let currency = run.cost.map_or(String::new(), |cost| plain(&cost.currency));
    let mut grid = Grid::new(&[
        words(format!("Limit tried{}", run.unit_behind())),
        numbers("rejected"),
        numbers("yield"),
        numbers("cost"),
        numbers("interval"),
        words(""),
    ]);
    for tried in &cheapest.tried {
        let total = tried.made.priced.as_ref().and_then(|priced| priced.total.as_ref());
        let (cost, interval) =
            total.map_or((ABSENT.to_owned(), ABSENT.to_owned()), |total| money(total, &currency));
        let mark = match () {
            _ if tried.size == cheapest.least().size => "least",
            _ if cheapest.is_alike(tried) => "alike",
            _ => "",
        };
        grid.row([
            tried.size.map_or("none".to_owned(), |size| run.bare_limit(size)),
            percent_of(tried.shares.turned_away),
            percent(&tried.made.yield_).0,
            cost,
            interval,
            mark.to_owned(),
        ]);
    }
    let note = "Alike: the cost is not shown to differ from the least.";
    format!("{}\n{}", grid.text(), paragraph(note, 0, 0))
}
