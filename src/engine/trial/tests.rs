//! The page is the run: its results are those of a run, and no step can be left out of it.

use super::*;
use crate::engine::observer::Nobody;
use crate::engine::sharing::Sharing;
use crate::engine::simulated_bench::SimulatedBench;
use crate::engine::{CHUNK, Control, rebuild, run};
use crate::io::SourceText;
use crate::{model, study};
use std::cell::Cell;
use std::slice;
use std::sync::atomic::AtomicBool;

fn everything() -> Model {
    let text = include_str!("../../../tests/data/everything.toml");
    let source = SourceText { name: "everything.toml".into(), text: text.into() };
    let model = model::compile(&study::parse(&source).expect("the study is right"), text);
    Model { trials: study::Trials::Fixed(CHUNK as u64), ..model }
}

/// The batch as it was before the last step.
struct Without<const W: usize> {
    /// The place of a step that is taken back each time.
    step: Option<usize>,
    before: Option<Batch<W>>,
}

impl<const W: usize> Observer<W> for Without<W> {
    type Bench<'a> = SimulatedBench<'a, W>;

    fn bench<'a>(&mut self, simulated: SimulatedBench<'a, W>) -> SimulatedBench<'a, W> {
        simulated
    }

    fn after(&mut self, step: Step, _: &Model, batch: &mut Batch<W>) -> ControlFlow<()> {
        match &self.before {
            Some(before) if self.step == Some(step.place()) => batch.clone_from(before),
            _ => self.before = Some(batch.clone()),
        }
        ControlFlow::Continue(())
    }
}

/// A chunk by the page, `step` taken back.
fn by_page(model: &Model, step: Option<usize>) -> Outcomes {
    let models = slice::from_ref(model);
    let sharing = Sharing::of(models);
    let mut workspace = Workspace::<LANES>::new(models, &sharing);
    let before = Some(workspace.batches[0].clone());
    let mut observer = Without { step, before };
    let mut outcomes = Outcomes::new(model, 0);
    for first in (0..CHUNK).step_by(LANES) {
        let done = trial(&mut workspace, first as u64, LANES, slice::from_mut(&mut outcomes), &mut observer);
        assert!(done.is_continue());
    }
    outcomes
}

#[test]
fn a_run_goes_the_way_of_the_page_and_needs_every_step_of_it() {
    let model = everything();
    let mut chunks = Vec::new();
    let control = Control { threads: 1, interrupt: &AtomicBool::new(false) };
    let watch = |of: &Outcomes| {
        chunks.push(of.clone());
        Ok(())
    };
    run(&model, control, watch).expect("the run ends well");
    let bits = |of: &Outcomes| -> Vec<u64> {
        let values = of
            .calibrations
            .iter()
            .flat_map(|of| (0..model.columns.len()).flat_map(|number| of.values(number)));
        let seconds = of.calibrations.iter().flat_map(|of| of.seconds());
        values.chain(seconds).map(|value| value.to_bits()).collect()
    };
    assert_eq!(chunks.len(), 1);
    let whole = bits(&by_page(&model, None));
    assert_eq!(whole, bits(&chunks[0]));
    // What is judged is kept in the outcomes, not in the batch: that step cannot be taken back.
    let last = Step::Judge(0).place();
    for step in 0..last {
        assert_ne!(bits(&by_page(&model, Some(step))), whole, "step {step} does nothing");
    }
    let unit = rebuild(&model, 5);
    for (of, kept) in unit.calibrations.iter().zip(&chunks[0].calibrations) {
        let values: Vec<u64> = kept.row(5).map(f64::to_bits).collect();
        assert_eq!(of.values.iter().map(|value| value.to_bits()).collect::<Vec<u64>>(), values);
    }
}

/// A stop need not wait for all pairs of a large array: it is asked for before anything is joined, and before each beam point.
#[test]
fn a_batch_is_given_up_anywhere_and_leaves_nothing() {
    let model = everything();
    let models = slice::from_ref(&model);
    let sharing = Sharing::of(models);
    let asked = Cell::new(0);
    let give_up_at = |number: u64| {
        let should_stop = || asked.replace(asked.get() + 1) == number;
        asked.set(0);
        let mut workspace = Workspace::<LANES>::until(models, &sharing, &should_stop);
        let mut outcomes = Outcomes::new(&model, 0);
        let done = trial(&mut workspace, 0, LANES, slice::from_mut(&mut outcomes), &mut Nobody);
        if done.is_break() {
            outcomes.take_back();
        }
        (done, outcomes)
    };
    let (done, whole) = give_up_at(u64::MAX);
    let times = asked.get();
    assert!(done.is_continue() && whole.trials == LANES as u64);
    let points = (model.calibrations.len() * model.points.len()) as u64;
    assert!(times > points, "only points are asked before: {times}");
    for number in [0, 1, times / 3, times / 2, times - 1] {
        let (done, left) = give_up_at(number);
        assert!(done.is_break() && asked.get() == number + 1, "{number} of {times}");
        assert_eq!(left, Outcomes::new(&model, 0), "{number} of {times}");
    }
}
