//! The buffers that a thread needs for models that run together.

use crate::engine::batch::Batch;
use crate::engine::pair::Kept;
use crate::engine::sharing::Sharing;
use crate::model::Model;

/// Models that run together, and the batches in which their units are made; made once, reused.
pub(super) struct Workspace<'p, const W: usize> {
    pub models: &'p [Model],
    pub sharing: &'p Sharing,
    /// Whether the batch in hand is not worth finishing.
    pub should_stop: &'p (dyn Fn() -> bool + 'p),
    /// One for all models that have the same units.
    pub batches: Vec<Batch<W>>,
    /// Noise that bench after bench reads.
    pub noise: Kept<W>,
}

impl<'p, const W: usize> Workspace<'p, W> {
    /// Buffers for the units of all models, which are never stopped.
    pub(super) fn new(models: &'p [Model], sharing: &'p Sharing) -> Workspace<'p, W> {
        Workspace::until(models, sharing, &|| false)
    }

    /// The same, which stop once `should_stop` says so.
    pub(super) fn until(
        models: &'p [Model],
        sharing: &'p Sharing,
        should_stop: &'p dyn Fn() -> bool,
    ) -> Workspace<'p, W> {
        let mut batches: Vec<Batch<W>> = Vec::new();
        for (model, shared) in models.iter().zip(&sharing.models) {
            match batches.get_mut(shared.batch) {
                Some(batch) => batch.make_room(model),
                None => batches.push(Batch::new(model)),
            }
        }
        Workspace { models, sharing, should_stop, batches, noise: Kept::of_states(sharing.noise_of_states) }
    }
}
