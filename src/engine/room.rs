//! The room that a thread needs for plans that run together.

use crate::engine::batch::Batch;
use crate::engine::pair::Kept;
use crate::engine::sharing::Sharing;
use crate::plan::Plan;

/// Plans that run together, and the batches in which their units are made; made once, reused.
pub(super) struct Room<'p, const W: usize> {
    pub plans: &'p [Plan],
    pub sharing: &'p Sharing,
    /// Whether what is at hand is not worth finishing any more.
    pub gives_up: &'p (dyn Fn() -> bool + 'p),
    /// One for all plans that have the same units.
    pub batches: Vec<Batch<W>>,
    /// Noise that bench after bench reads.
    pub noise: Kept<W>,
}

impl<'p, const W: usize> Room<'p, W> {
    /// Room for the units of all plans, whose way is always gone to its end.
    pub fn new(plans: &'p [Plan], sharing: &'p Sharing) -> Room<'p, W> {
        Room::until(plans, sharing, &|| false)
    }

    /// The same, until it is given up.
    pub fn until(plans: &'p [Plan], sharing: &'p Sharing, gives_up: &'p dyn Fn() -> bool) -> Room<'p, W> {
        let mut batches: Vec<Batch<W>> = Vec::new();
        for (plan, shared) in plans.iter().zip(&sharing.plans) {
            match batches.get_mut(shared.batch) {
                Some(batch) => batch.make_room(plan),
                None => batches.push(Batch::new(plan)),
            }
        }
        Room { plans, sharing, gives_up, batches, noise: Kept::of_states(sharing.noise_of_states) }
    }
}
