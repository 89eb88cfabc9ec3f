//! Readings that a receiver hides from a method.

use crate::bench::Receiver;
use crate::math::scalar;

/// Why a method and a receiver do not suit each other, for a warning.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Caution {
    /// The problem.
    pub message: String,
    /// By how much.
    pub label: String,
    /// The remedy.
    pub help: &'static str,
}

impl Caution {
    /// Of a method that chooses between codes at the top of a sweep: noise or display exceed the change by a step there.
    ///
    /// Formula: equal arms combine to cos^2 of half the phase between them. Units: `step` in rad, levels in dB. Source: own derivation.
    pub(super) fn of_flat_top(step: f64, receiver: &Receiver) -> Option<Caution> {
        let noise = receiver.noise_db / f64::from(receiver.averages).sqrt();
        let drop = -20.0 * scalar::log10(scalar::cos((step / 2.0).min(1.5)));
        let unseen = noise.max(receiver.resolution_db);
        let hidden = 2.0 * scalar::acos(scalar::pow(10.0, -unseen / 20.0)) / step;
        (unseen > drop).then(|| Caution {
            message: format!(
                "noise of {noise:.3} dB and a display of {:.2} dB hide a step of the shifter at the peak",
                receiver.resolution_db
            ),
            label: format!(
                "one step changes the reading by {drop:.4} dB; about {hidden:.1} steps each side read alike"
            ),
            help: "more averages, or the method \"null\" or \"fit\", which do not live on a flat top",
        })
    }
}
