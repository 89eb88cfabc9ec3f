//! Incoming inspection: how a study states it, the distribution of the parts that it takes, and what it does to the parts that are delivered.
//!
//! What is known of an inspection travels with its tolerance as [`Inspected`](crate::random::Inspected), which are facts alone; what follows
//! from them are functions here, so an import of this folder shows what uses it.

mod conformity;
mod delivery;
mod inspected;
mod moments;
mod stated;
mod tolerance;

pub(crate) use conformity::{
    Conformity, Lots, conformity, gauged, lots, specific_risk, taken_within, turned_away,
};
pub(crate) use delivery::deliver;
pub(crate) use inspected::check;
pub(crate) use moments::{accepted_moments, delivered_moments};
pub(crate) use stated::KEY;
pub(crate) use tolerance::read_tolerance;
