//! The room that a thread needs for plans that run together.

use crate::engine::batch::Batch;
use crate::engine::pair::Kept;
use crate::engine::sharing::Sharing;
use crate::plan::Plan;

/// Plans that run together, and the batches in which their units are made; made once, reused.
pub(super) struct Room<'p, const W: usize> {
    pub plans: &'p [Plan],
    pub sharing: &'p Sharing,
    /// One for all plans that have the same units.
    pub batches: Vec<Batch<W>>,
    /// Noise that bench after bench reads.
    pub noise: Kept<W>,
}

impl<'p, const W: usize> Room<'p, W> {
    /// Room for the units of all plans.
    pub fn new(plans: &'p [Plan], sharing: &'p Sharing) -> Room<'p, W> {
        let mut batches: Vec<Batch<W>> = Vec::new();
        for (plan, shared) in plans.iter().zip(&sharing.plans) {
            match batches.get_mut(shared.batch) {
                Some(batch) => batch.make_room(plan),
                None => batches.push(Batch::new(plan)),
            }
        }
        Room { plans, sharing, batches, noise: Kept::of_states(sharing.noise_of_states) }
    }
}
