//! All channels toggle at once.

use super::{Alignment, PassState};
use crate::bench::method::SweepScratch;
use crate::bench::{Bench, Code, Receiver, StateShare};
use crate::io::Table;
use crate::math::single::within_half_a_turn;
use crate::math::{Complex, scalar};
use multiversion::multiversion;

/// Coded toggling: all channels on in front of a probe, a receiver that reads amplitude and phase, and in each reading every channel
/// turned by half a turn or not, by the columns of a Hadamard matrix; all channels are solved at once.
///
/// Formula: with the matrix H of order M, the least power of two above N (Sylvester's), channel n toggles by column n + 1 (column 0,
/// all alike, is left out: it holds all that does not toggle), reading y_m = sum H_mn x_n + noise, and x_n = 1/M sum H_mn y_m. Variance of
/// one channel: the noise over M, that of one at a time over M. Ties: none. Plateaus: a receiver that saturates turns the clipped part into errors
/// of all channels. Noise: additive; a channel whose half turn is none counts as half the difference of its two states.
/// Units: rad. Source: Silverstein 1997, IEEE Trans. SP (abstract); solving by the orthogonality of H, own derivation.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct CodedToggling;

impl Alignment for CodedToggling {
    const KIND: &'static str = "coded_toggling";

    fn read(_: &Table, _: usize) -> CodedToggling {
        CodedToggling
    }

    fn run<D: Bench<W>, const W: usize>(
        &self,
        bench: &mut D,
        pass: &PassState<W>,
        _: &mut SweepScratch<W>,
        phase: &mut [[f32; W]],
    ) -> Result<(), D::Fault> {
        let channels = phase.len();
        let order = rows(channels);
        let mut sums = vec![[[0.0f64; W]; 2]; channels];
        let mut is_turned = vec![false; channels];
        for row in 0..order {
            for (channel, turned) in is_turned.iter_mut().enumerate() {
                *turned = is_negative(row, channel + 1);
            }
            let field = bench.read_toggled(pass.round * order as u32 + row as u32, &is_turned)?;
            add(&field, &is_turned, &mut sums);
        }
        for ((phase, [re, im]), standing) in phase.iter_mut().zip(&sums).zip(pass.standing) {
            for l in 0..W {
                phase[l] = within_half_a_turn(standing[l] - scalar::atan2(im[l], re[l]) as f32);
            }
        }
        Ok(())
    }

    /// Formula: (F/(2 m) + N a^2)/M, F the noise floor over m averages, a the instability in nepers of amplitude, which shakes the whole
    /// field: its mean square over the readings is N. Source: own derivation (Parseval, as the matrix is orthogonal).
    fn variance(&self, channels: usize, receiver: &Receiver) -> Option<f64> {
        let averages = f64::from(receiver.averages);
        let floor = receiver.noise_floor_db.map_or(0.0, |db| scalar::pow(10.0, db / 10.0));
        let shaken = crate::math::LN_10 / 20.0 * receiver.noise_db;
        Some((0.5 * floor + channels as f64 * shaken * shaken) / averages / rows(channels) as f64)
    }

    /// A channel counts as half the difference of the two states that it toggles between.
    fn shares(&self, _: f64, standing: Code, states: usize) -> Vec<StateShare> {
        let other = (standing + states as Code / 2) & (states as Code - 1);
        [standing, other].map(|code| StateShare { code, phase: 0.5, gain: 0.0 }).to_vec()
    }

    fn title(&self) -> String {
        "over the air, all channels toggled by an orthogonal code and solved at once".to_owned()
    }
}

/// Adds a reading to the sum of each channel, by its sign: real and imaginary parts.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn add<const W: usize>(field: &Complex<W>, is_turned: &[bool], sums: &mut [[[f64; W]; 2]]) {
    for ([re, im], turned) in sums.iter_mut().zip(is_turned) {
        let sign = if *turned { -1.0 } else { 1.0 };
        for l in 0..W {
            re[l] += sign * f64::from(field.re.0[l]);
            im[l] += sign * f64::from(field.im.0[l]);
        }
    }
}

/// Readings for a number of channels.
fn rows(channels: usize) -> usize {
    (channels + 1).next_power_of_two()
}

/// Sign of an entry of Sylvester's matrix: the parity of the bits that row and column share.
fn is_negative(row: usize, column: usize) -> bool {
    (row & column).count_ones() % 2 == 1
}
