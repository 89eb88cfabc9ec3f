//! The effect of an inspection on the parts.

use crate::decide::inspect::{Deviations, Operating, Shares};
use crate::inspection::{self, Conformity};
use crate::math::normal;
use crate::model::Model;
use crate::random::{Inspected, Inspection, Source, Window};
use crate::stats::{Estimate, clopper_pearson};

/// Parts that are drawn one by one and counted.
const DRAWN: u64 = 100_000;

/// The same where every counted part takes the draw of a whole sample.
const DRAWN_IN_SAMPLES: u64 = 2_000_000;

/// An inspected source, and the effect on its parts. SI.
#[derive(Clone, Debug)]
pub(crate) struct Parts {
    /// The inspection, and the distribution of the delivered parts.
    pub inspected: Inspected,
    /// Parts of a unit.
    pub a_unit: usize,
    /// Values of a part that are gauged.
    pub values: usize,
    /// Shares by integration; `None` without a limit.
    pub conformity: Option<Conformity>,
    /// The same, counted on drawn parts.
    pub drawn: Option<DrawnParts>,
    /// Risk of a reading on the limit; `None` without a limit, and for an exact gauge.
    pub at_limit: Option<AtLimit>,
    /// Deviations as delivered.
    pub delivered: Deviations,
    /// Deviations of the parts that are built in.
    pub accepted: Deviations,
    /// Gauge part of a reading; `None` for an exact gauge.
    pub gauge: Option<GaugeShare>,
    /// Where only a sample is gauged.
    pub operating: Option<Operating>,
    /// Parts turned away for each that is built in.
    pub turned_away: f64,
    /// Parts gauged for each that is built in.
    pub gauged: f64,
}

/// Shares of parts that are drawn, delivered and gauged one by one.
#[derive(Clone, Debug)]
pub(crate) struct DrawnParts {
    /// Parts in all.
    pub parts: u64,
    /// Parts that do not conform.
    pub nonconforming: Estimate,
    /// Parts that are turned away.
    pub rejected: Estimate,
    /// Parts that are accepted and do not conform.
    pub consumer_risk: Estimate,
    /// Parts that conform and are turned away.
    pub producer_risk: Estimate,
    /// Of the accepted parts, those that do not conform.
    pub escapes: Estimate,
    /// Parts that are built in: accepted ones, or, in a sampled inspection, those of accepted lots.
    pub built_in: Estimate,
    /// Of the parts that are built in, those that do not conform.
    pub built_in_escapes: Estimate,
    /// Mean of the deviations of those, SI; NaN without one.
    pub mean: f64,
    /// Their standard deviation.
    pub sd: f64,
}

/// The probability that a part with a reading exactly on the limit does not conform: the specific consumer's risk there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct AtLimit {
    /// The limit, SI; where there are two, the one of the larger risk.
    pub reading: f64,
    /// With the distribution of the delivered parts.
    pub known: f64,
    /// From the reading alone (JCGM 106:2012, 8.3).
    pub unknown: f64,
}

/// The gauge's part of the spread of readings (AIAG, Measurement Systems Analysis; from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct GaugeShare {
    /// Standard deviation of the readings, SI.
    pub observed_sd: f64,
    /// The gauge's standard deviation over that.
    pub share: f64,
    /// Number of distinct categories, not rounded: sqrt(2) times the parts' standard deviation over the gauge's.
    pub classes: f64,
}

impl Shares {
    /// Of an inspected source of a model.
    pub(crate) fn of(model: &Model, name: &str) -> Shares {
        let source = model.sources.list().iter().find(|source| source.name == name);
        let Some((inspected, values)) = source.and_then(|of| Some((of.inspected.as_ref()?, of.slots))) else {
            return Shares::default();
        };
        let turned_away = inspection::turned_away(inspected, values);
        Shares {
            conformity: inspection::conformity(inspected, values),
            turned_away: turned_away / (1.0 + turned_away),
        }
    }
}

impl Parts {
    /// Of a source of a model by its name; `None` where there is none, or it states no inspection.
    pub(crate) fn of(model: &Model, name: &str) -> Option<Parts> {
        let list = model.sources.list();
        let source = list.iter().find(|source| source.name == name)?;
        let inspected = source.inspected.as_deref()?.clone();
        let second = format!("{name}, ");
        let shifts =
            list.iter().find(|other| other.name.starts_with(&second)).map(|other| &other.distribution);
        let conformity = inspection::conformity(&inspected, source.slots);
        let turned_away = inspection::turned_away(&inspected, source.slots);
        let delivered = Deviations::of(&inspected.delivered, inspected.lot.as_ref());
        let lots = inspected.inspection.sampling.zip(inspection::lots(&inspected, source.slots));
        let operating =
            conformity.zip(lots).map(|(of, (sampling, lots))| Operating::of(sampling, of.rejected, lots));
        Some(Parts {
            a_unit: source.groups,
            values: source.slots,
            conformity,
            drawn: conformity.map(|_| DrawnParts::of(model, source, &inspected)),
            at_limit: AtLimit::of(&inspected),
            accepted: Deviations::of(&source.distribution, shifts),
            gauge: GaugeShare::of(&inspected.inspection, delivered.sd),
            delivered,
            operating,
            turned_away,
            gauged: inspection::gauged(&inspected, source.slots),
            inspected,
        })
    }

    /// The shares alone.
    pub(crate) fn shares(&self) -> Shares {
        Shares { conformity: self.conformity, turned_away: 1.0 - self.taken() }
    }

    /// Share of nonconforming parts among those built in.
    pub(crate) fn escapes(&self) -> Option<f64> {
        let of_lots = self.operating.as_ref().map(|of| of.escapes);
        of_lots.or(self.conformity.map(|of| of.escapes))
    }

    /// Share of the delivered parts that are built in.
    pub(crate) fn taken(&self) -> f64 {
        1.0 / (1.0 + self.turned_away)
    }
}

impl DrawnParts {
    fn of(model: &Model, source: &Source, inspected: &Inspected) -> DrawnParts {
        let draws = if inspected.inspection.sampling.is_some() { DRAWN_IN_SAMPLES } else { DRAWN };
        let drawn = inspection::deliver(inspected, model.seed, &source.name, draws, source.slots);
        let share = |count: u64, of: u64| clopper_pearson(count, of, model.confidence);
        let (parts, values) = (drawn.parts, drawn.values as f64);
        let mean = drawn.sum / values;
        DrawnParts {
            parts,
            nonconforming: share(parts - drawn.conforming, parts),
            rejected: share(parts - drawn.taken, parts),
            consumer_risk: share(drawn.taken - drawn.both, parts),
            producer_risk: share(drawn.conforming - drawn.both, parts),
            escapes: share(drawn.taken - drawn.both, drawn.taken),
            built_in: share(drawn.accepted, parts),
            built_in_escapes: share(drawn.accepted - drawn.accepted_conforming, drawn.accepted),
            mean,
            sd: (drawn.sum_of_squares / values - mean * mean).max(0.0).sqrt(),
        }
    }
}

impl AtLimit {
    fn of(inspected: &Inspected) -> Option<AtLimit> {
        let Inspection { accept, tolerance, gauge, .. } = &inspected.inspection;
        let accept = (*accept)?;
        let tolerance = tolerance.unwrap_or(accept);
        if gauge.sd == 0.0 {
            return None;
        }
        let ends = [accept.high, accept.low].into_iter().filter(|end| end.is_finite());
        let at = ends.map(|reading| AtLimit {
            reading,
            known: inspection::specific_risk(inspected, tolerance, reading),
            unknown: outside(tolerance, reading - gauge.bias, gauge.sd),
        });
        at.reduce(|a, b| if b.known.max(b.unknown) > a.known.max(a.unknown) { b } else { a })
    }
}

/// The probability that a normal value is outside a window.
fn outside(window: Window, mean: f64, sd: f64) -> f64 {
    normal::probability((window.low - mean) / sd) + normal::probability((mean - window.high) / sd)
}

impl GaugeShare {
    fn of(inspection: &Inspection, sd: f64) -> Option<GaugeShare> {
        let gauge = inspection.gauge.sd;
        let observed_sd = inspection.gauge.widened(sd).sd;
        (gauge > 0.0).then(|| GaugeShare {
            observed_sd,
            share: gauge / observed_sd,
            classes: std::f64::consts::SQRT_2 * sd / gauge,
        })
    }
}
