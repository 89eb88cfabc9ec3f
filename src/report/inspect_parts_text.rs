//! The effect of an inspection on the parts, as tables.

use crate::decide::inspect::{Deviations, Operating, PERCENTILES, Parts};
use crate::random::Inspection;
use crate::report::InspectRun;
use crate::report::grid::{Grid, Side, numbers, paragraph, words};
use crate::report::inspect_words::percent_of;
use crate::report::number::{confidence, counted, duration, percent, significant};
use crate::report::words::{distribution, scope};
use crate::stats::Estimate;

/// All sections about the parts.
pub(super) fn parts_text(run: &InspectRun, parts: &Parts) -> String {
    let sections = [
        stated(run, parts),
        shares(run, parts),
        doubt(run, parts),
        spread(run, parts),
        gauge(run, parts),
        sampled(parts),
    ];
    sections.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("\n")
}

/// The inspection as it is stated.
fn stated(run: &InspectRun, parts: &Parts) -> String {
    let Inspection { accept, tolerance, gauge, seconds, .. } = &parts.inspected.inspection;
    let mut grid = Grid::in_line(&[(Side::Left, 11), (Side::Left, 60)]);
    let mut row = |name: &str, text: String| grid.row([name.to_owned(), text]);
    if let Some(accept) = accept {
        row("accepted", format!("reads {}", run.window(*accept)));
        let conforming = tolerance.unwrap_or(*accept);
        let guards = [accept.low - conforming.low, conforming.high - accept.high];
        let guard = guards.into_iter().filter(|guard| guard.is_finite()).fold(f64::INFINITY, f64::min);
        let guard = match run.in_unit(guard) {
            guard if guard.abs() < 1e-9 => "no guard band".to_owned(),
            guard => format!("guard band {}", run.size(guard)),
        };
        row("conforms", format!("is {} ({guard})", run.window(conforming)));
    }
    let sd = if gauge.sd == 0.0 { "exact".to_owned() } else { format!("sd {}", run.stated(gauge.sd)) };
    let bias = if gauge.bias == 0.0 { String::new() } else { format!(", bias {}", run.stated(gauge.bias)) };
    let time = if *seconds > 0.0 { format!(", {} a part", duration(*seconds)) } else { String::new() };
    row("gauge", format!("{sd}{bias}{time}"));
    let drawn = run
        .source_of()
        .map_or(String::new(), |of| format!(", {}", scope(of.scope, run.model.sources.grouping())));
    row("delivered", format!("{}{drawn}", distribution(&parts.inspected.delivered, run.dimension)));
    if let Some(lots) = &parts.inspected.lot {
        row("lots", format!("shifted by a {}", distribution(lots, run.dimension)));
    }
    let values = match parts.values {
        1 => String::new(),
        values => format!(" of {values} values each, all of which count"),
    };
    row("parts", format!("{} a unit{values}", counted(parts.a_unit as u64, "part")));
    format!("Inspection of {}\n\n{}", run.source, grid.text())
}

/// Shares by integration and by counting.
fn shares(run: &InspectRun, parts: &Parts) -> String {
    let (Some(of), Some(drawn)) = (parts.conformity, &parts.drawn) else { return String::new() };
    let mut grid = Grid::new(&[
        words("Share of the delivered parts that"),
        numbers("integral"),
        numbers("counted"),
        numbers(format!("at {}", confidence(run.model.confidence))),
    ]);
    let mut row = |label: &str, share: f64, counted: &Estimate| {
        let (counted, interval) = percent(counted);
        grid.row([label.to_owned(), percent_of(share), counted, interval]);
    };
    let is_sampled = parts.operating.is_some();
    row("do not conform", of.nonconforming, &drawn.nonconforming);
    let rejected = if is_sampled { "fail at the gauge" } else { "are turned away" };
    row(rejected, of.rejected, &drawn.rejected);
    row("pass, do not conform (consumer's risk)", of.consumer_risk, &drawn.consumer_risk);
    row("fail and conform (producer's risk)", of.producer_risk, &drawn.producer_risk);
    row("do not conform, of those that pass", of.escapes, &drawn.escapes);
    if is_sampled {
        row("are built in: their lot is taken", parts.taken(), &drawn.built_in);
    }
    if let Some(of) = &parts.operating {
        row("do not conform, of those built in", of.escapes, &drawn.built_in_escapes);
    }
    let note = format!(
        "Counted on {}, those that are built in with a mean of {} and an sd of {}. For each of these, {} {} turned away and {} {} gauged.",
        if is_sampled { counted(drawn.parts, "lot") } else { counted(drawn.parts, "part") },
        run.bare(drawn.mean),
        format!("{} {}", run.bare(drawn.sd), run.unit).trim_end(),
        significant(parts.turned_away, 3),
        if parts.turned_away == 1.0 { "is" } else { "are" },
        significant(parts.gauged, 3),
        if parts.gauged == 1.0 { "is" } else { "are" },
    );
    format!("{}\n{}", grid.text(), paragraph(&note, 0, 0))
}

/// The risk of a reading on the limit.
fn doubt(run: &InspectRun, parts: &Parts) -> String {
    let Some(at) = parts.at_limit else { return String::new() };
    let said = format!(
        "A part that reads {}, on the limit, does not conform with probability {}; with nothing known of the parts but the \
         reading, {}.",
        run.stated(at.reading),
        percent_of(at.known),
        percent_of(at.unknown)
    );
    paragraph(&said, 0, 0)
}

/// How the deviations are spread before and after.
fn spread(run: &InspectRun, parts: &Parts) -> String {
    let mut header = vec![words(format!("Deviation{}", run.unit_behind())), numbers("mean"), numbers("sd")];
    header.extend(PERCENTILES.map(|percent| numbers(format!("{percent} %"))));
    let mut grid = Grid::new(&header);
    let mut row = |label: &str, of: &Deviations| {
        let numbers = [of.mean, of.sd].into_iter().chain(of.percentiles).map(|value| run.bare(value));
        grid.row(std::iter::once(label.to_owned()).chain(numbers));
    };
    row("as delivered", &parts.delivered);
    row("as built in", &parts.accepted);
    grid.text()
}

/// The gauge as a measurement system.
fn gauge(run: &InspectRun, parts: &Parts) -> String {
    let Some(of) = parts.gauge else {
        let gauge = parts.inspected.inspection.gauge;
        let said = if gauge.bias == 0.0 {
            "The gauge is exact, so no other gauge is compared with it."
        } else {
            "The gauge reads without spread."
        };
        return paragraph(said, 0, 0);
    };
    let said = format!(
        "Readings of the delivered parts have an sd of {} {}. The gauge's is {} of that, and it distinguishes {} classes of parts.",
        run.bare(of.observed_sd),
        run.unit,
        percent_of(of.share),
        significant(of.classes.floor(), 3)
    );
    paragraph(&said, 0, 0)
}

/// The operating characteristic of sampling inspection.
fn sampled(parts: &Parts) -> String {
    let Some(Operating { sampling, marks, delivered, taken, .. }) = &parts.operating else {
        return String::new();
    };
    let mut grid =
        Grid::new(&[words("A lot is accepted with probability"), numbers("where this share of it fails")]);
    for (probability, quality) in marks {
        grid.row([percent_of(*probability), percent_of(*quality)]);
    }
    let of_lot = format!(" of a lot of {}", sampling.lot);
    let said = format!(
        "Of the delivered parts {} fail at the gauge, and {} of the lots are taken.",
        percent_of(*delivered),
        percent_of(*taken)
    );
    format!(
        "{}\n{}\n{}",
        paragraph(
            &format!(
                "{} gauged{of_lot}, which is taken when no more than {} of them fail. Shares above are those of parts as they would read.",
                counted(sampling.parts, "part"),
                sampling.allowed
            ),
            0,
            0
        ),
        grid.text(),
        paragraph(&said, 0, 0)
    )
}
