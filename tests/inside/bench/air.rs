//! Methods over the air with errors of the shifters.

use super::{drawn, folded, residual_rms, sinusoid};
use crate::inside::check_values::case::{Case, line, normal};
use beamyield::engine::rebuild;
use beamyield::figure::Figure;
use beamyield::math::TAU;
use beamyield::stats::Moments;

/// A unit in front of a probe, as numbers apart from the program: insertion phases, rad, and the shifters' codes.
struct Field {
    phases: Vec<f64>,
    states: u32,
    /// dB of each bit that is on.
    bit_gain_db: f64,
}

impl Field {
    fn channel(&self, channel: usize, code: u32) -> [f64; 2] {
        let size = 10f64.powf(self.bit_gain_db * f64::from(code.count_ones()) / 20.0);
        let angle = self.phases[channel] + TAU * f64::from(code) / f64::from(self.states);
        [size * angle.cos(), size * angle.sin()]
    }

    /// Phases that each channel is found to need over channel 0, every one rotating among the others at `standing`; the rotating
    /// one's amplitude is taken for less than the others' sum. With r^2 the largest over the smallest power it is
    /// (r - 1)/(r + 1) of that sum.
    fn rotate(&self, standing: &[u32]) -> Vec<f64> {
        let step = TAU / f64::from(self.states);
        let angles: Vec<f64> = (0..self.states).map(|code| step * f64::from(code)).collect();
        let over_all = (0..self.phases.len()).map(|rotating| {
            let sum = |code: u32| {
                let of = |n: usize| self.channel(n, if n == rotating { code } else { standing[n] });
                (0..self.phases.len()).fold([0.0, 0.0], |[re, im], n| [re + of(n)[0], im + of(n)[1]])
            };
            let powers: Vec<f64> =
                (0..self.states).map(|code| sum(code).iter().map(|x| x * x).sum()).collect();
            let (top, swing) = sinusoid(&angles, &powers);
            let r = ((1.0 + swing.min(1.0)) / (1.0 - swing.min(1.0)).max(1e-12)).sqrt();
            let rho = (r - 1.0) / (r + 1.0);
            let stands = step * f64::from(standing[rotating]);
            stands - (stands - top).sin().atan2((stands - top).cos() + rho)
        });
        let over_all: Vec<f64> = over_all.collect();
        over_all.iter().map(|phase| folded(phase - over_all[0])).collect()
    }

    fn nearest(&self, phases: &[f64]) -> Vec<u32> {
        let step = TAU / f64::from(self.states);
        phases.iter().map(|phase| (phase / step).round() as i32 as u32 & (self.states - 1)).collect()
    }
}

fn rotating(half_width: f64, error: f64, passes: u32, receiver: &str) -> Case {
    Case {
        array: line(12),
        bits: 5,
        figures: &[Figure::ResidualPhaseRms],
        amplifier: format!("phase = {{ uniform = {{ half_width = \"{half_width} deg\" }} }}"),
        // The shifter's keys end where its blocks begin.
        blocks: format!("bit_gain_error = \"{error} dB\"\n"),
        bench: receiver.into(),
        calibration: format!(
            "align = {{ method = \"rotating_element\" }}\noffsets = \"phases\"\npasses = {passes}"
        ),
        ..Case::default()
    }
}

#[test]
fn bits_with_gain_turn_a_rotating_element_as_brute_force_has_it() {
    for (half_width, error) in [(60.0, 0.4), (60.0, -0.8), (25.0, 0.4)] {
        let model = rotating(half_width, error, 1, "").model();
        let (mut most, mut without) = (0.0f64, 0.0f64);
        for trial in 0..30 {
            let unit = rebuild(&model, trial);
            let phases = drawn(&model, &unit, "amplifier.phase", 0);
            let right: Vec<f64> = phases.iter().map(|phase| folded(phases[0] - phase)).collect();
            let field = Field { phases, states: 32, bit_gain_db: error };
            let expected = field.rotate(&[0; 12]);
            let exact = Field { bit_gain_db: 0.0, ..field }.rotate(&[0; 12]);
            for (channel, found) in unit.calibrations[0].tables[0].phase.iter().enumerate() {
                let off = folded(found - expected[channel]);
                assert!(off.abs() < 2e-4, "{trial}, {channel}: {found} {}", expected[channel]);
                most = most.max(folded(found - right[channel]).abs());
                without = without.max(folded(exact[channel] - right[channel]).abs());
            }
        }
        // The error is that of the bits alone.
        assert!(most > 5e-3 && without < 1e-6, "{half_width}, {error}: {most} {without}");
    }
}

#[test]
fn a_second_pass_sees_the_elements_in_a_whole_field() {
    // Of wild phases some are found wrong at first, where one element outweighs the rest; by brute force, and by the bench.
    let models = [1, 2].map(|passes| rotating(180.0, 0.0, passes, "").model());
    let mut rms = [0.0; 2];
    let mut wrong = [0; 2];
    for trial in 0..60 {
        let units = models.each_ref().map(|model| rebuild(model, trial));
        let phases = drawn(&models[0], &units[0], "amplifier.phase", 0);
        let field = Field { phases: phases.clone(), states: 32, bit_gain_db: 0.0 };
        let first = field.rotate(&[0; 12]);
        let second = field.rotate(&field.nearest(&first));
        for (pass, (expected, unit)) in [first, second].iter().zip(&units).enumerate() {
            let mut left = Vec::new();
            for (channel, found) in unit.calibrations[0].tables[0].phase.iter().enumerate() {
                assert!(folded(found - expected[channel]).abs() < 0.02, "{trial}, pass {pass}, {channel}");
                left.push(folded(expected[channel] + phases[channel] - phases[0]));
            }
            rms[pass] += residual_rms(&left).powi(2);
            wrong[pass] += left.iter().filter(|phase| phase.abs() > 0.1).count();
        }
    }
    assert!(wrong[0] > 5 && wrong[1] * 4 < wrong[0], "{wrong:?}");
    assert!(rms[1] < 0.5 * rms[0], "{rms:?}");
}

#[test]
fn a_second_pass_shrinks_what_noise_leaves() {
    // The field of wild phases is the root of N elements, that of found phases N: the same noise in dB counts less after the first pass.
    let of = |passes| {
        let case =
            Case { trials: 4000, ..rotating(180.0, 0.0, passes, "receiver = { noise_floor = \"-15 dB\" }") };
        case.mean_square()
    };
    let (one, two) = (of(1), of(2));
    let bound = 4.0 * one.standard_error().hypot(two.standard_error());
    assert!(two.mean + bound < one.mean, "{} {} {bound}", one.mean, two.mean);
    // A third pass begins where the second began and finds no more than it: the negative control.
    let three = of(3);
    let bound = 4.0 * three.standard_error().hypot(two.standard_error());
    assert!(three.mean + bound > 0.9 * two.mean, "{} {}", three.mean, two.mean);
}

#[test]
fn half_a_turn_that_is_off_by_e_turns_a_toggled_channel_by_half_of_it() {
    // Toggled by H the amplitude that goes with the column is (x - x e^{j(pi + e)})/2 = x (1 + e^{je})/2, whose phase is e/2; the
    // rest stands still, in the column that is left out. Own derivation.
    let case = Case {
        array: line(7),
        bits: 5,
        amplifier: format!("phase = {}", normal(50.0, "deg")),
        blocks: format!("bit_phase_error = {}\n", normal(6.0, "deg")),
        calibration: "align = { method = \"coded_toggling\", reference = 2 }\noffsets = \"phases\"".into(),
        ..Case::default()
    };
    let model = case.model();
    let mut whole = 0.0f64;
    for trial in 0..50 {
        let unit = rebuild(&model, trial);
        let phases = drawn(&model, &unit, "amplifier.phase", 0);
        let half_turn = drawn(&model, &unit, "shifter.bit_phase_error", 4);
        for (channel, found) in unit.calibrations[0].tables[0].phase.iter().enumerate() {
            let over = |share: f64| {
                let of = |channel: usize| phases[channel] + share * half_turn[channel];
                folded(found + of(channel) - of(2))
            };
            assert!(over(0.5).abs() < 3e-6, "{trial}, {channel}: {}", over(0.5));
            whole = whole.max(over(1.0).abs());
        }
    }
    assert!(whole > 0.05, "{whole}");
}

#[test]
fn a_table_for_a_beam_takes_out_what_its_codes_are_off() {
    // At broadside all stand at code 0, so the lower bits' errors of a beam's codes are not seen; in its own direction they are.
    let of = |each_beam: bool| {
        let case = Case {
            trials: 3000,
            array: line(8),
            bits: 6,
            beams: vec![crate::inside::check_values::case::Beam { u: 0.37, null: None }],
            figures: &[Figure::ResidualPhaseRms],
            blocks: format!("bit_phase_error = {}\n", normal(5.0, "deg")),
            calibration: format!(
                "align = {{ method = \"coded_toggling\" }}\noffsets = \"phases\"\neach_beam = {each_beam}"
            ),
            ..Case::default()
        };
        case.mean_square()
    };
    let better =
        |a: &Moments, b: &Moments| a.mean + 4.0 * a.standard_error().hypot(b.standard_error()) < b.mean;
    let (broadside, own) = (of(false), of(true));
    println!("mean squares, deg^2: broadside {}, the beam's own {}", broadside.mean, own.mean);
    assert!(better(&own, &broadside), "{} {}", own.mean, broadside.mean);
    assert!(!better(&own, &own));
}
