//! The draws of one unit, a table a block.

use crate::engine::Unit;
use crate::model::Model;
use crate::random::{Scope, Source};
use crate::report::grid::{Grid, numbers, paragraph};
use crate::report::number::beside;
use crate::report::words::{key, scope, unit_for};

/// Most draws of one channel that are listed one by one; of more, the range is shown.
const MOST_LISTED: usize = 12;

/// A source and its deviations, `[slot][group]`, in a unit for people.
struct Drawn<'a> {
    source: &'a Source,
    deviations: &'a [Vec<f64>],
    unit: String,
    /// One of the unit in SI.
    one: f64,
    /// The largest deviation in the unit.
    largest: f64,
}

/// Every draw of a unit, as deviation from nominal.
pub(super) fn draws(model: &Model, unit: &Unit) -> String {
    let drawn: Vec<Drawn> = model.sources.list().iter().zip(&unit.deviations).map(drawn).collect();
    if drawn.is_empty() {
        return "\nNothing is drawn: no tolerance of the study varies.\n".to_owned();
    }
    let mut text = "\nDraws, as deviation from nominal\n".to_owned();
    for of_block in drawn.chunk_by(|a, b| block(a.source) == block(b.source)) {
        text.push_str(&table(model, of_block));
    }
    text
}

fn drawn<'a>((source, deviations): (&'a Source, &'a Vec<Vec<f64>>)) -> Drawn<'a> {
    let largest = deviations.iter().flatten().fold(0.0, |largest: f64, of| largest.max(of.abs()));
    let (unit, one) = unit_for(largest, source.dimension.difference());
    Drawn { source, deviations, unit, one, largest: largest / one }
}

/// Name of the block, or bench part, that a source belongs to.
fn block(source: &Source) -> &str {
    source.name.rsplit_once('.').map_or("", |(block, _)| block)
}

fn table(model: &Model, drawn: &[Drawn]) -> String {
    let name = drawn.first().map_or("", |of| block(of.source));
    let mut text = format!("\n  {name}\n");
    let (shared, own): (Vec<&Drawn>, Vec<&Drawn>) = drawn.iter().partition(|of| of.source.scope.is_common());
    for of in shared {
        let lot = match of.source.scope {
            Scope::Lot => format!("; {}", scope(Scope::Lot, model.sources.grouping())),
            _ => String::new(),
        };
        text.push_str(&paragraph(&format!("{}: {}{lot}", heading(of), values(of, 0)), 2, 4));
    }
    if own.is_empty() {
        return text;
    }
    let mut header = vec![numbers("channel")];
    header.extend(own.iter().map(|of| numbers(heading(of))));
    let mut grid = Grid::new(&header);
    for channel in 0..model.channels() {
        let cells = own.iter().map(|of| values(of, of.source.group_of(channel)));
        grid.row(std::iter::once(channel.to_string()).chain(cells));
    }
    text + &grid.text()
}

/// "bit phase error (deg)".
fn heading(of: &Drawn) -> String {
    let name = key(of.source.name.rsplit_once('.').map_or(of.source.name.as_str(), |(_, key)| key));
    let note = match block(of.source) {
        "bench.reconnection" => ", levelling and aligning",
        _ => "",
    };
    if of.unit.is_empty() { format!("{name}{note}") } else { format!("{name} ({}){note}", of.unit) }
}

fn values(of: &Drawn, group: usize) -> String {
    let values = || of.deviations.iter().map(|slot| slot[group] / of.one);
    let listed = |value: f64| beside(value, of.largest);
    if of.deviations.len() <= MOST_LISTED {
        return values().map(listed).collect::<Vec<_>>().join(" ");
    }
    let low = values().fold(f64::INFINITY, f64::min);
    let high = values().fold(f64::NEG_INFINITY, f64::max);
    format!("{} from {} to {}", of.deviations.len(), listed(low), listed(high))
}
