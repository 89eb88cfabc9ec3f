//! Control bits that are stuck: a broken bond or driver, whatever is commanded.

use crate::chain::{Code, Listed};
use crate::io::{Check, Dimension, Key, Or, Quantity, Table};
use crate::math::Complex;
use crate::random::{Distribution, Draws, Scope, Spread, Tolerance, Value};

/// Bits that are stuck, each with the same probability, at 0 or at 1 equally likely.
///
/// Formula: the code that the part takes is the commanded one with those bits forced. Source: stuck-at fault model, common
/// practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct StuckBits<T = Value> {
    bits: usize,
    /// For each bit of each channel: -1 is stuck at 0, 1 stuck at 1, 0 is sound.
    fault: T,
}

/// The key of the probability.
pub(super) const STUCK_BIT: Key<Or<Quantity, f64>> = Key::number(
    "stuck_bit",
    Check::Within(0.0, 1.0),
    "0.001",
    "Probability that a bit is stuck; 0 where it is left out",
)
.or(0.0);

impl StuckBits<Tolerance> {
    /// Reads the probability at `stuck_bit`, if there is one above zero.
    pub(super) fn read(table: &Table, bits: usize) -> Option<StuckBits<Tolerance>> {
        let probability = table.read(&STUCK_BIT);
        let distribution = Distribution::bernoulli(probability).ok().filter(|_| probability > 0.0)?;
        let mut fault = Tolerance::exact(0.0);
        fault.spread = Some(Spread { distribution, scope: Scope::Channel });
        Some(StuckBits { bits, fault })
    }
}

impl<T> StuckBits<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> StuckBits<U> {
        let StuckBits { bits, fault } = self;
        let listed = Listed {
            key: STUCK_BIT.name,
            tolerance: fault,
            slots: *bits,
            dimension: Dimension::Ratio,
            on_use: false,
            of_temperature: false,
        };
        StuckBits { bits: *bits, fault: to(listed) }
    }
}

impl StuckBits {
    /// The codes that the part of a channel takes in place of the commanded ones.
    #[inline(always)]
    pub(super) fn taken<const W: usize>(
        &self,
        draws: &Draws<W>,
        channel: usize,
        commanded: &[Code; W],
    ) -> [Code; W] {
        let mut taken = *commanded;
        for bit in 0..self.bits {
            let fault = self.fault.deviation_at(draws, bit, channel);
            let on = 1 << bit;
            for l in 0..W {
                let at_1 = if fault[l] > 0.0 { taken[l] | on } else { taken[l] };
                taken[l] = if fault[l] < 0.0 { taken[l] & !on } else { at_1 };
            }
        }
        taken
    }

    /// Puts in place of every state of a channel the one that is taken. A state is the product of an entry of each table;
    /// the lowest bits address `low`, the others `high`.
    #[inline(always)]
    pub(super) fn force<const W: usize>(
        &self,
        draws: &Draws<W>,
        channel: usize,
        low: &mut [Complex<W>],
        high: &mut [Complex<W>],
    ) {
        let low_bits = low.len().trailing_zeros() as usize;
        for bit in 0..self.bits {
            let fault = self.fault.deviation_at(draws, bit, channel);
            if fault.iter().all(|fault| *fault == 0.0) {
                continue;
            }
            let (table, on) =
                if bit < low_bits { (&mut *low, 1 << bit) } else { (&mut *high, 1 << (bit - low_bits)) };
            for off in (0..table.len()).filter(|state| state & on == 0) {
                for l in 0..W {
                    if fault[l] < 0.0 {
                        copy_lane(table, off, off | on, l);
                    } else if fault[l] > 0.0 {
                        copy_lane(table, off | on, off, l);
                    }
                }
            }
        }
    }
}

#[inline(always)]
fn copy_lane<const W: usize>(table: &mut [Complex<W>], from: usize, to: usize, l: usize) {
    (table[to].re.0[l], table[to].im.0[l]) = (table[from].re.0[l], table[from].im.0[l]);
}
