//! `beamyield cost`: what good units cost by each calibration plan, and by each offer of other parts.

use crate::cli::asked::Asked;
use crate::cli::outputs::Reports;
use crate::cli::work::{Work, end_of, nothing_yet, partial};
use crate::decide::cost::{efforts, mend_all};
use crate::decide::{Compared, Costed, Effort, Ladder, Stages, compare_yields, stage};
use crate::design::{Checked, Design, Refused};
use crate::engine::{Control, End};
use crate::error::Result;
use crate::plan::Plan;
use crate::report::page::cost_page;
use crate::report::{CostRun, Ending, cost_brief, cost_json, cost_text, write_cost_csv};
use crate::study::{Change, Cost, Parameter, Trials};
use clap::Args;
use std::path::PathBuf;

/// Tell what a good unit costs by each calibration plan and each offer of parts
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct CostOf {
    #[command(flatten)]
    asked: Asked,
    /// Write the costs to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write one page to this .html, .txt or .json file; - is standard output
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

const NOTES: &str = "\
Prices stand in the study:
  [cost]
  currency = \"EUR\"
  units_a_year = 300
  channel = 42               # parts of a channel, as they are built in
  unit = 310                 # parts of a unit beside its channels
  bench_minute = { value = 2.4, from = 1.8, to = 3.2 }
  set_up = { quick = 900 }   # paid once, by plan
  scrap = { recovered = 60 }
  rework = { replaces = [\"jumper\"], time = \"25 min\", parts = 40 }
A unit that fails gets the parts of these blocks anew and is calibrated and
judged again (attempts = 2: twice at most); or state success = 0.6, a share.
A price may have a range, by which it is told what the cost hangs on. Each
  [[offer]]
  name = \"tighter jumpers\"
  change = { \"jumper.length.sd\" = \"0.1 mm\", \"cost.channel\" = 47 }
is set beside the study, on the same units.";

/// What a study without prices could have.
const EXAMPLE: &str = "add, for example, a table `[cost]` with `currency = \"EUR\"`, `units_a_year = 300`, `channel = 42`, `bench_minute = 2.4`";

impl CostOf {
    pub fn run(&self) -> Result<()> {
        let control = self.asked.control()?;
        let designs = self.designs(self.asked.open()?)?;
        let offers = designs[0].study.offers.clone();
        let costs: Vec<Cost> = designs.iter().filter_map(|of| of.study.cost.clone()).collect();
        let plans: Vec<Plan> = designs.iter().map(Design::plan).collect();
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let mut work = Work::open(&self.asked, &wanted, Reports::SummariesToo, [&designs[0]])?;
        work.begin(designs.iter().zip(&plans).map(|(of, plan)| of.warnings(plan).len()).sum());
        let compared = compare_in_stage(&plans, control, &mut work.progress)?;
        let Some(compared) = compared else { return Err(nothing_yet("the first unit was done")) };
        let ending = Ending::of(compared.end, plans[0].trials);
        let efforts = mended(&plans, &compared, &costs, control, &mut work.progress)?;
        let Some(efforts) = efforts else { return Err(nothing_yet("the units that fail were mended")) };
        let Some(costed) = Costed::new(compared, costs, efforts) else {
            return Err(without_limits(&designs[0]).into());
        };
        let averaged = costed.cheapest_of(costed.all().filter(|of| costed.efforts[*of].calibrates));
        let ladder = match averaged {
            Some(of) => {
                let ladder = ladder(&designs, &plans, &costed, of, control, &mut work.progress)?;
                ladder.map(|ladder| (of, ladder))
            }
            None => None,
        };
        let run = CostRun {
            plans: &plans,
            offers: &offers,
            costed: &costed,
            lacks_ladder: averaged.is_some() && ladder.is_none(),
            ladder: ladder.as_ref().map(|(of, ladder)| (*of, ladder)),
            seconds: work.seconds(),
            ending,
            warnings: work.warnings,
            again: &format!("beamyield cost {}", self.asked.again_with("")),
        };
        let end = end_of(ending, costed.compared.trials()).and_then(|()| match run.lacks_ladder {
            true => Err(partial("before other numbers of averages were tried")),
            false => Ok(()),
        });
        work.finish(
            end,
            |csv| write_cost_csv(&run, csv),
            || cost_json(&run),
            |report, origin| report.write(&plans[0], || cost_brief(&run), || cost_page(&run, origin)),
            || cost_text(&run),
        )
    }

    /// The study, and what each offer makes of it, built from the same seed in as many units.
    fn designs(&self, first: Design) -> Checked<Vec<Design>> {
        let Some(cost) = first.study.cost.clone() else {
            return Err(first.refuse("the study states no prices".to_owned(), EXAMPLE.to_owned()));
        };
        if first.study.limits.is_empty() {
            return Err(without_limits(&first));
        }
        let mut designs = vec![first.clone()];
        for offer in &first.study.offers {
            let mut opened = first.offered(offer)?;
            opened.keep_confidence(first.study.confidence);
            let other = opened.study.cost.as_ref();
            let is_alike =
                |other: &Cost| (&other.currency, other.units_a_year) == (&cost.currency, cost.units_a_year);
            if !other.is_some_and(is_alike) || opened.study.limits.is_empty() {
                return Err(first.refuse(
                    format!("offer `{}` changes what costs are weighed by", offer.name),
                    "an offer leaves `currency`, `units_a_year` and the limits as they are".to_owned(),
                ));
            }
            designs.push(opened);
        }
        if self.asked.calibration.is_none() {
            designs.iter_mut().for_each(Design::add_as_built);
        }
        Ok(designs)
    }
}

/// Compares the yields of some designs in a stage of its own.
fn compare_in_stage(plans: &[Plan], control: Control, stages: &mut dyn Stages) -> Result<Option<Compared>> {
    stage(stages, plans[0].trials.most(), |tell| {
        compare_yields(plans, control, |outcomes| {
            tell(outcomes[0].first_trial + outcomes[0].trials);
            Ok(())
        })
    })
}

/// What each unit takes, and what becomes of those that fail; `None` when a stop came before that was known.
fn mended(
    plans: &[Plan],
    compared: &Compared,
    costs: &[Cost],
    control: Control,
    stages: &mut dyn Stages,
) -> Result<Option<Vec<Effort>>> {
    let mut efforts = efforts(plans, compared);
    let all = stage(stages, compared.trials(), |tell| {
        mend_all(plans, compared, costs, &mut efforts, control, tell)
    })?;
    Ok(all.then_some(efforts))
}

/// The plan of a candidate at other numbers of averages, on the same units; `None` when a stop came first.
fn ladder(
    designs: &[Design],
    plans: &[Plan],
    costed: &Costed,
    of: usize,
    control: Control,
    stages: &mut dyn Stages,
) -> Result<Option<Ladder>> {
    if costed.compared.end == End::Interrupted {
        return Ok(None);
    }
    let candidate = costed.compared.candidates[of];
    let (design, plan) = (&designs[candidate.design], &plans[candidate.design]);
    let calibration = &plan.calibrations[candidate.calibration];
    let own = plan.receiver_for(calibration).averages;
    let averages = Ladder::averages(own);
    let parameter = Parameter::of(&["calibration", &calibration.name, "averages"]);
    let mut tried = Vec::new();
    for count in &averages {
        let change = Change { parameter: parameter.clone(), value: count.to_string() };
        let mut opened = design.with(&[change])?;
        opened.keep_calibration(Some(&calibration.name))?;
        opened.keep_trials(Trials::Fixed(costed.compared.trials()));
        tried.push(opened.plan());
    }
    let Some(compared) = compare_in_stage(&tried, control, stages)?.filter(|of| of.end != End::Interrupted)
    else {
        return Ok(None);
    };
    let costs = vec![costed.costs[candidate.design].clone(); tried.len()];
    let Some(efforts) = mended(&tried, &compared, &costs, control, stages)? else { return Ok(None) };
    let own = averages.iter().position(|count| *count == own).unwrap_or(0);
    Ok(Costed::new(compared, costs, efforts).map(|costed| Ladder { averages, own, costed }))
}

fn without_limits(opened: &Design) -> Refused {
    opened.refuse(
        "without limits no unit passes or fails, so no good unit has a cost".to_owned(),
        "add a `[[limit]]`".to_owned(),
    )
}
