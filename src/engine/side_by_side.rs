//! Plans that run together, one batch of trials after the other: each does only what no plan before it has done.

use crate::engine::batch::Batch;
use crate::engine::build::build;
use crate::engine::outcomes::Outcomes;
use crate::engine::pair::Kept;
use crate::engine::sharing::{Origin, Sharing};
use crate::engine::trial::{judge, try_out};
use crate::plan::Plan;
use std::mem::swap;
use std::ops::ControlFlow;

/// The room that a thread needs for plans that run together.
pub(super) struct SideBySide<'p, const W: usize> {
    plans: &'p [Plan],
    sharing: &'p Sharing,
    /// One for all plans that have the same units.
    batches: Vec<Batch<W>>,
    /// Noise that bench after bench reads.
    noise: Kept<W>,
}

impl<'p, const W: usize> SideBySide<'p, W> {
    /// Room for the units of all plans.
    pub fn new(plans: &'p [Plan], sharing: &'p Sharing) -> SideBySide<'p, W> {
        let mut batches: Vec<Batch<W>> = Vec::new();
        for (plan, shared) in plans.iter().zip(&sharing.plans) {
            match batches.get_mut(shared.batch) {
                Some(batch) => batch.make_room(plan),
                None => batches.push(Batch::new(plan)),
            }
        }
        SideBySide { plans, sharing, batches, noise: Kept::of_states(sharing.noise_of_states) }
    }

    /// Appends the outcomes of the trials `first_trial ..`, the first `count` lanes, to those of every plan, `[plan]`. Breaks, and leaves
    /// the outcomes as they were, once it is given up.
    pub fn run(
        &mut self,
        first_trial: u64,
        count: usize,
        outcomes: &mut [Outcomes],
        gives_up: &dyn Fn() -> bool,
    ) -> ControlFlow<()> {
        let done = self.try_all(first_trial, count, outcomes, gives_up);
        match done {
            ControlFlow::Continue(()) => outcomes.iter_mut().for_each(|of| of.trials += count as u64),
            ControlFlow::Break(()) => outcomes.iter_mut().for_each(Outcomes::take_back),
        }
        done
    }

    fn try_all(
        &mut self,
        first_trial: u64,
        count: usize,
        outcomes: &mut [Outcomes],
        gives_up: &dyn Fn() -> bool,
    ) -> ControlFlow<()> {
        for (number, (plan, shared)) in self.plans.iter().zip(&self.sharing.plans).enumerate() {
            let (batches, own) = self.batches.split_at_mut(shared.batch);
            let batch = &mut own[0];
            if let Some(twins) = &shared.twins {
                let drawn = |other: usize| {
                    let batch = self.sharing.plans[other].batch;
                    (&self.plans[other].sources, &batches[batch].draws)
                };
                batch.first_trial = first_trial;
                plan.sources.draw_beside(first_trial, twins, drawn, &mut batch.draws);
                build(plan, batch);
            }
            swap(batch.bench.kept_noise(), &mut self.noise);
            let (before, own) = outcomes.split_at_mut(number);
            let mut done = ControlFlow::Continue(());
            for (calibration, kept) in own[0].plans.iter_mut().enumerate() {
                match shared.outcomes[calibration] {
                    None => done = try_out(plan, calibration, batch, gives_up),
                    Some(Origin { plan, calibration }) => {
                        let Batch { values, seconds, is_stranded, .. } = &mut *batch;
                        before[plan].plans[calibration].recall(count, values, seconds, is_stranded);
                    }
                }
                if done.is_break() {
                    break;
                }
                judge(plan, count, batch, kept);
            }
            swap(batch.bench.kept_noise(), &mut self.noise);
            done?;
        }
        ControlFlow::Continue(())
    }
}
