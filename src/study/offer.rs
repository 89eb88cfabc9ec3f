//! Other parts that could be bought: the study with some of its values changed.

use crate::io::Span;
use crate::study::Change;

/// A supplier's offer.
#[derive(Clone, Debug)]
pub struct Offer {
    /// What it is called.
    pub name: String,
    /// What it makes of the study, in the order of the file.
    pub changes: Vec<Change>,
    /// Where it stands.
    pub span: Span,
}
