//! All side lobes at one level, the narrowest beam for it.

use super::{Feeds, of_lines, side_lobes};
use crate::array::Lattice;
use crate::io::{Check, Dimension, Key, Quantity, Table, keys};
use crate::math::{PI, scalar};

/// Dolph-Chebyshev taper.
///
/// Formula: a_n = R + 2 sum_{s=1}^{S} T_{N-1}(x0 cos(s pi/N)) cos(2 pi s x_n/N), x0 = cosh(acosh(R)/(N-1)),
/// S = (N-1)/2 rounded down, x_n counted from the centre. Source: Dolph 1946, Proc. IRE 34 (from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct DolphChebyshev {
    /// Side-lobe level below the peak, dB, > 0.
    pub side_lobe_db: f64,
}

keys! {
    pub(super) KEYS: "Dolph and Chebyshev's taper of equal side lobes";
    SIDE_LOBE: Quantity = Key::quantity("side_lobe", Dimension::Level, Check::Within(13.3, 100.0), "25 dB", "Level of the side lobes below the beam peak");
}

impl DolphChebyshev {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "dolph_chebyshev";

    pub(super) fn read(table: &Table) -> Option<DolphChebyshev> {
        let side_lobe_db = table.read(&SIDE_LOBE);
        Some(DolphChebyshev { side_lobe_db })
    }

    fn line(&self, count: usize) -> Vec<f64> {
        let order = (count - 1) as f64;
        let ratio = scalar::pow(10.0, self.side_lobe_db / 20.0);
        let x0 = scalar::cosh(scalar::acosh(ratio) / order);
        let samples: Vec<f64> = (1..=(count - 1) / 2)
            .map(|s| chebyshev(count - 1, x0 * scalar::cos(PI * s as f64 / count as f64)))
            .collect();
        let amplitude = |n: usize| {
            let x = (n as f64 - order / 2.0) / count as f64;
            let terms = samples.iter().enumerate();
            ratio + 2.0 * terms.map(|(i, t)| t * scalar::cos(2.0 * PI * (i + 1) as f64 * x)).sum::<f64>()
        };
        (0..count).map(amplitude).collect()
    }
}

impl Feeds for DolphChebyshev {
    fn over(&self, lattice: Option<&Lattice>, _: usize) -> Option<Vec<f64>> {
        Some(of_lines(lattice?, |count| self.line(count)))
    }

    fn words(&self) -> String {
        format!("Dolph-Chebyshev taper, {}", side_lobes(self.side_lobe_db))
    }
}

/// Chebyshev polynomial of the first kind, any real argument.
fn chebyshev(order: usize, x: f64) -> f64 {
    let n = order as f64;
    if x.abs() <= 1.0 {
        scalar::cos(n * scalar::acos(x))
    } else {
        let sign = if x < 0.0 && order % 2 == 1 { -1.0 } else { 1.0 };
        sign * scalar::cosh(n * scalar::acosh(x.abs()))
    }
}

impl DolphChebyshev {}
