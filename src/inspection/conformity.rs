//! What an inspection does to the parts: how many it rejects, and how many of them wrongly.

use crate::random::distribution::weighted::{
    even_ends, gauge_ends, integrals, joint_share, share_within, shares_between,
};
use crate::random::{Distribution, Gauge, Inspected, Sampled, Window};

/// Shares of the delivered parts, and what those that are taken are like.
///
/// A part of several values (a bit each) conforms when all of them do, and is taken when all read within the acceptance.
///
/// Terms: JCGM 106:2012, clause 9.5: producer's and consumer's risk are the global ones, of a part drawn from those delivered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Conformity {
    /// Parts that do not conform, of those delivered.
    pub nonconforming: f64,
    /// Parts whose reading (or one of them) is outside the acceptance, of those delivered.
    pub rejected: f64,
    /// Parts that are taken and do not conform, of those delivered: the consumer's risk.
    pub consumer_risk: f64,
    /// Parts that conform and are not taken, of those delivered: the producer's risk.
    pub producer_risk: f64,
    /// Parts that do not conform, of those taken.
    pub escapes: f64,
}

/// What a sampled inspection does to lots.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Lots {
    /// Lots that are taken, of those delivered.
    pub taken: f64,
    /// Parts that do not conform, of those in the lots that are taken: the quality that goes out.
    pub escapes: f64,
}

/// Cells of equal width in a distribution's probability: of the parts alone, of the parts where lots differ, of the lots.
const CELLS: u32 = 1024;
const CELLS_IN_A_LOT: u32 = 64;
const CELLS_OF_LOTS: u32 = 256;

/// Shares of values, one by one: within the tolerance; of these, taken; taken and outside of the tolerance.
type Shares = [f64; 3];

/// What the inspection does to parts of `values` values each, gauged one by one; `None` where no limit is set. Integrals right to 1e-6.
///
/// Of a sampled inspection: what the gauge says of the parts of a sample, over all delivered lots.
pub(crate) fn conformity(inspected: &Inspected, values: usize) -> Option<Conformity> {
    let accept = inspected.inspection.accept?;
    let tolerance = inspected.inspection.tolerance.unwrap_or(accept);
    let gauge = inspected.inspection.gauge;
    let [conforming, both, escaped] = over_lots(inspected, |distribution, shift, even| {
        shares(distribution, gauge, tolerance.shifted(-shift), accept.shifted(-shift), even)
    });
    let taken = power(both + escaped, values);
    let consumer_risk = rise_of_power(both, escaped, values);
    Some(Conformity {
        nonconforming: 1.0 - power(conforming, values),
        rejected: 1.0 - taken,
        consumer_risk,
        producer_risk: rise_of_power(both, (conforming - both).max(0.0), values),
        escapes: if taken > 0.0 { consumer_risk / taken } else { 0.0 },
    })
}

/// The probability that a value that reads `reading` does not conform, from what the delivered parts are like: the specific
/// consumer's risk (JCGM 106:2012, 9.3.2). Of a reading that no delivered part gives: as though all deviations were as likely.
pub(crate) fn specific_risk(inspected: &Inspected, tolerance: Window, reading: f64) -> f64 {
    let gauge = inspected.inspection.gauge;
    if gauge.is_exact() {
        return f64::from(u8::from(!tolerance.holds(reading - gauge.bias)));
    }
    let [inside, outside] = over_lots(inspected, |distribution, shift, even| {
        let reading = reading - shift;
        let (from, to) = distribution.probabilities(tolerance.shifted(-shift));
        let likely = |from: f64, to: f64| {
            let ends =
                gauge_ends(distribution, Window { low: reading, high: reading }, gauge, even, (from, to));
            let [sum] = integrals(distribution, &ends, |x| [gauge.density(x, reading)]);
            sum
        };
        [likely(from, to), likely(0.0, from) + likely(to, 1.0)]
    });
    if inside + outside > 0.0 {
        outside / (inside + outside)
    } else {
        1.0 - Gauge { bias: -gauge.bias, sd: gauge.sd }.probability_within(reading, tolerance)
    }
}

/// Parts rejected for each that is built in; of a sampled inspection, those of the lots that are not taken.
pub(crate) fn turned_away(inspected: &Inspected, values: usize) -> f64 {
    1.0 / taken(inspected, values) - 1.0
}

/// Parts gauged for each that is built in.
pub(crate) fn gauged(inspected: &Inspected, values: usize) -> f64 {
    let share = inspected.inspection.sampling.map_or(1.0, |plan| plan.parts as f64 / plan.lot as f64);
    if inspected.inspection.is_in_place() { share / taken(inspected, values) } else { 0.0 }
}

/// What a sampled inspection does to the lots of parts of `values` values each; `None` where every part is gauged, or no limit is set.
pub(crate) fn lots(inspected: &Inspected, values: usize) -> Option<Lots> {
    let tolerance = inspected.inspection.tolerance.filter(|_| inspected.inspection.sampling.is_some())?;
    let escapes = match &inspected.taken_lots {
        None => conformity(inspected, values)?.nonconforming,
        Some(lots) => {
            let lots = Distribution::Sampled(lots.clone());
            let [conforming] = integrals(&lots, &even_ends(CELLS), |shift| {
                let (from, to) = inspected.delivered.probabilities(tolerance.shifted(-shift));
                [(to - from).max(0.0)]
            });
            1.0 - power(conforming, values)
        }
    };
    Some(Lots { taken: taken(inspected, values), escapes })
}

/// Parts that are taken, of those delivered: one by one, or by the lot.
pub(super) fn taken(inspected: &Inspected, values: usize) -> f64 {
    let Some(accept) = inspected.inspection.accept else { return 1.0 };
    if let Some(lots) = &inspected.taken_lots {
        return 1.0 - lots.rejected();
    }
    let share = power(
        share_within(&inspected.delivered, accept, inspected.inspection.gauge, &even_ends(CELLS)),
        values,
    );
    inspected.inspection.sampling.map_or(share, |plan| plan.accepts(1.0 - share))
}

/// The share of the delivered parts of `values` values each that would be built in behind another acceptance; 0 where hardly any would.
pub(crate) fn taken_within(inspected: &Inspected, accept: Window, values: usize) -> f64 {
    let mut tried = inspected.clone();
    tried.inspection.accept = Some(accept);
    if let (Some(plan), Some(lots)) = (inspected.inspection.sampling, &inspected.lot) {
        let taken =
            Sampled::new(lots.clone(), inspected.delivered.clone(), accept, inspected.inspection.gauge, plan);
        let Ok(taken) = taken else { return 0.0 };
        tried.taken_lots = Some(taken);
    }
    taken(&tried, values)
}

/// Shares of parts by a distribution: double integrals over the distribution and the gauge's error.
fn shares(
    distribution: &Distribution,
    gauge: Gauge,
    tolerance: Window,
    accept: Window,
    even: &[f64],
) -> Shares {
    if let Some(shares) = closed_shares(distribution, gauge, tolerance, accept) {
        return shares;
    }
    let (from, to) = distribution.probabilities(tolerance);
    let [inside, below, above] =
        shares_between(distribution, accept, gauge, even, [(from, to), (0.0, from), (to, 1.0)]);
    [(to - from).max(0.0), inside, below + above]
}

/// The mean over parts and lots of what depends on a distribution of parts, how far they are shifted, and the cells that the distribution is parted into;
/// parts that are higher are a window that is lower.
fn over_lots<const N: usize>(
    inspected: &Inspected,
    of: impl Fn(&Distribution, f64, &[f64]) -> [f64; N],
) -> [f64; N] {
    let over = |distribution: &Distribution, shift: f64, even: &[f64]| {
        let mut sums = [0.0; N];
        for (share, offset, distribution) in distribution.components() {
            let values = of(distribution, shift + offset, even);
            sums.iter_mut().zip(values).for_each(|(sum, value)| *sum += share * value);
        }
        sums
    };
    // A deviation is a part's and its lot's, whichever is called which: a normal one of the two is taken for the parts, as it has closed forms.
    let parts = &inspected.delivered;
    let Some(lots) = &inspected.lot else { return over(parts, 0.0, &even_ends(CELLS)) };
    if let Some(both) = lots.plus_normal(parts) {
        return over(&both, 0.0, &even_ends(CELLS));
    }
    let (lots, parts) = if lots.normal_sd().is_some() { (parts, lots) } else { (lots, parts) };
    let in_a_lot = even_ends(CELLS_IN_A_LOT);
    integrals(lots, &even_ends(CELLS_OF_LOTS), |shift| over(parts, shift, &in_a_lot))
}

/// Shares of parts by a distribution and a gauge, where there is a closed form for them.
fn closed_shares(
    distribution: &Distribution,
    gauge: Gauge,
    tolerance: Window,
    accept: Window,
) -> Option<Shares> {
    /// Below this a share is what rounding left of 0.
    const ROUNDING: f64 = 1e-13;
    let taken = |x: f64| joint_share(distribution, x, accept, gauge);
    let (low, high, all) = (taken(tolerance.low.next_down())?, taken(tolerance.high)?, taken(f64::INFINITY)?);
    let settled = |share: f64| if share < ROUNDING { 0.0 } else { share };
    let (from, to) = distribution.probabilities(tolerance);
    Some([(to - from).max(0.0), settled(high - low), settled(low) + settled(all - high)])
}

/// A share to the power of a count.
fn power(share: f64, count: usize) -> f64 {
    (0..count).fold(1.0, |product, _| product * share).min(1.0)
}

/// (share + more)^count - share^count, which keeps the digits of `more`: more times the sum of (share + more)^i share^(count - 1 - i).
fn rise_of_power(share: f64, more: f64, count: usize) -> f64 {
    let terms = (0..count).map(|i| power(share + more, i) * power(share, count - 1 - i));
    more * terms.sum::<f64>()
}

#[cfg(test)]
mod tests;
