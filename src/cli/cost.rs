//! `beamyield cost`: the cost of a good unit after each calibration plan, and with each offer of other parts.

use crate::cli::Execute;
use crate::cli::asked::Asked;
use crate::cli::outputs::{Reports, at_end};
use crate::cli::work::{Work, end_of, nothing_yet, partial};
use crate::decide::CostResult;
use crate::decide::cost::{compared, designs, ladder, mended, without_limits};
use crate::design::Design;
use crate::error::Result;
use crate::model::Model;
use crate::report::page::cost_page;
use crate::report::{CostRun, Ending, cost_brief, cost_json, cost_text, write_cost_csv};
use crate::study::Cost;
use clap::Args;
use std::path::PathBuf;

/// Find the cost of a good unit for each plan and offer of parts
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct CostCommand {
    #[command(flatten)]
    asked: Asked,
    /// Write the costs to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write one page to this .html, .txt or .json; - is standard output
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

const NOTES: &str = "\
The study states the prices:
  [cost]
  currency = \"EUR\"
  units_a_year = 300
  channel = 42               # parts of a channel, as they are built in
  unit = 310                 # parts of a unit beside its channels
  bench_minute = { value = 2.4, from = 1.8, to = 3.2 }
  set_up = { quick = 900 }   # paid once, by plan
  scrap = { recovered = 60 }
  rework = { replaces = [\"jumper\"], time = \"25 min\", parts = 40 }
A unit that fails gets new parts of these blocks and is calibrated and judged
again (attempts = 2: twice at most); or state success = 0.6, a share. For a
price with a range, the result shows how far it changes the cost. Each
  [[offer]]
  name = \"tighter jumpers\"
  change = { \"jumper.length.sd\" = \"0.1 mm\", \"cost.channel\" = 47 }
is compared with the study, on the same units.";

impl Execute for CostCommand {
    const EXAMPLES: &'static [&'static str] =
        &["beamyield cost studies/bench-minutes.toml --report cost.txt"];

    fn run(&self) -> Result<()> {
        let control = self.asked.control()?;
        let designs = designs(self.asked.open()?, self.asked.calibration.is_none())?;
        let offers = designs[0].study.offers.clone();
        let costs: Vec<Cost> = designs.iter().filter_map(|of| of.study.cost.clone()).collect();
        let models: Vec<Model> = designs.iter().map(Design::model).collect();
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let mut work = Work::open(&self.asked, &wanted, Reports::SummariesToo, [&designs[0]])?;
        work.begin(designs.iter().zip(&models).map(|(of, model)| of.warnings(model).len()).sum());
        let compared = compared(&models, control, &mut work.progress)?;
        let Some(compared) = compared else { return Err(nothing_yet("the first unit was done")) };
        let ending = Ending::of(compared.end, models[0].trials);
        let efforts = mended(&models, &compared, &costs, control, &mut work.progress)?;
        let Some(efforts) = efforts else { return Err(nothing_yet("the units that fail were reworked")) };
        let Some(costed) = CostResult::new(compared, costs, efforts) else {
            return Err(without_limits(&designs[0]).into());
        };
        let averaged = costed.cheapest_of(costed.all().filter(|of| costed.efforts[*of].calibrates));
        let ladder = match averaged {
            Some(of) => {
                let ladder = ladder(&designs, &models, &costed, of, control, &mut work.progress)?;
                ladder.map(|ladder| (of, ladder))
            }
            None => None,
        };
        let run = CostRun {
            models: &models,
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
            at_end(|csv| write_cost_csv(&run, csv)),
            || cost_json(&run),
            |report, origin| report.write(&models[0], || cost_brief(&run), || cost_page(&run, origin)),
            || cost_text(&run),
        )
    }
}
