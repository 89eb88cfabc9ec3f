//! Near-in side lobes held level, the far ones falling.

use super::{Feeds, of_lines, side_lobes};
use crate::array::Lattice;
use crate::io::{Check, Count, Dimension, Key, Quantity, Table, keys};
use crate::math::{PI, scalar};

/// Taylor's n-bar taper, sampled at the element centres.
///
/// Formula: a_n = 1 + 2 sum_{m=1}^{nbar-1} F_m cos(2 pi m x_n / N), x_n counted from the centre;
/// F_m from A = acosh(R)/pi and the dilation sigma^2 = nbar^2 / (A^2 + (nbar - 1/2)^2).
/// Source: Taylor 1955, IRE Trans. AP-3 (from memory); checked against scipy.signal.windows.taylor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Taylor {
    /// Design side-lobe level below the peak, dB, > 0.
    pub side_lobe_db: f64,
    /// Number of nearly equal lobes on each side plus one.
    pub nbar: usize,
}

keys! {
    pub(super) KEYS: "Taylor's taper of nearly equal near side lobes";
    SIDE_LOBE: Quantity = Key::quantity("side_lobe", Dimension::Level, Check::Within(13.3, 100.0), "25 dB", "Level of the side lobes below the beam peak");
    NBAR: Count = Key::count("nbar", 2..=40, "4", "Number of near side lobes that are nearly equal, the beam counted");
}

impl Taylor {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "taylor";

    pub(super) fn read(table: &Table) -> Option<Taylor> {
        Some(Taylor { side_lobe_db: table.read(&SIDE_LOBE), nbar: table.read(&NBAR) as usize })
    }

    fn line(&self, count: usize) -> Vec<f64> {
        let a = scalar::acosh(scalar::pow(10.0, self.side_lobe_db / 20.0)) / PI;
        let nbar = self.nbar as f64;
        let dilation = nbar * nbar / (a * a + (nbar - 0.5) * (nbar - 0.5));
        let coefficient = |m: usize| {
            let squared = (m * m) as f64;
            let mut numerator = 1.0;
            let mut denominator = 2.0;
            for i in 1..self.nbar {
                let i_half = i as f64 - 0.5;
                numerator *= 1.0 - squared / (dilation * (a * a + i_half * i_half));
                if i != m {
                    denominator *= 1.0 - squared / (i * i) as f64;
                }
            }
            let sign = if m % 2 == 1 { 1.0 } else { -1.0 };
            sign * numerator / denominator
        };
        let coefficients: Vec<f64> = (1..self.nbar).map(coefficient).collect();
        let position = |n: usize| (n as f64 - (count as f64 - 1.0) / 2.0) / count as f64;
        let amplitude = |n: usize| {
            let terms = coefficients.iter().enumerate();
            1.0 + 2.0
                * terms.map(|(i, f)| f * scalar::cos(2.0 * PI * (i + 1) as f64 * position(n))).sum::<f64>()
        };
        (0..count).map(amplitude).collect()
    }
}

impl Feeds for Taylor {
    fn over(&self, lattice: Option<&Lattice>, _: usize) -> Option<Vec<f64>> {
        Some(of_lines(lattice?, |count| self.line(count)))
    }

    fn words(&self) -> String {
        format!("Taylor taper, {}, n-bar {}", side_lobes(self.side_lobe_db), self.nbar)
    }
}
