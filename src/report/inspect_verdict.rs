//! What an inspection comes to, in sentences.

use crate::decide::inspect::{Cheapest, Choice, GaugeAs, Made, Parts, Question, Search, Told, Units, looser};
use crate::decide::{Answer, Found};
use crate::report::change::{Change, between_points, in_points};
use crate::report::inspect_words::{offers, percent_of, setting, told_of};
use crate::report::money::{money, told as money_told};
use crate::report::number::{MOST_UNITS, about, confidence, counted, percent};
use crate::report::words::plain;
use crate::report::{InspectRun, cautions};
use crate::stats::Estimate;

/// Most suppliers that are told of by name.
const NAMED: usize = 3;

/// What a reviewer is told.
pub(super) fn verdict(run: &InspectRun) -> String {
    format!("Verdict: asked was {}. {}", question(run), answered(run))
}

/// The same without the question.
pub(super) fn answered(run: &InspectRun) -> String {
    let own = run.own();
    let mut said = vec![answer(run)];
    if let Some(parts) = &own.parts {
        said.push(shares(parts));
    }
    said.extend(own.units.as_ref().map(|units| units_told(run, units)));
    said.extend(gauges(run));
    said.extend(suppliers(run));
    said.push(cautions::sentence(run.of_offers).trim_start().to_owned());
    said.push(ground(run));
    said.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
}

/// What was asked, without a full stop.
pub(super) fn question(run: &InspectRun) -> String {
    let name = plain(run.source);
    match run.question {
        Question::Stated => match &run.own().parts {
            Some(parts) => {
                format!("what an inspection of {name} does that accepts what reads {}", accepted(run, parts))
            }
            None => format!("what an inspection of {name} does"),
        },
        Question::Widest(demand) => format!(
            "the widest acceptance of {name} at which at least {} of the units pass after \"{}\"",
            percent_of(demand.share),
            run.calibration()
        ),
        Question::Cheapest => {
            format!(
                "the acceptance of {name} at which a good unit costs least after \"{}\"",
                run.calibration()
            )
        }
    }
}

/// The answer itself.
pub(super) fn answer(run: &InspectRun) -> String {
    let own = run.own();
    match &own.search {
        Search::Stated => advice(run),
        Search::Widest(of) => widest(run, &of.found),
        Search::Cheapest(Some(cheapest)) => least(run, cheapest),
        Search::Cheapest(None) => "Nothing can be told yet.".to_owned(),
    }
}

/// Whether to inspect as it is stated.
fn advice(run: &InspectRun) -> String {
    let Some(units) = &run.own().units else { return String::new() };
    let says = |of: &Estimate, [up, down, unclear]: [&str; 3]| match Change::of(of) {
        Change::Up(_) => up.to_owned(),
        Change::Down(_) => down.to_owned(),
        Change::Unclear => unclear.to_owned(),
    };
    match (units.saving(), units.gain()) {
        (Some(saving), _) => says(
            &saving,
            [
                "It pays at these prices.",
                "It costs more than it saves at these prices.",
                "It cannot be told whether it pays at these prices.",
            ],
        ),
        (None, Some(gain)) => says(
            &gain,
            [
                "It raises the yield.",
                "It lowers the yield.",
                "It cannot be told whether it changes the yield.",
            ],
        ),
        (None, None) => String::new(),
    }
}

/// "within +/-0.36 mm"
fn accepted(run: &InspectRun, parts: &Parts) -> String {
    parts.inspected.inspection.accept.map_or(String::new(), |window| run.window(window))
}

fn widest(run: &InspectRun, found: &Found) -> String {
    let units = counted(found.demand.units, "unit");
    match found.answer {
        Answer::Limit(limit) => match (limit.meets, limit.misses) {
            (Some(meets), Some(misses)) => {
                format!(
                    "To accept what reads {} meets it and {} misses it; the limit lies between, and {units} cannot tell better.",
                    chosen(run, meets),
                    run.limit(looser(misses, limit.larger_is_looser))
                )
            }
            (Some(meets), None) => format!(
                "To accept what reads {} meets it, and nothing wider that was tried is shown to miss it.",
                chosen(run, meets)
            ),
            (None, Some(misses)) => format!(
                "No acceptance is shown to meet it with {units}, not even {}; {} misses it.",
                run.limit(limit.tightest),
                run.limit(misses)
            ),
            (None, None) => format!("Cannot tell with {units}."),
        },
        Answer::AllMeet => "No inspection is needed: the units meet it with the parts as they are delivered, but for 1 in \
                            100,000 at the widest acceptance tried."
            .to_owned(),
        Answer::NoneMeets => {
            "None suffices: not even the tightest acceptance tried, which takes about 2 % of what is delivered, meets it. Whatever \
             spoils the units, it is not these parts alone."
                .to_owned()
        }
        Answer::Turns => {
            "None can be named: the yield turns between the tightest and the widest acceptance.".to_owned()
        }
        Answer::Unclear => format!("Cannot tell with {units}: no acceptance tells the yield from the demand."),
    }
}

/// The acceptance that meets a yield, as it can stand on a drawing.
fn chosen(run: &InspectRun, meets: f64) -> String {
    let size = if let Choice::Size(size) = run.own().search.choice() { size } else { meets };
    run.window(run.form.window(size, run.one))
}

fn least(run: &InspectRun, cheapest: &Cheapest) -> String {
    let currency = currency(run);
    let least = cheapest.least();
    let cost = total(&least.made).map_or(String::new(), |total| money_told(total, &currency));
    let range = match cheapest.alike() {
        Some((from, to)) if from != to => {
            format!(" Limits from {} to {} cannot be told from it in cost.", run.limit(from), run.limit(to))
        }
        _ => String::new(),
    };
    let Some(size) = least.size else {
        let alike =
            cheapest.tried.iter().filter(|tried| tried.size.is_some() && cheapest.is_alike(tried)).count();
        return match alike {
            0 => format!(
                "No inspection is the cheapest: a good unit costs {cost}, and every limit tried is dearer."
            ),
            count => format!(
                "No inspection has the lowest cost found: a good unit costs {cost}, and {count} of the limits tried cannot be told from \
                 it, the others are dearer."
            ),
        };
    };
    let accepted = run.window(run.form.window(size, run.one));
    let tried = cheapest.tried.len() - 1;
    match cheapest.without().filter(|tried| cheapest.is_alike(tried)) {
        None => {
            let is_alone = cheapest.tried.iter().filter(|tried| cheapest.is_alike(tried)).count() == 1;
            let found = if is_alone { "is the cheapest" } else { "has the lowest cost found" };
            format!(
                "To accept what reads {accepted} {found} of {tried} tried: a good unit costs {cost}.{range}"
            )
        }
        Some(without) => {
            let pairs = least.made.beside(&without.made);
            format!(
                "No limit is shown to pay. The lowest cost found of {tried} tried is to accept what reads {accepted}: a good unit costs {cost}, \
                 which cannot be told from no inspection at all with {}.{range}",
                counted(pairs.count(), "unit")
            )
        }
    }
}

/// What is done to the parts.
pub(super) fn shares(parts: &Parts) -> String {
    let Some(of) = parts.conformity else { return String::new() };
    if let Some(operating) = &parts.operating {
        return format!(
            "{} of the delivered parts fail at the gauge, and {} of the lots are taken; of the parts in those {} do not conform.",
            percent_of(of.rejected),
            percent_of(operating.taken),
            percent_of(operating.escapes)
        );
    }
    format!(
        "It turns {} of the parts away. {} of the delivered are taken and do not conform (consumer's risk), {} conform and are \
         turned away (producer's risk).",
        percent_of(of.rejected),
        percent_of(of.consumer_risk),
        percent_of(of.producer_risk)
    )
}

/// What that makes of the units.
pub(super) fn units_told(run: &InspectRun, units: &Units) -> String {
    let (Some(with), Some(gain)) = (&units.with, units.gain()) else {
        let (share, interval) = percent(&units.without.yield_);
        return format!("Built from the parts as delivered, {share} of the units pass ({interval}).");
    };
    let (share, interval) = percent(&with.yield_);
    let (without, _) = percent(&units.without.yield_);
    let change = Change::say(
        &gain,
        |by| format!("{} more than without inspection ({without})", in_points(by)),
        |by| format!("{} fewer than without inspection ({without})", in_points(by)),
        || {
            format!(
                "which cannot be told from without inspection ({without}; {}); {}",
                between_points(&gain),
                would(&with.beside(&units.without).units_to_tell(gain.confidence))
            )
        },
    );
    let cost = match (units.saving(), run.cost) {
        (Some(saving), Some(_)) => format!(" {}", saved(&saving, &currency(run), "without inspection")),
        _ => String::new(),
    };
    format!("Of the units {share} pass ({interval}), {change}.{cost}")
}

/// "about 40000 units would"
fn would(units: &Option<u64>) -> String {
    match units {
        Some(units) if *units <= MOST_UNITS => format!("about {} units would", about(*units, 1)),
        _ => "no affordable number of units would".to_owned(),
    }
}

/// What a good unit costs less, or more.
fn saved(saving: &Estimate, currency: &str, than: &str) -> String {
    Change::say(
        saving,
        |by| format!("A good unit costs {} less than {than}.", money_told(by, currency)),
        |by| format!("A good unit costs {} more than {than}.", money_told(by, currency)),
        || {
            let (_, interval) = money(saving, currency);
            format!("Whether it costs less than {than} cannot be told: {interval} {currency} a good unit.")
        },
    )
}

/// What another gauge would make of it.
pub(super) fn gauges(run: &InspectRun) -> Option<String> {
    let twice = told_of(run, GaugeAs::TwiceAsBad)?;
    let told = match run.question {
        Question::Stated => {
            let rejected = |told: &Told| Some(percent_of(1.0 - told.parts.as_ref()?.taken()));
            let escapes = |told: &Told| Some(percent_of(told.parts.as_ref()?.escapes()?));
            format!(
                "A gauge twice as bad turns {} away, and {} of what it takes do not conform",
                rejected(twice)?,
                escapes(twice)?
            )
        }
        Question::Widest(_) | Question::Cheapest => {
            format!("With a gauge twice as bad {}", moves(run, twice))
        }
    };
    let exact = told_of(run, GaugeAs::Exact).map(|exact| match run.question {
        Question::Stated => {
            let rejected = exact.parts.as_ref().map_or(0.0, |parts| 1.0 - parts.taken());
            format!(", an exact one turns {} away", percent_of(rejected))
        }
        _ => format!(", with an exact one {}", moves(run, exact)),
    });
    Some(format!("{told}{}.", exact.unwrap_or_default()))
}

/// "the limit moves to +/-0.33 mm and 17 % are turned away"
fn moves(run: &InspectRun, told: &Told) -> String {
    let rejected = told
        .parts
        .as_ref()
        .map_or(String::new(), |parts| format!(" and {} are turned away", percent_of(1.0 - parts.taken())));
    match (told.search.choice(), run.own().search.choice()) {
        (Choice::Size(size), Choice::Size(own)) if size == own => {
            format!("the limit stays where it is{rejected}")
        }
        (Choice::Size(size), _) if run.own().search.is_alike(size) => {
            format!("the limit is {}, which is not told from it,{rejected}", run.limit(size))
        }
        (Choice::Size(size), _) => format!("the limit moves to {}{rejected}", run.limit(size)),
        (Choice::NoInspection, _) => "no inspection is the answer".to_owned(),
        (Choice::Stated | Choice::Nothing, _) => "there is no such limit".to_owned(),
    }
}

/// What other suppliers' parts come to.
pub(super) fn suppliers(run: &InspectRun) -> Option<String> {
    let own = run.own();
    let of = |told: &Told| {
        let name = setting(&told.setting);
        let limit = match told.search.choice() {
            Choice::Stated => String::new(),
            Choice::Size(size) => format!(" limit {},", run.limit(size)),
            Choice::NoInspection => " no inspection,".to_owned(),
            Choice::Nothing => " no limit suffices,".to_owned(),
        };
        let Some(made) = told.made() else { return format!("\"{name}\":{}", limit.trim_end_matches(',')) };
        let (share, _) = percent(&made.yield_);
        let cost = match own.made().and_then(|own| made.saves(own)) {
            Some(saving) => format!(", {}", cheaper(&saving, &currency(run))),
            None => String::new(),
        };
        format!("\"{name}\":{limit} yield {share}{cost}")
    };
    let told: Vec<String> = offers(run).take(NAMED).map(of).collect();
    let more = offers(run).count().saturating_sub(NAMED);
    let more = if more > 0 { format!("; {more} more are in the table") } else { String::new() };
    (!told.is_empty()).then(|| format!("Other parts: {}{more}.", told.join("; ")))
}

fn cheaper(saving: &Estimate, currency: &str) -> String {
    Change::say(
        saving,
        |by| format!("a good unit {} cheaper", money_told(by, currency)),
        |by| format!("a good unit {} dearer", money_told(by, currency)),
        || "a good unit's cost cannot be told from that of the study's parts".to_owned(),
    )
}

/// On what it rests.
fn ground(run: &InspectRun) -> String {
    let units = counted(run.model.trials.most(), "unit");
    if run.model.limits.is_empty() {
        return "Shares are integrals over the stated laws; no units were built.".to_owned();
    }
    let prices = if run.cost.is_some() { " and stated prices" } else { "" };
    // What costs nothing is turned away gladly.
    let is_free = run.cost.is_some_and(|cost| cost.rejected_part(run.source) == 0.0);
    let free = if is_free { "By the study's prices a part that is turned away costs nothing. " } else { "" };
    format!(
        "{free}Confidence {}, on up to {units}, the same ones throughout; predicted from tolerances{prices}, not measured.",
        confidence(run.model.confidence)
    )
}

pub(super) fn currency(run: &InspectRun) -> String {
    run.cost.map_or(String::new(), |cost| plain(&cost.currency))
}

/// Cost of a good unit.
pub(super) fn total(made: &Made) -> Option<&Estimate> {
    made.priced.as_ref()?.total.as_ref()
}
