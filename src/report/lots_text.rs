//! How the yield differs from lot to lot, in a table.

use crate::decide::{BELOW, LotYields, OF};
use crate::model::Model;
use crate::report::Run;
use crate::report::grid::{Grid, Paper, numbers, paragraph, words};
use crate::report::number::{ABSENT, confidence, counted, fixed, percent};
use crate::stats::lots::FEW;

/// How many lots the units are built in, where they share lots: every interval is by lots. Empty where they do not.
pub(super) fn note(model: &Model, units: u64) -> String {
    let Some(size) = model.lot().filter(|_| units > 0) else { return String::new() };
    let lots = units.div_ceil(size);
    let few = if lots <= FEW {
        let noun = if lots == 1 { "lot is" } else { "lots are" };
        format!(" {lots} {noun} few: build more units, or fewer a lot where lots are smaller.")
    } else {
        String::new()
    };
    let built = format!(
        "{} in {}, {size} to a lot: units of a lot share a draw, so every interval is by lots.{few}",
        counted(units, "unit"),
        counted(lots, "lot")
    );
    paragraph(&built, 0, 0)
}

/// Yields of whole lots, as a buyer sees them; empty where units share no lots or there is no yield.
pub(super) fn lots(run: &Run, paper: Paper) -> String {
    let Some(units) = run.model.lot().filter(|_| !run.model.limits.is_empty()) else { return String::new() };
    let all = run.summary.calibrations.iter().zip(run.passes);
    let all: Vec<(&str, LotYields)> = all
        .filter_map(|(of, passes)| Some((of.name.as_str(), LotYields::of(passes, run.model.confidence)?)))
        .collect();
    if all.is_empty() {
        return String::new();
    }
    let interval = confidence(run.model.confidence);
    let mut grid = Grid::new(&[
        words("plan"),
        numbers(format!("lots below {} % good", 100.0 * BELOW)),
        numbers(format!("{interval} interval")),
        numbers(format!("worst of {OF}, good")),
        numbers(format!("{interval} interval")),
        numbers("lots differ by, sd"),
    ])
    .on(paper);
    for (name, of) in &all {
        let (below, below_interval) = percent(&of.below);
        let share = |share: f64| fixed(100.0 * share, 1);
        let is_known = of.worst.confidence >= run.model.confidence;
        let worst_interval = format!("{} to {} %", share(of.worst.low), share(of.worst.high));
        grid.row([
            (*name).to_owned(),
            below,
            below_interval,
            format!("{} %", share(of.worst.value)),
            if is_known { worst_interval } else { ABSENT.to_owned() },
            format!("{} points", share(of.sd)),
        ]);
    }
    let said: Vec<String> = all
        .iter()
        .map(|(name, of)| {
            format!(
                "{name}: random variation within {units} units alone would make {} of these points, the lots' own yields {}.",
                fixed(100.0 * of.sd_by_chance, 1),
                fixed(100.0 * of.sd_of_yields, 1)
            )
        })
        .collect();
    let said: String = said.iter().map(|of| paragraph(of, 2, 4)).collect();
    format!("Good units of each whole lot, as a buyer receives it\n\n{}\n{said}", grid.text())
}
