//! Facts of the trade. Common practice, no source.

use super::case::{Case, any_phase, line};
use beamyield::bench::{Bench, Code, CodeTable, LiveChannels, Pair, Reading, Scratch, Work};
use beamyield::engine::{Unit, rebuild};
use beamyield::math::Complex;
use beamyield::model::Model;
use std::convert::Infallible;

/// Units of two channels of any phase, swept without noise.
fn swept(bits: u32) -> Vec<Unit> {
    let model = any_phase(Case { array: line(2), bits, ..Case::default() }, "codes").model();
    (0..50).map(|trial| rebuild(&model, trial)).collect()
}

/// Codes of the highest and of the lowest reading of the one sweep.
fn peak_and_null(unit: &Unit) -> (Code, Code) {
    let readings = &unit.calibrations[0].readings;
    let of = |a: &Reading, b: &Reading| a.level_db.total_cmp(&b.level_db);
    let (peak, null) = (readings.iter().max_by(|a, b| of(a, b)), readings.iter().min_by(|a, b| of(a, b)));
    (peak.expect("readings").code, null.expect("readings").code)
}

#[test]
fn with_six_bits_the_null_lies_32_codes_from_the_peak() {
    let apart = |unit: &Unit| {
        let (peak, null) = peak_and_null(unit);
        peak.abs_diff(null)
    };
    let six = swept(6);
    assert!(six.iter().all(|unit| apart(unit) == 32));
    assert!(swept(5).iter().all(|unit| apart(unit) == 16));
    // The units differ, so that the peak stands at many codes.
    assert!(six.iter().any(|unit| peak_and_null(unit).0 != peak_and_null(&six[0]).0));
}

#[test]
fn with_six_bits_codes_are_5_625_degrees_apart() {
    // The peak's code is the one nearest to the phase that the sweep shows, within half of 5.625 deg.
    let off = |unit: &Unit, step: f64| {
        let phase = unit.calibrations[0].tables[0].phase[1].to_degrees();
        let away = phase - step * f64::from(peak_and_null(unit).0);
        (away - 360.0 * (away / 360.0).round()).abs()
    };
    let six = swept(6);
    let most = six.iter().map(|unit| off(unit, 5.625)).fold(0.0, f64::max);
    assert!(most <= 5.625 / 2.0 && most > 0.8 * 5.625 / 2.0, "{most}");
    assert!(six.iter().map(|unit| off(unit, 5.6)).fold(0.0, f64::max) > 5.625 / 2.0);
}

/// A bench that reads given levels of channels alone.
struct Levels([f32; 4], Work<1>);

impl Bench<1> for Levels {
    type Fault = Infallible;

    fn work(&self) -> &Work<1> {
        &self.1
    }

    fn read_alone(
        &mut self,
        _: u32,
        _: u32,
        _: Option<&[[bool; 1]]>,
        readings: &mut [[f32; 1]],
    ) -> Result<(), Infallible> {
        for (reading, level) in readings.iter_mut().zip(self.0) {
            *reading = [level];
        }
        Ok(())
    }

    fn detect(&mut self, _: usize, _: u32, _: u32, _: &[bool; 1]) -> Result<[f32; 1], Infallible> {
        unreachable!("channels are not looked at");
    }

    fn set_attenuators(&mut self, _: &[[Code; 1]]) -> Result<(), Infallible> {
        Ok(())
    }

    fn set_shifters(&mut self, _: &[[Code; 1]]) -> Result<(), Infallible> {
        Ok(())
    }

    fn join(&mut self, _: Pair, _: &[bool; 1]) -> Result<(), Infallible> {
        unreachable!("nothing is aligned");
    }

    fn set_reference(&mut self, _: Code) -> Result<(), Infallible> {
        unreachable!("nothing is aligned");
    }

    fn join_all(&mut self, _: usize, _: u32, _: &[bool; 1]) -> Result<(), Infallible> {
        unreachable!("nothing is aligned");
    }

    fn read_each(&mut self, _: &[Code; 1], _: &[bool; 1]) -> Result<[f32; 1], Infallible> {
        unreachable!("nothing is aligned");
    }

    fn read_toggled(&mut self, _: u32, _: &[bool]) -> Result<Complex<1>, Infallible> {
        unreachable!("nothing is aligned");
    }
}

fn levelling(rounding: &str) -> Model {
    Case {
        array: line(4),
        blocks: "[[block]]\nname = \"steps\"\nkind = \"attenuator\"\nbits = 6\nstep = \"0.5 dB\"\n".into(),
        calibration: format!("level = {{ toward = \"weakest\", rounding = \"{rounding}\" }}"),
        ..Case::default()
    }
    .model()
}

/// Attenuator codes for four channels that read these levels, dB.
fn levelled(rounding: &str, levels: [f32; 4]) -> Vec<Code> {
    let model = levelling(rounding);
    let mut table = CodeTable::<1>::new(4);
    let mut scratch = Scratch::default();
    let mut bench = Levels(levels, Work::default());
    let mut living = LiveChannels::default();
    let hardware = &model.hardware;
    let Ok(()) =
        model.calibrations[0].run(&mut bench, hardware, 0, None, &mut living, &mut scratch, &mut table);
    table.attenuator.iter().map(|code| code[0]).collect()
}

#[test]
fn channels_are_levelled_in_half_db_steps() {
    assert_eq!(levelled("nearest", [0.0, 0.0, 0.55, 0.85]), [0, 0, 1, 2]);
    assert_eq!(levelled("next_lower", [0.0, 0.0, 0.55, 0.85]), [0, 0, 2, 2]);
    // Only differences count; midway, the step that attenuates less.
    assert_eq!(levelled("nearest", [-3.0, -3.0, -2.45, -2.15]), [0, 0, 1, 2]);
    assert_eq!(levelled("nearest", [0.0, 0.0, 0.25, 0.75]), [0, 0, 0, 1]);
    assert_eq!(levelled("nearest", [0.0, 0.0, 0.26, 0.76]), [0, 0, 1, 2]);
}

#[test]
fn the_attenuators_take_out_what_the_levels_show() {
    // The same through a whole unit: after levelling no channel stands more than half a step off the weakest.
    let spread = |calibration: &str| {
        let case = Case {
            gain: "{ nominal = \"0 dB\", uniform = { half_width = \"2 dB\" } }".into(),
            array: line(4),
            calibration: calibration.into(),
            blocks: "[[block]]\nname = \"steps\"\nkind = \"attenuator\"\nbits = 6\nstep = \"0.5 dB\"\n"
                .into(),
            ..Case::default()
        };
        let unit = rebuild(&case.model(), 3);
        let gain = &unit.deviations[0][0];
        let left = gain
            .iter()
            .zip(&unit.calibrations[0].tables[0].attenuator)
            .map(|(gain, code)| gain - 0.5 * f64::from(*code));
        let left: Vec<f64> = left.collect();
        let weakest = gain.iter().copied().fold(f64::INFINITY, f64::min);
        left.iter().fold(0.0, |most: f64, level| most.max((level - weakest).abs()))
    };
    assert!(spread("level = { toward = \"weakest\" }") <= 0.25 + 1e-4);
    assert!(spread("") > 0.25);
}

#[test]
fn a_reading_shows_the_phase_that_the_draws_made() {
    // Phase found and phase built add to nothing, but for the reference's own.
    let ideal = any_phase(Case { array: line(4), ..Case::default() }, "phases").model();
    let unit = rebuild(&ideal, 7);
    let built = &unit.deviations[0][0];
    for channel in 1..4 {
        let sum = unit.calibrations[0].tables[0].phase[channel] + built[channel] - built[0];
        let turns = sum / std::f64::consts::TAU;
        assert!((turns - turns.round()).abs() < 1e-6, "{channel}: {sum}");
        let difference = (unit.calibrations[0].tables[0].phase[channel] - built[channel] + built[0])
            / std::f64::consts::TAU;
        assert!((difference - difference.round()).abs() > 1e-6, "the sign shows");
    }
}
