//! The verdict on an inspection, in sentences.

use crate::decide::inspect::{
    BuiltUnits, Cheapest, Choice, GaugeAs, Parts, Question, Search, SettingResult, Units, looser,
};
use crate::decide::{Answer, LimitResult};
use crate::report::change::{Change, between_points, in_points};
use crate::report::inspect_words::{answer_of, offers, percent_of, setting};
use crate::report::money::{in_sentence, money};
use crate::report::number::{MOST_UNITS, about, confidence, counted, percent};
use crate::report::words::plain;
use crate::report::{InspectRun, cautions};
use crate::stats::Estimate;

/// Most suppliers named.
const NAMED: usize = 3;

/// A paragraph for a review.
pub(super) fn verdict(run: &InspectRun) -> String {
    format!("Verdict on {}. {}", question(run), answered(run))
}

/// The same without the question.
pub(super) fn answered(run: &InspectRun) -> String {
    let own = run.own();
    let mut said = vec![answer(run)];
    if let Some(parts) = &own.parts {
        said.push(shares(parts));
    }
    said.extend(own.units.as_ref().map(|units| units_sentence(run, units)));
    said.extend(gauges(run));
    said.extend(suppliers(run));
    said.push(cautions::sentence(run.of_offers).trim_start().to_owned());
    said.push(ground(run));
    said.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
}

/// The question, without a full stop.
pub(super) fn question(run: &InspectRun) -> String {
    let name = plain(run.source);
    match run.question {
        Question::Stated => match &run.own().parts {
            Some(parts) => {
                format!("an inspection of {name} that accepts readings {}", accepted(run, parts))
            }
            None => format!("an inspection of {name}"),
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
        Search::Cheapest(None) => "There is no answer yet.".to_owned(),
    }
}

/// Whether the stated inspection pays.
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
                "These units cannot tell whether it pays at these prices.",
            ],
        ),
        (None, Some(gain)) => says(
            &gain,
            [
                "It raises the yield.",
                "It lowers the yield.",
                "These units cannot tell whether it changes the yield.",
            ],
        ),
        (None, None) => String::new(),
    }
}

/// "within +/-0.36 mm"
fn accepted(run: &InspectRun, parts: &Parts) -> String {
    parts.inspected.inspection.accept.map_or(String::new(), |window| run.window(window))
}

fn widest(run: &InspectRun, found: &LimitResult) -> String {
    let units = counted(found.demand.units, "unit");
    match found.answer {
        Answer::Limit(limit) => match (limit.meets, limit.misses) {
            (Some(meets), Some(misses)) => {
                format!(
                    "Accepting readings {} meets it and {} misses it; the limit is between them, and {units} cannot narrow it.",
                    chosen(run, meets),
                    run.limit(looser(misses, limit.larger_is_looser))
                )
            }
            (Some(meets), None) => format!(
                "Accepting readings {} meets it, and no wider limit tried is shown to miss it.",
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
            "None suffices: not even the tightest acceptance tried, which takes about 2 % of the delivered parts, meets it. These \
             parts alone do not cause the failures."
                .to_owned()
        }
        Answer::Turns => {
            "None can be named: the yield turns between the tightest and the widest acceptance.".to_owned()
        }
        Answer::Unclear => format!("Cannot tell with {units}: at no acceptance is the yield shown to differ from the demand."),
    }
}

/// The acceptance that meets a yield, as written on a drawing.
fn chosen(run: &InspectRun, meets: f64) -> String {
    let size = if let Choice::Size(size) = run.own().search.choice() { size } else { meets };
    run.window(run.form.window(size, run.one))
}

fn least(run: &InspectRun, cheapest: &Cheapest) -> String {
    let currency = currency(run);
    let least = cheapest.least();
    let cost = total(&least.made).map_or(String::new(), |total| in_sentence(total, &currency));
    let range = match cheapest.alike() {
        Some((from, to)) if from != to => {
            format!(
                " Limits from {} to {} are not shown to differ from it in cost.",
                run.limit(from),
                run.limit(to)
            )
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
                "No inspection has the lowest cost found: a good unit costs {cost}, and {count} of the limits tried are not shown to \
                 differ from it, the others are dearer."
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
                "Accepting readings {accepted} {found} of {tried} tried: a good unit costs {cost}.{range}"
            )
        }
        Some(without) => {
            let pairs = least.made.beside(&without.made);
            format!(
                "No limit is shown to pay. The lowest cost found of {tried} tried is that of accepting readings {accepted}: a good unit \
                 costs {cost}, which {} do not show to differ from no inspection at all.{range}",
                counted(pairs.count(), "unit")
            )
        }
    }
}

/// The effect on the parts.
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

/// The effect on the units.
pub(super) fn units_sentence(run: &InspectRun, units: &Units) -> String {
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
                "not shown to differ from the yield without inspection ({without}; {}); {}",
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

/// The saving on a good unit.
fn saved(saving: &Estimate, currency: &str, than: &str) -> String {
    Change::say(
        saving,
        |by| format!("A good unit costs {} less than {than}.", in_sentence(by, currency)),
        |by| format!("A good unit costs {} more than {than}.", in_sentence(by, currency)),
        || {
            let (_, interval) = money(saving, currency);
            format!(
                "These units cannot tell whether a good unit costs less than {than}: {interval} {currency}."
            )
        },
    )
}

/// The answer with other gauges.
pub(super) fn gauges(run: &InspectRun) -> Option<String> {
    let twice = answer_of(run, GaugeAs::TwiceAsBad)?;
    let with_twice = match run.question {
        Question::Stated => {
            let rejected = |of: &SettingResult| Some(percent_of(1.0 - of.parts.as_ref()?.taken()));
            let escapes = |of: &SettingResult| Some(percent_of(of.parts.as_ref()?.escapes()?));
            format!(
                "A gauge twice as bad turns {} away, and {} of the parts it accepts do not conform",
                rejected(twice)?,
                escapes(twice)?
            )
        }
        Question::Widest(_) | Question::Cheapest => {
            format!("With a gauge twice as bad {}", moves(run, twice))
        }
    };
    let exact = answer_of(run, GaugeAs::Exact).map(|exact| match run.question {
        Question::Stated => {
            let rejected = exact.parts.as_ref().map_or(0.0, |parts| 1.0 - parts.taken());
            format!(", an exact one turns {} away", percent_of(rejected))
        }
        _ => format!(", with an exact one {}", moves(run, exact)),
    });
    Some(format!("{with_twice}{}.", exact.unwrap_or_default()))
}

/// "the limit moves to +/-0.33 mm and 17 % are turned away"
fn moves(run: &InspectRun, other: &SettingResult) -> String {
    let rejected = other
        .parts
        .as_ref()
        .map_or(String::new(), |parts| format!(" and {} are turned away", percent_of(1.0 - parts.taken())));
    match (other.search.choice(), run.own().search.choice()) {
        (Choice::Size(size), Choice::Size(own)) if size == own => {
            format!("the limit stays where it is{rejected}")
        }
        (Choice::Size(size), _) if run.own().search.is_alike(size) => {
            format!("the limit is {}, which is not shown to differ from it,{rejected}", run.limit(size))
        }
        (Choice::Size(size), _) => format!("the limit moves to {}{rejected}", run.limit(size)),
        (Choice::NoInspection, _) => "no inspection is the answer".to_owned(),
        (Choice::Stated | Choice::Nothing, _) => "there is no such limit".to_owned(),
    }
}

/// The answer with other suppliers' parts.
pub(super) fn suppliers(run: &InspectRun) -> Option<String> {
    let own = run.own();
    let of = |offer: &SettingResult| {
        let name = setting(&offer.setting);
        let limit = match offer.search.choice() {
            Choice::Stated => String::new(),
            Choice::Size(size) => format!(" limit {},", run.limit(size)),
            Choice::NoInspection => " no inspection,".to_owned(),
            Choice::Nothing => " no limit suffices,".to_owned(),
        };
        let Some(made) = offer.made() else { return format!("\"{name}\":{}", limit.trim_end_matches(',')) };
        let (share, _) = percent(&made.yield_);
        let cost = match own.made().and_then(|own| made.saves(own)) {
            Some(saving) => format!(", {}", cheaper(&saving, &currency(run))),
            None => String::new(),
        };
        format!("\"{name}\":{limit} yield {share}{cost}")
    };
    let others: Vec<String> = offers(run).take(NAMED).map(of).collect();
    let more = offers(run).count().saturating_sub(NAMED);
    let more = if more > 0 { format!("; {more} more are in the table") } else { String::new() };
    (!others.is_empty()).then(|| format!("Other parts: {}{more}.", others.join("; ")))
}

fn cheaper(saving: &Estimate, currency: &str) -> String {
    Change::say(
        saving,
        |by| format!("a good unit {} cheaper", in_sentence(by, currency)),
        |by| format!("a good unit {} dearer", in_sentence(by, currency)),
        || "a good unit's cost not shown to differ from that with the study's parts".to_owned(),
    )
}

/// The basis of the answer.
fn ground(run: &InspectRun) -> String {
    let units = counted(run.model.trials.most(), "unit");
    if run.model.limits.is_empty() {
        return "Shares are integrals over the stated distributions; no units were built.".to_owned();
    }
    let prices = if run.cost.is_some() { " and stated prices" } else { "" };
    // Where rejection is free, a tight limit looks better than it is.
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
pub(super) fn total(made: &BuiltUnits) -> Option<&Estimate> {
    made.priced.as_ref()?.total.as_ref()
}
