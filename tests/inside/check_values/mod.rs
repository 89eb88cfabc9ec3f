//! Values from outside the project: numbers of the literature, or derived and checked apart from this code,
//! held against runs of the main job. Each check names its row of the list of values, the source, and how the
//! row is known: *published* (seen in a source), *memory* (recalled, then recomputed) or *derived* (own
//! formula, checked by brute force).
//!
//! Every check has a negative control: the same row against a study that is wrong by a relevant amount, which must
//! miss.

pub(crate) mod case;
mod generators;
mod lines;
mod mismatch;
mod pairs;
mod patterns;
mod plans;
mod quantisation;
mod random_errors;
mod readings;
pub(crate) mod row;
mod trade;
mod yields;
