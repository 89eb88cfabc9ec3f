//! The study file as written: read with every error at its place, cross-checked, nothing computed.

mod beam;
mod cost;
mod dead;
mod keys;
mod limit;
mod offer;
mod parameter;
mod price;
mod read;
#[cfg(feature = "program")]
mod schema;
mod size;
mod temperature;
mod trials;

pub(crate) use beam::Beam;
pub(crate) use cost::{Cost, Replacing, Rework, Success};
pub(crate) use dead::DeadChannels;
pub use limit::Bound;
pub(crate) use limit::{Limit, LimitUnit};
pub(crate) use offer::Offer;
pub use parameter::Change;
pub use parameter::Parameter;
pub(crate) use parameter::{change, places};
pub(crate) use price::Price;
pub(crate) use read::parse;
#[cfg(feature = "program")]
pub(crate) use schema::schema;
pub(crate) use trials::{MOST_TRIALS, Trials};

use crate::array::{Element, Layout, Taper, TaperBy};
use crate::bench::{Calibration, Clock, Fixture, Receiver, Stability};
use crate::chain::Chain;
use crate::figure::Figure;
use crate::io::{SourceText, Span};
use crate::random::{Grouping, Tolerance};
use std::sync::Arc;

/// A study: an array, a chain of tolerances, a bench, a spec. SI and radians, levels in dB.
#[derive(Clone, Debug)]
pub(crate) struct Study {
    /// What the study is called.
    pub title: String,
    /// Seed of all draws.
    pub seed: u64,
    /// How many units are built.
    pub trials: Trials,
    /// Confidence of every interval.
    pub confidence: f64,
    /// Frequencies in use, Hz.
    pub frequencies: Vec<f64>,
    /// Frequency that beams are commanded for and units are calibrated at, Hz.
    pub command_frequency: f64,
    /// Temperatures in use, K.
    pub temperatures: Vec<f64>,
    /// Temperature that the nominal values are stated at, K.
    pub reference_temperature: f64,
    /// Temperature at calibration, K.
    pub bench_temperature: f64,
    /// Figures to report.
    pub figures: Vec<Figure>,
    /// Where the elements stand.
    pub layout: Layout,
    /// How they are fed.
    pub taper: Taper,
    /// What sets their feeding; of no effect on a uniform taper.
    pub taper_by: TaperBy,
    /// Pattern of one element.
    pub element: Element,
    /// How channels and units are grouped.
    pub grouping: Grouping,
    /// Beams.
    pub beams: Vec<Beam>,
    /// The hardware of a channel.
    pub chain: Chain<Tolerance>,
    /// Channels that do not work at all.
    pub dead: DeadChannels<Tolerance>,
    /// The bench's receiver.
    pub receiver: Receiver,
    /// How the receiver drifts and stretches.
    pub stability: Stability<Tolerance>,
    /// The bench's coupler and cables.
    pub fixture: Fixture<Tolerance>,
    /// What bench work costs.
    pub clock: Clock,
    /// Calibration plans.
    pub calibrations: Vec<Calibration>,
    /// The spec.
    pub limits: Vec<Limit>,
    /// What parts and minutes cost, where it is stated.
    pub cost: Option<Cost>,
    /// Other parts that could be bought.
    pub offers: Vec<Offer>,
    /// What it states in so many words.
    pub written: Written,
    /// Files that were read beside it.
    pub companions: Vec<Arc<SourceText>>,
    /// The files that were read beside it for its offers, which are no part of it.
    pub of_offers: Vec<Arc<SourceText>>,
}

impl Study {
    /// Where a calibration plan stands, by its name.
    pub(crate) fn place_of_calibration(&self, name: &str) -> Option<Span> {
        let mut calibrations = self.written.calibrations.iter();
        calibrations.find(|(of, _)| of == name).map(|(_, span)| span.clone())
    }

    /// Where the inspection of a tolerance stands, by its block and its key: "feed.length".
    pub(crate) fn place_of_inspection(&self, name: &str) -> Option<Span> {
        let (block, key) = name.split_once('.')?;
        let named = self.chain.blocks().iter().find(|named| named.name == block)?;
        let listed = named.block.tolerances();
        listed.iter().find(|of| of.key == key)?.tolerance.inspected_at.clone()
    }
}

/// What a study states in so many words, where a reader could not see it in what was read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Written {
    /// Places of the blocks, in the order of the chain.
    pub blocks: Vec<Span>,
    /// Places of the calibration plans, each by its name.
    pub calibrations: Vec<(String, Span)>,
    /// Whether the bench has a reference plane stated.
    pub reference_plane: bool,
    /// Place of the temperatures in use.
    pub temperatures: Option<Span>,
    /// Place of the temperature of the bench.
    pub bench_temperature: Option<Span>,
}
