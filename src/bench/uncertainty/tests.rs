//! Stated uncertainty against the scatter of phases that are found again and again on one unit.

use super::*;
use crate::bench::{
    Bench, Calibration, Comparison, DeadRule, Hardware, Meter, Method, Pair, Pairing, Receiver, Recorder,
    Scratch, Unrounded, Work,
};
use crate::math::{Complex, scalar};
use crate::random::{Key, draw};

const STATES: usize = 64;
const CODES: usize = 16;
const NOISE_DB: f64 = 0.1;
const RUNS: u64 = 2000;
/// Phase of each channel of the unit, rad.
const PHASE: [f64; 5] = [0.4, -1.3, 2.9, 0.1, -2.2];

/// A bench that reads like channels at phases of their own, and that can fall silent.
struct OnPhases {
    meter: Meter,
    run: u64,
    pair: Option<Pair>,
    readings: u32,
    silent_after: u32,
    work: Work<1>,
}

/// The receiver gives no answer.
#[derive(Debug, PartialEq)]
struct NoAnswer;

impl Bench<1> for OnPhases {
    type Fault = NoAnswer;

    fn work(&self) -> &Work<1> {
        &self.work
    }

    fn join(&mut self, pair: Pair, _: &[bool; 1]) -> Result<(), NoAnswer> {
        self.pair = Some(pair);
        Ok(())
    }

    fn read_each(&mut self, codes: &[Code; 1], _: &[bool; 1]) -> Result<[f32; 1], NoAnswer> {
        let pair = self.pair.expect("a pair is joined");
        if self.readings == self.silent_after {
            return Err(NoAnswer);
        }
        let turned = TAU * f64::from(codes[0]) / STATES as f64 + PHASE[pair.stepped];
        let power = 1.0 + scalar::cos(turned - PHASE[pair.reference]);
        let number = self.readings;
        self.readings += 1;
        let deviates = draw::normal_block::<1>(Key::new(26, "readings"), self.run, |_| number, 0);
        Ok([self.meter.read::<false>(power as f32, deviates[0][0])])
    }

    fn read_alone(
        &mut self,
        _: u32,
        _: u32,
        _: Option<&[[bool; 1]]>,
        _: &mut [[f32; 1]],
    ) -> Result<(), NoAnswer> {
        Err(NoAnswer)
    }
    fn detect(&mut self, _: usize, _: u32, _: u32, _: &[bool; 1]) -> Result<[f32; 1], NoAnswer> {
        Err(NoAnswer)
    }
    fn set_attenuators(&mut self, _: &[[Code; 1]]) -> Result<(), NoAnswer> {
        Ok(())
    }
    fn set_shifters(&mut self, _: &[[Code; 1]]) -> Result<(), NoAnswer> {
        Ok(())
    }
    fn set_reference(&mut self, _: Code) -> Result<(), NoAnswer> {
        Ok(())
    }
    fn join_all(&mut self, _: usize, _: u32, _: &[bool; 1]) -> Result<(), NoAnswer> {
        Err(NoAnswer)
    }
    fn read_toggled(&mut self, _: u32, _: &[bool]) -> Result<Complex<1>, NoAnswer> {
        Err(NoAnswer)
    }
}

fn receiver(noise_db: f64) -> Receiver {
    Receiver {
        noise_db,
        averages: 1,
        resolution_db: 0.0,
        floor_db: None,
        noise_floor_db: None,
        saturation_db: None,
    }
}

/// What one calibration of the unit finds, and what it reads for it.
fn calibrate(
    align: &Align,
    noise_db: f64,
    run: u64,
    silent_after: u32,
) -> (Result<(), NoAnswer>, CodeTable<1>, LiveChannels<1>, Vec<Reading>) {
    let channels = PHASE.len();
    let hardware = Hardware {
        attenuator: None,
        shifter: STATES,
        wanted_db: vec![0.0; channels],
        rest: vec![0; channels],
        rest_short: vec![0.0; channels],
        unrounded: Unrounded::default(),
        known_imbalance: 0.0,
        dead: DeadRule { below_db: -30.0, is_looked_for: false },
    };
    let calibration = Calibration { align: Some(align.clone()), ..Calibration::none("phases") };
    let (meter, work) = (receiver(noise_db).meter(), Work::default());
    let mut bench = Recorder::new(OnPhases { meter, run, pair: None, readings: 0, silent_after, work });
    let (mut table, mut live) = (CodeTable::new(channels), LiveChannels::default());
    let mut scratch = Scratch::default();
    let done = calibration.run(&mut bench, &hardware, 0, None, &mut live, &mut scratch, &mut table);
    let readings = bench.events.into_iter().filter_map(crate::bench::Event::reading).collect();
    (done, table, live, readings)
}

fn fitted(pairing: Pairing, swaps_arms: bool, reference: usize) -> Align {
    let pairs = Pairs { method: Method::Fit, sweep: Sweep::new(STATES, CODES), pairing, swaps_arms };
    Align { comparison: Comparison::Pairs(pairs), reference }
}

/// Over many calibrations of the unit by a receiver of some noise, `[channel]`: the scatter of the phase found, its uncertainty by a
/// receiver of [`NOISE_DB`], and the root mean square of that by the residual.
fn scatter(align: &Align, noise_db: f64) -> Vec<[f64; 3]> {
    let readout = Readout::new(&receiver(NOISE_DB), 0.0);
    let mut sums = vec![[0.0; 4]; PHASE.len()];
    for run in 0..RUNS {
        let (done, table, live, readings) = calibrate(align, noise_db, run, u32::MAX);
        assert_eq!(done, Ok(()));
        let stated = table.uncertainty(0, align, &live, &readout, &readings);
        for (channel, (sums, stated)) in sums.iter_mut().zip(stated).enumerate() {
            let true_phase = PHASE[align.reference] - PHASE[channel];
            let off = f64::from(table.phase[channel][0]) - true_phase;
            let off = off - TAU * (off / TAU).round();
            let by_residual = stated.by_residual.expect("a residual");
            sums[0] += off;
            sums[1] += off * off;
            sums[2] = stated.by_receiver.expect("a formula");
            sums[3] += by_residual * by_residual;
        }
    }
    let n = RUNS as f64;
    let of = |[sum, squares, stated, by_residual]: [f64; 4]| {
        [((squares - sum * sum / n) / (n - 1.0)).sqrt(), stated, (by_residual / n).sqrt()]
    };
    sums.into_iter().map(of).collect()
}

/// Standard errors between a scatter of normal deviates and a standard deviation, s/sqrt(2 (n - 1)).
fn apart(scatter: f64, sd: f64) -> f64 {
    (scatter - sd).abs() / (sd / (2.0 * (RUNS as f64 - 1.0)).sqrt())
}

#[test]
fn phases_scatter_by_their_uncertainty() {
    for (pairing, swaps_arms) in [
        (Pairing::Star, false),
        (Pairing::Star, true),
        (Pairing::Chain, false),
        (Pairing::Chain, true),
        (Pairing::AllPairs, false),
    ] {
        let align = fitted(pairing, swaps_arms, 1);
        let found = scatter(&align, NOISE_DB);
        // For contrast: twice the noise, which the data sheet of the receiver does not hold, but the residual does.
        let noisy = scatter(&align, 2.0 * NOISE_DB);
        for (channel, (found, noisy)) in found.iter().zip(&noisy).enumerate() {
            let [scatter, by_receiver, by_residual] = *found;
            if channel == align.reference {
                assert_eq!(*found, [0.0; 3]);
                continue;
            }
            let case = format!("{pairing:?} {swaps_arms} {channel}: {found:?}, {noisy:?}");
            assert!(apart(scatter, by_receiver) < 5.0 && apart(scatter, by_residual) < 5.0, "{case}");
            let [scatter, by_receiver, by_residual] = *noisy;
            assert!(apart(scatter, by_receiver) > 5.0 && apart(scatter, by_residual) < 5.0, "{case}");
        }
    }
}

/// One phase of a star by hand, s sqrt(2.5/K) for noise s in nepers of power; a fit that is exact has no residual.
#[test]
fn an_uncertainty_by_hand() {
    let align = fitted(Pairing::Star, false, 0);
    let (_, table, live, readings) = calibrate(&align, 0.0, 0, u32::MAX);
    let readout = Readout::new(&receiver(NOISE_DB), 0.0);
    let nepers = NOISE_DB * crate::math::LN_10 / 10.0;
    let found = table.uncertainty(0, &align, &live, &readout, &readings)[2];
    let by_hand = nepers * (2.5_f64 / CODES as f64).sqrt();
    assert!((found.by_receiver.unwrap() / by_hand - 1.0).abs() < 1e-3, "{found:?} not {by_hand}");
    assert!(found.by_residual.unwrap() < 1e-5, "{found:?}");
    // Without its readings there is no residual, and a peak has no formula.
    let bare = table.uncertainty(0, &align, &live, &readout, &[])[2];
    assert_eq!(bare, Uncertainty { by_residual: None, ..found });
    let peak = Align::star(Method::Peak, 0, STATES, STATES);
    assert_eq!(table.uncertainty(0, &peak, &live, &readout, &readings)[2], Uncertainty::default());
}

#[test]
fn a_silent_receiver_ends_a_calibration() {
    let align = fitted(Pairing::Star, false, 0);
    let all = (CODES * (PHASE.len() - 1)) as u32;
    for silent_after in [0, 5, all - 1] {
        let (done, _, _, readings) = calibrate(&align, NOISE_DB, 0, silent_after);
        assert_eq!((done, readings.len()), (Err(NoAnswer), silent_after as usize));
    }
    // Negative control: one that answers to the end.
    let (done, _, _, readings) = calibrate(&align, NOISE_DB, 0, all);
    assert_eq!((done, readings.len()), (Ok(()), all as usize));
}
