//! One element rotates while all others radiate.

use super::{Alignment, PassState};
use crate::bench::method::{Sweep, SweepScratch};
use crate::bench::{Bench, Code, StateShare};
use crate::io::Table;
use crate::math::scalar;
use crate::math::single::within_half_a_turn;

/// The rotating-element field-vector method: all channels on in front of a probe, one shifter stepped through K evenly
/// spread codes while the others stand, for each channel in turn.
///
/// Formula: the power is A + B cos(t - t0) over the shifter's phase t; the element's share of the rest is
/// rho = (A - sqrt(A^2 - B^2))/B, and its phase over the whole field as it stands at ts is the angle of exp(j(ts - t0)) + rho: with
/// the ratio r^2 of largest to smallest power, rho = (r - 1)/(r + 1) and tan X = sin D/(cos D + rho). Each channel then turns back by X.
/// Ties: none. Noise: an element is a small part of the field, so the reading's noise counts N times as much as in a pair. Plateaus: a
/// saturated receiver flattens the top and spoils the sinusoid. One element must not outweigh the rest (N of 3 or more);
/// where the phases begin so wild that the whole field is small, a second pass begins from the first one's phases.
/// Units: rad. Source: Mano & Katagi 1982, IECE Trans. J65-B (from memory; formulas checked by brute force).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct RotatingElement {
    /// The codes that a channel is stepped through; a sinusoid is fitted to the powers.
    sweep: Sweep,
}

impl Alignment for RotatingElement {
    const KIND: &'static str = "rotating_element";

    fn read(table: &Table, states: usize) -> RotatingElement {
        RotatingElement { sweep: Sweep::read(table, states, states) }
    }

    fn run<D: Bench<W>, const W: usize>(
        &self,
        bench: &mut D,
        pass: &PassState<W>,
        scratch: &mut SweepScratch<W>,
        phase: &mut [[f32; W]],
    ) -> Result<(), D::Fault> {
        for (channel, phase) in phase.iter_mut().enumerate() {
            let lanes: [bool; W] = std::array::from_fn(|l| pass.live.is_live(channel, l));
            if !lanes.contains(&true) {
                continue;
            }
            bench.join_all(channel, pass.round, &lanes)?;
            let top = self.sweep.fit(pass.steps_of(channel), bench, scratch)?;
            let share = parts(&self.sweep, &scratch.readings);
            for l in (0..W).filter(|l| lanes[*l]) {
                let standing = pass.standing[channel][l];
                let (sin, cos) = scalar::sin_cos(f64::from(standing - top[l]));
                let over_all = scalar::atan2(sin, cos + share[l]);
                phase[l] = within_half_a_turn(standing - over_all as f32);
            }
        }
        Ok(())
    }

    fn shares(&self, angle: f64, _: Code, _: usize) -> Vec<StateShare> {
        self.sweep.shares(angle)
    }

    fn title(&self) -> String {
        format!(
            "over the air, one channel at a time rotated through {} codes while all others stand",
            self.sweep.codes().len()
        )
    }
}

/// Amplitude of the rotating element over that of the rest, from the readings of a sweep, dB, `[code][lane]`.
fn parts<const W: usize>(sweep: &Sweep, readings: &[[f32; W]]) -> [f64; W] {
    sweep.mean_and_swing(readings).map(|(mean, swing)| {
        let swing = swing.min(mean);
        if swing > 0.0 { (mean - (mean * mean - swing * swing).max(0.0).sqrt()) / swing } else { 0.0 }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{LiveChannels, Pair, Work};
    use crate::math::{Complex, TAU};
    use std::convert::Infallible;

    const STATES: usize = 64;
    const DEGREE: f64 = crate::math::PI / 180.0;

    /// A field of 1, of which each channel is `k` at a phase, rad.
    struct Field {
        parts: Vec<(f64, f64)>,
        stepped: usize,
        work: Work<1>,
    }

    impl Field {
        fn power(&self, code: Code) -> f64 {
            let (k, phase) = self.parts[self.stepped];
            let turned = phase + TAU * f64::from(code) / STATES as f64;
            let re = 1.0 + k * (scalar::cos(turned) - scalar::cos(phase));
            let im = k * (scalar::sin(turned) - scalar::sin(phase));
            re * re + im * im
        }
    }

    fn level(power: f64) -> f32 {
        (10.0 * scalar::log10(power)) as f32
    }

    impl Bench<1> for Field {
        type Fault = Infallible;

        fn work(&self) -> &Work<1> {
            &self.work
        }

        fn join_all(&mut self, stepped: usize, _: u32, _: &[bool; 1]) -> Result<(), Infallible> {
            self.stepped = stepped;
            Ok(())
        }

        fn read_each(&mut self, codes: &[Code; 1], _: &[bool; 1]) -> Result<[f32; 1], Infallible> {
            Ok([level(self.power(codes[0]))])
        }

        fn read_alone(
            &mut self,
            _: u32,
            _: u32,
            _: Option<&[[bool; 1]]>,
            _: &mut [[f32; 1]],
        ) -> Result<(), Infallible> {
            Ok(())
        }
        fn detect(&mut self, _: usize, _: u32, _: u32, _: &[bool; 1]) -> Result<[f32; 1], Infallible> {
            Ok([0.0])
        }
        fn set_attenuators(&mut self, _: &[[Code; 1]]) -> Result<(), Infallible> {
            Ok(())
        }
        fn set_shifters(&mut self, _: &[[Code; 1]]) -> Result<(), Infallible> {
            Ok(())
        }
        fn join(&mut self, _: Pair, _: &[bool; 1]) -> Result<(), Infallible> {
            Ok(())
        }
        fn set_reference(&mut self, _: Code) -> Result<(), Infallible> {
            Ok(())
        }
        fn read_toggled(&mut self, _: u32, _: &[bool]) -> Result<Complex<1>, Infallible> {
            Ok(Complex::ZERO)
        }
    }

    /// Element k at phase X (deg) of the whole field: largest over smallest power (dB), k and X as they come back. Mano & Katagi
    /// 1982, IECE Trans. J65-B (from memory; by brute force).
    #[test]
    fn an_element_and_its_phase_come_back() {
        for (k, x, ratio_db) in [(0.05, 30.0, 0.90842), (0.1, -60.0, 1.8278), (0.02, 150.0, 0.34155)] {
            let mut field =
                Field { parts: vec![(k, x * DEGREE), (0.3, 0.0)], stepped: 0, work: Work::default() };
            let fine: Vec<f64> = (0..36_000)
                .map(|i| {
                    let turned = x * DEGREE + TAU * f64::from(i) / 36_000.0;
                    let re = 1.0 + k * (scalar::cos(turned) - scalar::cos(x * DEGREE));
                    let im = k * (scalar::sin(turned) - scalar::sin(x * DEGREE));
                    re * re + im * im
                })
                .collect();
            let (low, high) = fine.iter().fold((f64::INFINITY, 0.0f64), |(l, h), p| (l.min(*p), h.max(*p)));
            assert!((10.0 * scalar::log10(high / low) - ratio_db).abs() < 2e-5 * 10.0);
            for count in [16, 13] {
                let sweep = Sweep::new(STATES, count);
                let mut scratch = SweepScratch::default();
                let standing = [[0.0], [0.0]];
                let pass = PassState {
                    round: 0,
                    imbalance: 0.0,
                    steps: None,
                    states: STATES,
                    standing: &standing,
                    live: &LiveChannels::default(),
                };
                let mut phase = [[0.0f32], [0.0]];
                let Ok(()) =
                    RotatingElement { sweep: sweep.clone() }.run(&mut field, &pass, &mut scratch, &mut phase);
                assert!((f64::from(phase[0][0]) / DEGREE + x).abs() < 1e-3, "{x}: {phase:?}");
                assert!(f64::from(phase[1][0]).abs() < 1e-4, "an element in phase stays: {phase:?}");
                // The share of the rest, and from it k = rho/|exp(jD) + rho| as the formula has it.
                field.stepped = 0;
                let readings: Vec<[f32; 1]> =
                    sweep.codes().iter().map(|code| [level(field.power(*code))]).collect();
                let rho = parts(&sweep, &readings)[0];
                let rest = (1.0 - k * scalar::cos(x * DEGREE), -k * scalar::sin(x * DEGREE));
                assert!((rho - k / scalar::hypot(rest.0, rest.1)).abs() < 1e-5, "{rho}");
                let ratio = scalar::pow(10.0, ratio_db / 20.0);
                assert!(((ratio - 1.0) / (ratio + 1.0) - rho).abs() < 1e-5);
            }
        }
    }
}
