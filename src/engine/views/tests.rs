//! Views against units rebuilt one by one.

use super::*;
use crate::engine::Pool;
use crate::engine::rebuild;
use crate::figure::Figure;
use crate::io::SourceText;
use crate::study::parse;

/// The small study with the figures of channels and of side lobes.
fn model_of(edits: &[(&str, &str)]) -> Model {
    let figures = "figures = [\"residual_phase_rms\", \"residual_amplitude_rms\", \"peak_side_lobe\"]";
    let text = include_str!("../../../tests/data/small.toml").replacen("trials = 130", figures, 1);
    let text = edits.iter().fold(text, |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    });
    let text = text.replacen("seed = 3", "seed = 3\ntrials = 130", 1);
    let source = SourceText { name: "small.toml".into(), text: text.clone() };
    crate::model::compile(&parse(&source).unwrap(), &text)
}

fn model() -> Model {
    model_of(&[])
}

fn views(model: &Model, calibration: usize, units: u64) -> Views {
    super::views(model, calibration, units)
}

/// Number of a calibration.
const FIT: usize = 1;
const CLIMB: usize = 2;

fn value(model: &Model, trial: u64, figure: Figure, point: usize) -> f64 {
    let column = model.columns.iter().position(|of| of.figure == figure && of.point == point).unwrap();
    rebuild(model, trial).calibrations[FIT].values[column]
}

#[test]
fn every_beam_is_shown_at_the_frequency_it_is_commanded_for() {
    let model = model();
    let views = views(&model, FIT, 40);
    assert_eq!(views.units, 40);
    let shown: Vec<(usize, f64)> = views
        .beams
        .iter()
        .map(|of| (model.points[of.point].beam, model.points[of.point].frequency))
        .collect();
    assert_eq!(shown, [(0, 10e9), (1, 10e9)]);
    for beam in &views.beams {
        let [cut] = &beam.cuts[..] else { panic!("a line has one cut") };
        for place in 0..cut.angle.len() {
            assert!(cut.low[place] <= cut.middle[place] && cut.middle[place] <= cut.high[place]);
            let worst = cut.worst.as_ref().unwrap()[place];
            assert!(
                [cut.error_free[place], worst, cut.high[place]].iter().all(|of| (-100.0..0.01).contains(of))
            );
        }
        assert!(cut.error_free.iter().any(|level| *level > -0.01), "the beam is in its cut");
        assert_eq!((beam.phase.len(), beam.amplitude.len()), (8, 8));
    }
}

/// The errors of the channels and the side lobe of one unit, from the view of it alone.
#[test]
fn the_view_of_one_unit_is_that_unit() {
    let model = model();
    let views = views(&model, FIT, 1);
    for beam in &views.beams {
        let rms = |levels: &[Levels]| {
            let square = |of: &Levels| {
                assert_eq!((of.least, of.low, of.high), (of.most, of.middle, of.middle));
                of.middle * of.middle
            };
            (levels.iter().map(square).sum::<f64>() / 8.0).sqrt()
        };
        let phase = value(&model, 0, Figure::ResidualPhaseRms, beam.point);
        assert!((rms(&beam.phase).to_degrees() / phase - 1.0).abs() < 1e-5);
        let amplitude = value(&model, 0, Figure::ResidualAmplitudeRms, beam.point);
        assert!((rms(&beam.amplitude) / amplitude - 1.0).abs() < 1e-5);

        let cut = &beam.cuts[0];
        assert_eq!(cut.worst.as_ref(), Some(&cut.middle));
        let lobes = cut.middle.windows(3).filter(|of| of[0] < of[1] && of[1] >= of[2]).map(|of| of[1]);
        let highest = lobes.filter(|level| *level < -3.0).fold(f64::NEG_INFINITY, f64::max);
        // Samples of 1 deg miss a top of some 15 deg in width by less than 0.1 dB.
        let side_lobe = value(&model, 0, Figure::PeakSideLobe, beam.point);
        assert!((-0.1..0.001).contains(&(highest - side_lobe)), "{highest}, {side_lobe}");
    }
}

#[test]
fn the_worst_unit_is_farthest_beyond_the_limit_that_most_miss() {
    // One limit is met by all, the other is not: on the gain of every beam, at two frequencies.
    let model = model_of(&[
        ("at_most = \"0.1 beamwidth\"", "at_most = \"0.001 deg\""),
        ("at_most = \"0.4 dB\"", "at_most = \"9 dB\""),
    ]);
    let views = views(&model, FIT, 40);
    let worst = views.beams[0].worst.unwrap();
    let limit = model.limits[worst.limit.unwrap()];
    assert_eq!(model.columns[limit.column].figure, Figure::PointingError);
    let size = |trial| rebuild(&model, trial).calibrations[FIT].values[limit.column].abs();
    let largest = (0..40).map(size).fold(0.0, f64::max);
    assert_eq!(size(worst.trial), largest);
    // The other beam has no such limit, so its highest side lobe decides.
    let worst = views.beams[1].worst.unwrap();
    assert_eq!(worst.limit, None);
    let side_lobe = |trial| value(&model, trial, Figure::PeakSideLobe, views.beams[1].point);
    let highest = (0..40).map(side_lobe).fold(f64::NEG_INFINITY, f64::max);
    assert_eq!(side_lobe(worst.trial), highest);
}

#[test]
fn threads_do_not_matter() {
    let model = model();
    let one = views(&model, FIT, 70);
    for threads in [2, 5] {
        assert_eq!(Pool::new(threads).unwrap().install(|| super::views(&model, FIT, 70)), one);
    }
}

/// Fewer units are the first of more, whatever the batch they came in.
#[test]
fn levels_of_a_direction_are_those_of_the_units() {
    let model = model();
    let of_units: Vec<f64> = (1..=17).map(|units| views(&model, FIT, units).beams[1].phase[5].most).collect();
    assert!(of_units.windows(2).all(|pair| pair[0] <= pair[1]) && of_units[0] < of_units[16]);
    let by_hand = Levels::of((0..=100).rev().map(f64::from).collect());
    assert_eq!(by_hand, Levels { least: 0.0, low: 5.0, middle: 50.0, high: 95.0, most: 100.0 });
    assert_eq!(Levels::of(vec![f64::NAN]).most, 0.0);
}

#[test]
fn the_sweep_is_that_of_the_first_pair() {
    let model = model();
    assert_eq!(views(&model, 0, 1).sweep, None, "a plan that reads nothing");
    let sweep = views(&model, FIT, 1).sweep.unwrap();
    assert_eq!((sweep.trial, sweep.reference, sweep.stepped), (0, Some(3), 0));
    let codes: Vec<Code> = sweep.readings.iter().map(|(code, _)| *code).collect();
    assert_eq!(codes, [0, 4, 8, 12, 16, 20, 24, 28]);
    let rebuilt = rebuild(&model, 0);
    let read = rebuilt.calibrations[FIT].readings.iter().filter(|of| matches!(of.of, Of::Pair { .. }));
    let levels: Vec<f64> = read.take(8).map(|of| f64::from(of.level_db)).collect();
    assert_eq!(sweep.readings.iter().map(|(_, level)| *level).collect::<Vec<_>>(), levels);
    // The code that is set is within half a step of the readings of the highest, and one code for the coupler's imbalance.
    let apart = |a: Code, b: Code| (a.wrapping_sub(b) & 31).min(b.wrapping_sub(a) & 31);
    let highest = |of: &SweepView| of.readings.iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap().0;
    assert!(apart(sweep.chosen.unwrap(), highest(&sweep)) <= 3);
    let climb = views(&model, CLIMB, 1).sweep.unwrap();
    assert!(apart(climb.chosen.unwrap(), highest(&climb)) <= 1);
}

/// Whatever a study holds, all that is drawn is a number.
#[test]
fn every_plan_of_every_kind_can_be_looked_at() {
    let text = include_str!("../../../tests/data/everything.toml");
    let source = SourceText { name: "everything.toml".into(), text: text.into() };
    let model = crate::model::compile(&parse(&source).unwrap(), text);
    for calibration in 0..model.calibrations.len() {
        let views = views(&model, calibration, 5);
        assert_eq!(views.beams.len(), model.beams.len());
        for beam in &views.beams {
            let curves = beam.cuts.iter().flat_map(|cut| [&cut.error_free, &cut.low, &cut.high]);
            assert!(curves.flatten().all(|level| level.is_finite()));
            assert!(beam.phase.iter().all(|of| of.least >= -4.0 && of.most <= 4.0));
        }
        let reads = model.calibrations[calibration].align.is_some();
        assert_eq!(views.sweep.is_some(), reads);
    }
}
