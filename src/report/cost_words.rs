//! A costing to report, and the sentences that its text, its verdict and its page share.

use crate::decide::cost::Input;
use crate::decide::{Bill, CostResult, CostStep, Ladder, Pareto, Pays, ReworkResult, Saving};
use crate::model::Model;
use crate::report::Ending;
use crate::report::cautions::cautions_of;
use crate::report::change::{Change, is_gain};
use crate::report::grid::{self, Side, numbers};
use crate::report::money::{amount, in_sentence, money};
use crate::report::number::{
    self, ABSENT, MOST_UNITS, about, counted, duration, percent, share, significant, with_interval,
};
use crate::report::words::{self, key, plain};
use crate::stats::Estimate;
use crate::study::{Offer, Replacing, Success};

/// A costing to report.
#[derive(Clone, Copy, Debug)]
pub(crate) struct CostRun<'a> {
    /// The study, then the study with each offer.
    pub models: &'a [Model],
    /// The offers, one fewer than there are models.
    pub offers: &'a [Offer],
    /// The result, of at least one candidate.
    pub costed: &'a CostResult,
    /// A candidate with other numbers of averages, where one takes readings.
    pub ladder: Option<(usize, &'a Ladder)>,
    /// Whether a stop from outside left the averages out.
    pub lacks_ladder: bool,
    /// Time it took, s.
    pub seconds: f64,
    /// How it ended.
    pub ending: Ending,
    /// Warnings about the study and its offers.
    pub warnings: usize,
    /// The command that repeats it.
    pub again: &'a str,
}

impl CostRun<'_> {
    /// Differences of the offers from the study, other than hardware.
    pub(super) fn cautions(&self) -> Vec<String> {
        let names = std::iter::once("the study").chain(self.offers.iter().map(|offer| offer.name.as_str()));
        cautions_of(names.zip(self.models))
    }

    /// The currency of the prices.
    pub(super) fn currency(&self) -> &str {
        &self.costed.costs[0].currency
    }

    /// Name of the plan of a candidate.
    pub(super) fn plan_of(&self, candidate: usize) -> String {
        plain(&self.costed.efforts[candidate].calibration)
    }

    /// The same with the offer in front, where it is of one.
    pub(super) fn name(&self, candidate: usize) -> String {
        match self.offer_of(self.costed.compared.candidates[candidate].design) {
            Some(offer) => format!("{offer}: {}", self.plan_of(candidate)),
            None => self.plan_of(candidate),
        }
    }

    /// Name of a design's offer; `None` for the study itself.
    pub(super) fn offer_of(&self, design: usize) -> Option<String> {
        Some(plain(&self.offers[design.checked_sub(1)?].name))
    }

    /// The same, quoted for a sentence.
    pub(super) fn quoted(&self, candidate: usize) -> String {
        words::quoted(&self.name(candidate))
    }

    /// Columns of a table of plans, and a row for each of some, named by `name`: bench time, yield, cost, and its Pareto fronts.
    pub(super) fn plan_table(
        &self,
        plans: impl Iterator<Item = usize>,
        name: impl Fn(usize) -> String,
    ) -> (Vec<(String, Side)>, Vec<[String; 6]>) {
        let header = vec![
            grid::words("plan"),
            numbers("bench time"),
            numbers("yield"),
            numbers("cost"),
            numbers(format!("{} interval", self.confidence())),
            grid::words("front"),
        ];
        let fronts = [("minutes", Pareto::Minutes), ("cost", Pareto::Cost)]
            .map(|(name, front)| (name, self.costed.dominated(front)));
        let row = |of: usize| {
            let on = fronts.iter().filter(|(_, by)| by[of].is_none()).map(|(name, _)| *name);
            let (cost, interval) = self.cost(of);
            let on = on.collect::<Vec<_>>().join(", ");
            [name(of), self.bench_time(of), self.yield_of(of).0, cost, interval, on]
        };
        (header, plans.map(row).collect())
    }

    /// "4000 units"
    pub(super) fn units(&self) -> String {
        counted(self.costed.compared.trials(), "unit")
    }

    /// "95 %"
    pub(super) fn confidence(&self) -> String {
        number::confidence(self.costed.compared.confidence)
    }

    /// "300 good units a year"
    pub(super) fn rate(&self) -> String {
        format!("{} good units a year", self.costed.costs[0].units_a_year)
    }

    /// "1153 EUR (1140 to 1167)"
    pub(super) fn with_interval(&self, of: &Estimate) -> String {
        in_sentence(of, self.currency())
    }

    /// The cost of a candidate and its interval; without them where no unit is good.
    pub(super) fn cost(&self, candidate: usize) -> (String, String) {
        let total = self.costed.priced[candidate].total.as_ref();
        total.map_or((ABSENT.to_owned(), ABSENT.to_owned()), |total| money(total, self.currency()))
    }

    /// The yield of a candidate and its interval.
    pub(super) fn yield_of(&self, candidate: usize) -> (String, String) {
        self.costed.compared.yield_of(candidate).map_or((ABSENT.to_owned(), ABSENT.to_owned()), percent)
    }

    /// The outcome for failing units of a candidate, where their parts are replaced and some do fail.
    pub(super) fn mended(&self, candidate: usize) -> Option<&ReworkResult> {
        self.costed.efforts[candidate].mended.as_ref().filter(|of| of.failing() > 0)
    }

    /// Columns of a table of plans whose failing units are mended, and a row for each of some: shares that pass at once, are mended at each
    /// attempt, and are good in the end.
    pub(super) fn mending_table(
        &self,
        plans: impl Iterator<Item = usize>,
    ) -> (Vec<(String, Side)>, Vec<[String; 6]>) {
        let header = vec![
            grid::words("plan"),
            numbers("pass at once"),
            numbers("mended"),
            numbers("good in the end"),
            numbers("interval"),
            numbers("attempts each"),
        ];
        let units = self.costed.compared.trials();
        let row = |(of, mended): (usize, &ReworkResult)| {
            let attempts: Vec<String> = mended.attempts.iter().map(|of| share(of.mended, units)).collect();
            let (good, interval) = percent(&mended.good);
            let each = mended.attempts_each().map_or(ABSENT.to_owned(), |each| significant(each, 3));
            [self.name(of), self.yield_of(of).0, attempts.join(", then "), good, interval, each]
        };
        (header, plans.filter_map(|of| Some((of, self.mended(of)?))).map(row).collect())
    }

    /// The heading of that table; `None` where no plan replaces parts.
    pub(super) fn mending(&self) -> Option<String> {
        let rework = self.costed.costs.iter().filter_map(|cost| cost.rework.as_ref());
        let replacing = rework.filter_map(|rework| rework.replacing()).next()?;
        Some(format!(
            "Units that fail get {}, {}, and are calibrated and judged again: shares of all units",
            replaced(replacing),
            most(replacing)
        ))
    }

    /// A caution where the stated success of rework means that a mended unit passes more often than a new one, for the first of some
    /// candidates where it does; `None` where there is none.
    pub(super) fn hopeful(&self, candidates: impl Iterator<Item = usize>) -> Option<String> {
        let of = candidates.into_iter().find(|of| self.is_hopeful(*of))?;
        let Some(Success::Stated(stated)) = self.costed.cost(of).rework.as_ref().map(|of| &of.success) else {
            return None;
        };
        let yield_ = with_interval(self.costed.compared.yield_of(of)?);
        Some(format!(
            "Caution: rework is stated to succeed in {} % of the attempts, but of new units {yield_} pass after {}, so a mended unit would \
             pass more often than a new one. `replaces` in place of `success` finds the share by building the units again.",
            significant(100.0 * stated.value, 3),
            self.quoted(of)
        ))
    }

    /// Whether rework is used and its stated success is above the yield's interval.
    pub(super) fn is_hopeful(&self, candidate: usize) -> bool {
        let reworks = self.costed.priced[candidate].bill.is_some_and(|bill| bill.reworks);
        let success = self.costed.cost(candidate).rework.as_ref().map(|of| &of.success);
        match (success, self.costed.compared.yield_of(candidate)) {
            (Some(Success::Stated(stated)), Some(share)) => reworks && stated.value > share.high,
            _ => false,
        }
    }

    /// Bench time of a unit.
    pub(super) fn bench_time(&self, candidate: usize) -> String {
        match self.costed.compared.seconds(candidate) {
            0.0 => ABSENT.to_owned(),
            seconds => duration(seconds),
        }
    }

    /// All plans of the study, and the cheapest of each offer.
    pub(super) fn shown(&self) -> Vec<usize> {
        let of_offers =
            (1..self.models.len()).filter_map(|of| self.costed.cheapest_of(self.costed.of_design(of)));
        self.costed.of_design(0).chain(of_offers).collect()
    }

    /// How many units would make a saving significant.
    pub(super) fn would(&self, saving: &Saving) -> String {
        let apart = saving.pairs.only_first + saving.pairs.only_second;
        match saving.units_to_tell() {
            Some(units) if units <= MOST_UNITS => format!("about {} would", about(units, 1)),
            _ if apart == 0 => "every unit has the same verdict after both".to_owned(),
            _ => "no affordable number would".to_owned(),
        }
    }

    /// "23.9 more bench minutes save 32 EUR (21 to 45) a good unit, for 1700.00 EUR once; they pay from 53 units on (39 to 82)"
    pub(super) fn step(&self, step: &CostStep) -> String {
        let minutes = more_minutes(step.seconds);
        let saving = &step.saving;
        let said = Change::say(
            &saving.amount,
            |by| {
                // Lower one-time costs may be the whole saving: then the saving on each unit is not significant.
                let running = saving.running();
                let running = if is_gain(&running) { &running } else { by };
                format!(
                    "save {} a good unit{}; they {}",
                    self.with_interval(running),
                    self.once(saving),
                    pays(saving)
                )
            },
            |by| {
                format!(
                    "cost {} a good unit more at {}; they {}",
                    self.with_interval(by),
                    self.rate(),
                    pays(saving)
                )
            },
            || format!("save nothing that {} show: {}", self.units(), self.unclear(saving)),
        );
        format!("{minutes} {said}")
    }

    /// ", for 1700.00 EUR once", where more is paid once.
    fn once(&self, saving: &Saving) -> String {
        if saving.extra > 0.0 {
            format!(", for {} once", amount(saving.extra, self.currency()))
        } else {
            String::new()
        }
    }

    /// "-3.1 to 5.6 EUR a good unit; about 30000 would", of a saving whose interval contains 0.
    fn unclear(&self, saving: &Saving) -> String {
        let (_, interval) = money(&saving.amount, self.currency());
        format!("{interval} {} a good unit; {}", self.currency(), self.would(saving))
    }

    /// "saves 31 EUR (28 to 35) a good unit over ...", "costs ... more than ...", "is not shown to differ in cost from ...".
    pub(super) fn against(&self, saving: &Saving, other: &str) -> String {
        Change::say(
            &saving.amount,
            |by| format!("saves {} a good unit over {other}", self.with_interval(by)),
            |by| format!("costs {} a good unit more than {other}", self.with_interval(by)),
            || {
                format!(
                    "is not shown to differ in cost from {other} with {}: {}",
                    self.units(),
                    self.unclear(saving)
                )
            },
        )
    }

    /// The name of an input.
    pub(super) fn input(&self, input: &Input) -> String {
        match input {
            Input::Yield => format!("yield, {} interval", self.confidence()),
            Input::Price(of, design) => match design.and_then(|of| self.offer_of(of)) {
                Some(offer) => format!("{} of {offer}", price(of)),
                None => price(of),
            },
        }
    }
}

/// The name of a price, by its key.
fn price(of: &str) -> String {
    // Names of sources and plans stay as the study has them.
    match (of, of.split_once('.')) {
        ("channel", _) => "parts of a channel".to_owned(),
        ("unit", _) => "parts of a unit".to_owned(),
        ("gauge_minute", _) => "gauge minute".to_owned(),
        ("bench_minute", _) => "bench minute".to_owned(),
        ("scrap.recovered", _) => "value of scrap".to_owned(),
        ("rework.success", _) => "success of rework".to_owned(),
        ("rework.parts", _) => "parts of rework".to_owned(),
        (_, Some((of, name))) => format!("{}, {}", key(of), plain(name)),
        _ => key(of),
    }
}

/// "new parts of driver and jumper"
pub(super) fn replaced(of: &Replacing) -> String {
    let named = |name: &String| match name.as_str() {
        Replacing::DEAD_CHANNEL => "dead channels".to_owned(),
        name => plain(name),
    };
    let names: Vec<String> = of.names.iter().map(named).collect();
    match names.split_last() {
        Some((last, before)) if !before.is_empty() => {
            format!("new parts of {} and {last}", before.join(", "))
        }
        _ => format!("new parts of {}", names.concat()),
    }
}

/// "once", "up to 3 times"
pub(super) fn most(of: &Replacing) -> String {
    if of.attempts == 1 { "once".to_owned() } else { format!("up to {} times", of.attempts) }
}

/// "23.9 more bench minutes"
pub(super) fn more_minutes(seconds: f64) -> String {
    match significant(seconds / 60.0, 3) {
        text if text == "0" => "as many bench minutes".to_owned(),
        text if text == "1" => "1 more bench minute".to_owned(),
        text => format!("{text} more bench minutes"),
    }
}

/// "pay from 29 units on (26 to 33)"
pub(super) fn pays(saving: &Saving) -> String {
    let (value, ends) = saving.pays();
    let interval = match ends {
        [best, worst] if best == value && worst == value => String::new(),
        [Pays::From(best), Pays::From(worst)] => format!(" ({best} to {worst})"),
        [Pays::UpTo(best), Pays::UpTo(worst)] => format!(" ({worst} to {best})"),
        [Pays::AtOnce, Pays::UpTo(worst)] => format!(" ({worst} or more)"),
        [Pays::UpTo(best), Pays::Never] => format!(" ({best} or less)"),
        [Pays::From(best), Pays::Never] => format!(" ({best} or more, or never)"),
        [_, worst] => format!(" (or {})", at(worst)),
    };
    at(value) + &interval
}

fn at(of: Pays) -> String {
    match of {
        Pays::AtOnce => "pay at once".to_owned(),
        Pays::From(0 | 1) => "pay from the first unit on".to_owned(),
        Pays::From(units) if units > MOST_UNITS => "pay from more units on than anybody builds".to_owned(),
        Pays::From(units) => format!("pay from {units} units on"),
        Pays::UpTo(units) => format!("pay up to {}", counted(units, "unit")),
        Pays::Never => "never pay".to_owned(),
    }
}

/// "1 reading", "4 readings"
pub(super) fn readings(count: u32) -> String {
    counted(count.into(), "reading")
}

/// The lines that a cost is split into, with their names.
pub(super) fn lines(bill: &Bill) -> [(&'static str, f64); 7] {
    [
        ("parts", bill.parts),
        ("turned away", bill.turned_away),
        ("gauge", bill.gauge),
        ("bench", bill.bench),
        ("rework", bill.rework),
        ("scrap", bill.scrap),
        ("set-up", bill.set_up),
    ]
}
