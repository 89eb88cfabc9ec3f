//! The room that a thread needs for plans that run together.

use crate::engine::batch::Batch;
use crate::engine::pair::Kept;
use crate::engine::sharing::Sharing;
use crate::model::Model;

/// Plans that run together, and the batches in which their units are made; made once, reused.
pub(super) struct Room<'p, const W: usize> {
    pub models: &'p [Model],
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
    pub fn new(models: &'p [Model], sharing: &'p Sharing) -> Room<'p, W> {
        Room::until(models, sharing, &|| false)
    }

    /// The same, until it is given up.
    pub fn until(models: &'p [Model], sharing: &'p Sharing, gives_up: &'p dyn Fn() -> bool) -> Room<'p, W> {
        let mut batches: Vec<Batch<W>> = Vec::new();
        for (model, shared) in models.iter().zip(&sharing.models) {
            match batches.get_mut(shared.batch) {
                Some(batch) => batch.make_room(model),
                None => batches.push(Batch::new(model)),
            }
        }
        Room { models, sharing, gives_up, batches, noise: Kept::of_states(sharing.noise_of_states) }
    }
}
