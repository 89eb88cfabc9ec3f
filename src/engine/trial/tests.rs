//! The page is the run: what it makes of the trials is what a run comes to, and no step can be left out of it.

use super::*;
use crate::engine::desk::SimulatedDesk;
use crate::engine::observer::Nobody;
use crate::engine::sharing::Sharing;
use crate::engine::{CHUNK, Control, rebuild, run};
use crate::io::SourceText;
use crate::{plan, study};
use std::cell::Cell;
use std::slice;
use std::sync::atomic::AtomicBool;

fn everything() -> Plan {
    let text = include_str!("../../../tests/data/everything.toml");
    let source = SourceText { name: "everything.toml".into(), text: text.into() };
    let plan = plan::compile(&study::parse(&source).expect("the study is right"), text);
    Plan { trials: study::Trials::Fixed(CHUNK as u64), ..plan }
}

/// The batch as it was before the last step.
struct Without<const W: usize> {
    /// The place of a step that is taken back each time.
    step: Option<usize>,
    before: Option<Batch<W>>,
}

impl<const W: usize> Observer<W> for Without<W> {
    type Desk<'a> = SimulatedDesk<'a, W>;

    fn desk<'a>(&mut self, simulated: SimulatedDesk<'a, W>) -> SimulatedDesk<'a, W> {
        simulated
    }

    fn after(&mut self, step: Step, _: &Plan, batch: &mut Batch<W>) -> ControlFlow<()> {
        match &self.before {
            Some(before) if self.step == Some(step.place()) => batch.clone_from(before),
            _ => self.before = Some(batch.clone()),
        }
        ControlFlow::Continue(())
    }
}

/// A chunk by the page, `step` taken back.
fn by_page(plan: &Plan, step: Option<usize>) -> Outcomes {
    let plans = slice::from_ref(plan);
    let sharing = Sharing::of(plans);
    let mut room = Room::<LANES>::new(plans, &sharing);
    let before = Some(room.batches[0].clone());
    let mut observer = Without { step, before };
    let mut outcomes = Outcomes::new(plan, 0);
    for first in (0..CHUNK).step_by(LANES) {
        let done = trial(&mut room, first as u64, LANES, slice::from_mut(&mut outcomes), &mut observer);
        assert!(done.is_continue());
    }
    outcomes
}

#[test]
fn a_run_goes_the_way_of_the_page_and_needs_every_step_of_it() {
    let plan = everything();
    let mut chunks = Vec::new();
    let control = Control { threads: 1, interrupt: &AtomicBool::new(false) };
    let watch = |of: &Outcomes| {
        chunks.push(of.clone());
        Ok(())
    };
    run(&plan, control, watch).expect("the run ends well");
    let bits = |of: &Outcomes| -> Vec<u64> {
        let values =
            of.plans.iter().flat_map(|of| (0..plan.columns.len()).flat_map(|number| of.values(number)));
        let seconds = of.plans.iter().flat_map(|of| of.seconds());
        values.chain(seconds).map(|value| value.to_bits()).collect()
    };
    assert_eq!(chunks.len(), 1);
    let whole = bits(&by_page(&plan, None));
    assert_eq!(whole, bits(&chunks[0]));
    // What is judged is kept in the outcomes, not in the batch: that step cannot be taken back.
    let last = Step::Judge(0).place();
    for step in 0..last {
        assert_ne!(bits(&by_page(&plan, Some(step))), whole, "step {step} does nothing");
    }
    let unit = rebuild(&plan, 5);
    for (of, kept) in unit.plans.iter().zip(&chunks[0].plans) {
        let values: Vec<u64> = kept.row(5).map(f64::to_bits).collect();
        assert_eq!(of.values.iter().map(|value| value.to_bits()).collect::<Vec<u64>>(), values);
    }
}

/// A stop need not wait for all pairs of a large array: it is asked for before anything is joined, and before each look.
#[test]
fn a_batch_is_given_up_anywhere_and_leaves_nothing() {
    let plan = everything();
    let plans = slice::from_ref(&plan);
    let sharing = Sharing::of(plans);
    let asked = Cell::new(0);
    let give_up_at = |number: u64| {
        let gives_up = || asked.replace(asked.get() + 1) == number;
        asked.set(0);
        let mut room = Room::<LANES>::until(plans, &sharing, &gives_up);
        let mut outcomes = Outcomes::new(&plan, 0);
        let done = trial(&mut room, 0, LANES, slice::from_mut(&mut outcomes), &mut Nobody);
        if done.is_break() {
            outcomes.take_back();
        }
        (done, outcomes)
    };
    let (done, whole) = give_up_at(u64::MAX);
    let times = asked.get();
    assert!(done.is_continue() && whole.trials == LANES as u64);
    let looks = (plan.calibrations.len() * plan.looks.len()) as u64;
    assert!(times > looks, "only looks are asked before: {times}");
    for number in [0, 1, times / 3, times / 2, times - 1] {
        let (done, left) = give_up_at(number);
        assert!(done.is_break() && asked.get() == number + 1, "{number} of {times}");
        assert_eq!(left, Outcomes::new(&plan, 0), "{number} of {times}");
    }
}
