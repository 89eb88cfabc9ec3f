//! Statistics of results: estimates that never travel without their interval, yield intervals,
//! moments, quantiles and when to stop. Pure functions; no draws, no hardware.

pub(crate) mod binomial;
mod bins;
pub(crate) mod column;
pub(crate) mod estimate;
pub(crate) mod histogram;
pub(crate) mod lots;
pub(crate) mod moments;
pub(crate) mod paired;
pub(crate) mod quantile;
pub(crate) mod sensitivity;
pub(crate) mod stopping;
pub(crate) mod student;

pub(crate) use binomial::clopper_pearson;
pub(crate) use column::Column;
pub use estimate::Estimate;
pub(crate) use histogram::Histogram;
pub(crate) use lots::{ByLots, Lots};
pub(crate) use moments::{MeanByLots, Moments};
pub(crate) use paired::{Pairs, PairsByLots};
pub(crate) use sensitivity::{Lead, Mixed, PickFreeze, Resamples, Share};
pub(crate) use stopping::yield_is_tight;
