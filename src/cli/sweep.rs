//! `beamyield sweep`: the yield of a study at several values of one or two parameters.

use crate::cli::asked::Asked;
use crate::cli::outputs::Reports;
use crate::cli::vary::{Vary, vary};
use crate::cli::work::{Work, nothing_yet, partial};
use crate::decide::{Axis, Sweep, run_all, stage};
use crate::design::{self, AllRefused, Design, Fault};
use crate::engine::End;
use crate::error::Result;
use crate::plan::Plan;
use crate::report::page::sweep_page;
use crate::report::{SweepRun, sweep_json, sweep_text, write_sweep_csv};
use crate::study::Change;
use clap::Args;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Tell the yield at several values of one or two parameters, on the same units
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct SweepOf {
    #[command(flatten)]
    asked: Asked,
    /// A parameter and its values, once or twice
    #[arg(long, value_name = "KEY=VALUES", value_parser = vary, required = true)]
    vary: Vec<Vary>,
    /// Write all yields and figures to this file as CSV; - is standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write a page with charts to this .html file; - is standard output
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
}

const NOTES: &str = "\
Values are a list or a range:
  --vary shifter.bits=3..8
  --vary 'jumper.length.sd=0.1 mm, 0.2 mm, 0.5 mm'
  --vary 'jumper.length.sd=0.1 mm..0.5 mm in 5'      (or: by 0.1 mm)
Any value of the study can be varied, addressed as by --set. All points are
built of the same units, so that what a step buys is known better than from
units of its own for each. A value that the study cannot have, such as 3 bits
with a plan of 16 codes, is left out and shown with the reason; one that is
written wrongly ends the sweep before it begins.";

/// The study at the points of a sweep.
struct Points {
    /// At each that it can have, in their order.
    plans: Vec<Plan>,
    /// Why it cannot have the others, by their numbers.
    refused: BTreeMap<usize, String>,
}

/// Most points of a sweep.
const MOST_POINTS: usize = 10_000;

impl SweepOf {
    pub fn run(&self) -> Result<()> {
        let control = self.asked.control()?;
        let opened = self.asked.open()?;
        let Points { plans, refused } = self.points(&opened)?;
        let wanted = self.asked.wanted(self.csv.as_deref(), self.report.as_deref());
        let mut work = Work::open(&self.asked, &wanted, Reports::Pages, [&opened])?;
        work.begin(opened.warnings(&opened.plan()).len());
        let most = plans[0].trials.most().saturating_mul(plans.len() as u64);
        let (ran, end) = stage(&mut work.progress, most, |tell| run_all(&plans, control, tell))?;
        if ran.iter().all(Option::is_none) {
            return Err(nothing_yet("the first unit was done"));
        }
        let axes =
            self.vary.iter().map(|of| Axis { name: of.parameter.to_string(), values: of.values.clone() });
        let mut ran = ran.into_iter();
        let all = 0..plans.len() + refused.len();
        let points = all.map(|point| if refused.contains_key(&point) { None } else { ran.next().flatten() });
        let sweep = Sweep {
            axes: axes.collect(),
            points: points.collect(),
            refused,
            end,
            confidence: plans[0].confidence,
        };
        let (seconds, warnings) = (work.seconds(), work.warnings);
        let run = SweepRun { plans: &plans, sweep: &sweep, seconds, warnings };
        let end = match end {
            End::Interrupted => {
                let whole = sweep.sound().filter(|point| sweep.is_whole(*point)).count();
                Err(partial(&format!("after {whole} of {} points", plans.len())))
            }
            _ => Ok(()),
        };
        work.finish(
            end,
            |csv| write_sweep_csv(&run, csv),
            || sweep_json(&run),
            |report, origin| report.write_page(|| sweep_page(&run, origin)),
            || sweep_text(&run),
        )
    }

    /// The study at every point. Each is read and checked before the first is run; those that it cannot have are left out.
    fn points(&self, opened: &Design) -> design::Result<Points> {
        let refuse = |message: &str, help: &str| Err(opened.refuse(message, help).into());
        if let [first, second] = self.vary.as_slice()
            && first.parameter == second.parameter
        {
            return refuse("both `--vary` name the same parameter", "one `--vary` with all of its values");
        }
        if self.vary.len() > 2 {
            return refuse(
                "a sweep has one or two parameters",
                "two `--vary` at most; `--set` changes further ones",
            );
        }
        let count: usize = self.vary.iter().map(|of| of.values.len()).product();
        if count > MOST_POINTS {
            return refuse(&format!("the sweep has {count} points"), &format!("at most {MOST_POINTS}"));
        }
        let inner = self.vary.get(1).map_or(1, |of| of.values.len());
        let (mut plans, mut refused, mut all_refused) = (Vec::new(), BTreeMap::new(), AllRefused::default());
        for point in 0..count {
            let value = |(number, of): (usize, &Vary)| {
                let place =
                    if number + 1 == self.vary.len() { point % of.values.len() } else { point / inner };
                Change { parameter: of.parameter.clone(), value: of.values[place].clone() }
            };
            let changes: Vec<Change> = self.vary.iter().enumerate().map(value).collect();
            let at = match opened.with_if_sound(&changes)? {
                Ok(at) => at,
                Err(why) => {
                    refused.insert(point, why.reason());
                    all_refused.push(why);
                    continue;
                }
            };
            if at.study.calibrations.len() != opened.study.calibrations.len() {
                let help = "compare such studies by `beamyield compare`";
                return Err(at
                    .refuse("the number of calibration plans changes along the sweep", help)
                    .into());
            }
            plans.push(at.plan());
        }
        if plans.is_empty() {
            return Err(Fault::AllRefused(all_refused));
        }
        Ok(Points { plans, refused })
    }
}
