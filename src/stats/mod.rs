//! Statistics of results: estimates that never travel without their interval, yield intervals,
//! moments, quantiles and when to stop. Pure functions; no draws, no hardware.

pub mod binomial;
mod bins;
pub mod column;
pub mod estimate;
pub mod histogram;
pub mod lots;
pub mod moments;
pub mod paired;
pub mod quantile;
pub mod sensitivity;
pub mod stopping;
pub mod student;

pub use binomial::clopper_pearson;
pub use column::Column;
pub use estimate::Estimate;
pub use histogram::Histogram;
pub use lots::{ByLots, Lots};
pub use moments::{MeanByLots, Moments};
pub use paired::{Pairs, PairsByLots};
pub use sensitivity::{Lead, Mixed, PickFreeze, Resamples, Share};
pub use stopping::yield_is_tight;
