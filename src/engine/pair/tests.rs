//! Leaving out codes that cannot win against reading them all, and the powers of a pair.

use super::*;
use crate::bench::Receiver;
use crate::io::SourceText;
use crate::math::{Lanes, scalar, single};
use crate::random::draw;
use crate::{model, study};

const LANES: usize = 16;

/// A pair whose powers are those of phasors of any size and phase, drawn anew for each `slot`.
fn pair(bits: u32, slot: u32) -> PairPower<LANES> {
    let states = 1 << bits;
    let mut draws = vec![[0.0; LANES]; 4 + 2 * states];
    draw::normals::<LANES>(Key::new(3, "pair"), 0, slot, 1.0, &mut draws);
    let mut power = vec![[0.0; LANES]; states];
    for (code, power) in power.iter_mut().enumerate() {
        for l in 0..LANES {
            let turn = std::f32::consts::TAU * (code as f32 / states as f32) + 3.0 * draws[0][l];
            let size = single::exp(0.1 * draws[1][l]) * (1.0 + 0.01 * draws[4 + code][l]);
            let (sine, cosine) = single::sin_cos(turn);
            let (x, y) = (1.0 + size * cosine, size * sine);
            power[l] = 0.25 * (x * x + y * y);
        }
    }
    let groups = states.div_ceil(GROUP).next_multiple_of(FEW);
    let mut most = vec![[f32::NAN; LANES]; groups];
    for (power, most) in power.chunks(GROUP).zip(&mut most) {
        *most = std::array::from_fn(|l| power.iter().fold(0.0, |most: f32, power| most.max(power[l])));
    }
    PairPower {
        shifters: Shifters::none(),
        stepped: Complex::ZERO,
        signals: Vec::new(),
        turns: Vec::new(),
        turned: None,
        readings: power.clone(),
        is_read: vec![false; states.div_ceil(GROUP)],
        kept: Kept::default(),
        place: None,
        bound: vec![[f32::NAN; LANES]; groups],
        power,
        most,
    }
}

/// Noise, averaging, coarse and fine displays, floors of display and of noise.
fn receivers() -> Vec<Receiver> {
    let fine = Receiver {
        noise_db: 0.02,
        averages: 1,
        resolution_db: 0.01,
        floor_db: None,
        noise_floor_db: None,
        saturation_db: None,
    };
    vec![
        fine,
        Receiver { noise_db: 0.0, ..fine },
        Receiver { noise_db: 0.0, resolution_db: 0.0, ..fine },
        Receiver { noise_db: 0.5, resolution_db: 0.0, averages: 3, ..fine },
        Receiver { noise_db: 30.0, ..fine },
        Receiver { resolution_db: 3.0, ..fine },
        Receiver { floor_db: Some(-10.0), ..fine },
        Receiver { floor_db: Some(10.0), ..fine },
        Receiver { noise_floor_db: Some(-30.0), ..fine },
        Receiver { noise_floor_db: Some(5.0), averages: 2, ..fine },
    ]
}

/// The first code with the outermost of some readings.
fn first_of(readings: &[[f32; LANES]], sign: f32) -> [Code; LANES] {
    std::array::from_fn(|l| {
        let ahead = |best: usize, code: usize| {
            if sign * readings[code][l] > sign * readings[best][l] { code } else { best }
        };
        (0..readings.len()).fold(0, ahead) as Code
    })
}

/// The same of all readings, each of them drawn.
fn of_all(pair: &mut PairPower<LANES>, meter: &Meter, noise: Noise, sign: f32) -> [Code; LANES] {
    first_of(pair.read_all(meter, noise), sign)
}

#[test]
fn leaving_out_codes_that_cannot_win_changes_no_answer() {
    for receiver in receivers() {
        let meter = receiver.meter();
        for bits in [1, 2, 3, 6, 8] {
            for slot in 0..40 {
                let mut pair = pair(bits, slot);
                let noise = Noise { key: Key::new(4, "noise"), first_trial: 48, slot };
                let highest = of_all(&mut pair, &meter, noise, 1.0);
                let lowest = of_all(&mut pair, &meter, noise, -1.0);
                assert_eq!(
                    pair.outermost::<true>(&meter, None, noise),
                    highest,
                    "{receiver:?}, {bits} bits, {slot}"
                );
                assert_eq!(
                    pair.outermost::<false>(&meter, None, noise),
                    lowest,
                    "{receiver:?}, {bits} bits, {slot}"
                );
            }
        }
    }
}

/// A receiver that drifts from code to code, stretches levels and saturates, by little and by far too much: against every reading,
/// drawn and shown. The counter-check: the receiver taken for a steady one.
#[test]
fn leaving_out_codes_changes_no_answer_of_an_unsteady_receiver() {
    let mut is_seen = false;
    for (number, receiver) in (0..).zip(receivers()) {
        for saturation_db in [None, Some(-0.3)] {
            let meter = Receiver { saturation_db, ..receiver }.meter();
            for (bits, drift_db, tilt) in
                [(1, 0.1, 0.01), (6, 0.0, 0.02), (6, 0.3, 0.005), (8, 0.02, 0.3), (3, 90.0, 1.5)]
            {
                let mut draws = vec![[0.0; LANES]; (1 << bits) + 1];
                draw::normals::<LANES>(Key::new(5, "drift"), 0, number, 1.0, &mut draws);
                let tilt = draws.pop().expect("a row").map(|deviate| tilt * deviate);
                let mut drift = [0.0; LANES];
                for (code, row) in draws.iter_mut().enumerate() {
                    for l in 0..LANES {
                        // Lanes drift along, or from reading to reading, or stay.
                        drift[l] += drift_db * row[l];
                        row[l] = [drift[l] / (code as f32 + 1.0).sqrt(), drift_db * row[l], 0.0][l % 3];
                    }
                }
                for slot in 0..12 {
                    let mut pair = pair(bits, slot);
                    let noise = Noise { key: Key::new(4, "noise"), first_trial: 48, slot };
                    let mut readings = pair.read_all(&meter.without_display(), noise).to_vec();
                    for (reading, drift) in readings.iter_mut().zip(&draws) {
                        *reading =
                            std::array::from_fn(|l| meter.show_unsteady(reading[l], drift[l], tilt[l]));
                    }
                    let unsteady = Some(Unsteady { drift: &draws, tilt });
                    let highest = pair.outermost::<true>(&meter, unsteady, noise);
                    assert_eq!(highest, first_of(&readings, 1.0), "{meter:?}, {bits} bits, {slot}");
                    let lowest = pair.outermost::<false>(&meter, unsteady, noise);
                    assert_eq!(lowest, first_of(&readings, -1.0), "{meter:?}, {bits} bits, {slot}");
                    is_seen |= pair.outermost::<true>(&meter, None, noise) != highest;
                }
            }
        }
    }
    assert!(is_seen);
}

/// Were the bound too tight, some answer would change: the same search with a hundredth of the reach.
#[test]
fn a_bound_too_tight_changes_answers() {
    let noisy = receivers()[3];
    let sure = Receiver { noise_db: noisy.noise_db / 100.0, ..noisy };
    let changed = (0..40).any(|slot| {
        let mut pair = pair(6, slot);
        let noise = Noise { key: Key::new(4, "noise"), first_trial: 48, slot };
        let meter = noisy.meter().with_reach_of(&sure.meter());
        pair.outermost::<true>(&meter, None, noise) != of_all(&mut pair, &meter, noise, 1.0)
    });
    assert!(changed);
}

#[test]
fn readings_do_not_depend_on_how_they_are_asked_for() {
    let meter = receivers()[8].meter();
    let noise = Noise { key: Key::new(4, "noise"), first_trial: 7, slot: 2 };
    let mut pair = pair(6, 2);
    let one_by_one: Vec<_> = (0..64).rev().map(|code| pair.read(code, &meter, noise)).collect();
    assert!(pair.read_all(&meter, noise).iter().eq(one_by_one.iter().rev()));
    for count in [7, 13, 16, 40, 64] {
        let codes: Vec<Code> = (0..count).map(|i| i * 64 / count).collect();
        let mut some = vec![[0.0; LANES]; codes.len()];
        pair.is_read.fill(false);
        pair.read_some(&codes, &meter, noise, &mut some);
        assert!(codes.iter().zip(&some).all(|(code, of)| *of == one_by_one[63 - *code as usize]));
    }
}

/// Powers at every state, computed from sines and cosines in double precision.
#[test]
fn a_joined_pair_has_the_power_of_the_sum() {
    let study =
        include_str!("../../../studies/line-64.toml").replace("bits = 6\nbit_phase", "bits = 5\nbit_phase");
    let source = SourceText { name: "line-64.toml".into(), text: study };
    let model = model::compile(&study::parse(&source).expect("the study is right"), &source.text);
    let shifter = model.chain.shifter();
    let mut draws = model.sources.buffer::<LANES>();
    model.sources.draw(5, &mut draws);
    let (a, b) = (0.8, 0.6);
    let complex = |x| Complex { re: Lanes([x; LANES]), im: Lanes::ZERO };
    let mut pair = PairPower::new(shifter, 64);
    pair.join(Units::default(), shifter, &model.at_bench, &draws, 9, &complex(a), &complex(b));
    for code in 0..32 {
        let (mut gain, mut phase) = ([[0.0; LANES]], [[0.0; LANES]]);
        phase[0].fill(code as f32 * shifter.step() as f32);
        shifter.add_states(&model.at_bench, &draws, 9, &[[code; LANES]], &mut gain, &mut phase);
        for l in 0..LANES {
            let size = f64::from(b) * scalar::exp(f64::from(gain[0][l]));
            let (sine, cosine) = scalar::sin_cos(f64::from(phase[0][l]));
            let expected = (f64::from(a) + size * cosine).powi(2) + (size * sine).powi(2);
            let error = (f64::from(pair.power[code as usize][l]) - expected).abs();
            // Rounding of a few products of numbers of size 1.
            assert!(error < 2e-6, "{code}: {error}");
        }
    }
}

/// A reference that is turned after it was joined is read as one that was joined so: against every state worked out anew, bit for
/// bit, where states are products of bits, where each is given, and where the signals are. The counter-check: the reference as it was joined.
#[test]
fn a_turned_reference_is_read_as_one_that_was_joined_so() {
    let of_bits = include_str!("../../../studies/line-64.toml");
    let of_states =
        of_bits.replace("bit_phase_error", "state_phase_error").replace("bit_gain_error", "state_gain_error");
    let noise = Noise { key: Key::new(4, "noise"), first_trial: 48, slot: 5 };
    for (number, study) in [of_bits, &of_states].into_iter().enumerate() {
        let source = SourceText { name: "line-64.toml".into(), text: study.to_owned() };
        let model = model::compile(&study::parse(&source).expect("the study is right"), &source.text);
        let shifter = model.chain.shifter();
        let mut draws = model.sources.buffer::<LANES>();
        model.sources.draw(5, &mut draws);
        let complex = |re, im| Complex { re: Lanes([re; LANES]), im: Lanes([im; LANES]) };
        let (first, turned, stepped) = (complex(0.8, 0.0), complex(-0.3, 0.7), complex(0.5, 0.2));
        let join = |reference| {
            let mut pair = PairPower::new(shifter, 64);
            pair.join(Units::default(), shifter, &model.at_bench, &draws, 9, &reference, &stepped);
            pair
        };
        let (mut joined, mut other) = (join(turned), join(first));
        let mut pair = join(first);
        assert_eq!(pair.shifters.last().low.len() == 1, number == 1);
        pair.turn(3, turned);
        let signals: Vec<_> = (0..shifter.states() as Code).map(|code| pair.signal(code)).collect();
        let mut given = PairPower::new(shifter, 64);
        given.join_signals(&first, |given| given.copy_from_slice(&signals));
        given.turn(3, turned);
        let mixed = std::array::from_fn(|l| 3 * l as Code);
        for receiver in receivers() {
            let meter = receiver.meter();
            for code in 0..shifter.states() as Code {
                joined.is_read.fill(false);
                let expected = joined.read(code, &meter, noise);
                assert_eq!(pair.read(code, &meter, noise), expected);
                assert_eq!(given.read(code, &meter, noise), expected);
            }
            assert_eq!(pair.read_each(&mixed, &meter, noise), joined.read_each(&mixed, &meter, noise));
            let meter = receivers()[0].meter();
            assert_ne!(pair.read(7, &meter, noise), other.read(7, &meter, noise));
        }
        assert!(pair.turn_back(3) && !pair.turn_back(4) && pair.turn_back(0));
        assert!(!pair.is_turned());
        let meter = receivers()[0].meter();
        assert_eq!(pair.read_all(&meter, noise), other.read_all(&meter, noise));
    }
}

/// One after the other, several pairs read noise that is kept for them: sweeps, single codes in any order, searches, each lane by
/// itself, with few states and with many.
#[test]
fn noise_that_is_kept_is_the_noise_that_is_drawn() {
    for receiver in receivers() {
        let meter = receiver.meter();
        for order in [[6, 3, 8, 1, 2, 6], [1, 2, 3, 6, 8, 1]] {
            let mut kept = Kept::of_states(256);
            for (bits, first_trial) in order.into_iter().zip([16, 16, 16, 16, 16, 32]) {
                for slot in 0..6 {
                    let noise = Noise { key: Key::new(4, "noise"), first_trial, slot };
                    let [mut drawn, mut pair] = [(); 2].map(|()| pair(bits, slot));
                    std::mem::swap(&mut pair.kept, &mut kept);
                    pair.hear(&meter, noise);
                    let last = (1 << bits) - 1;
                    let codes: [Code; LANES] = std::array::from_fn(|l| (5 * l as Code + slot) & last);
                    let of_each = |pair: &mut PairPower<LANES>| pair.read_each(&codes, &meter, noise);
                    assert_eq!(of_each(&mut pair), of_each(&mut drawn));
                    for code in [last, 0, last / 2] {
                        assert_eq!(pair.read(code, &meter, noise), drawn.read(code, &meter, noise));
                        assert_eq!(
                            pair.read_each(&[code; LANES], &meter, noise),
                            drawn.read_each(&[code; LANES], &meter, noise)
                        );
                    }
                    // Before and after all is there.
                    for _ in 0..2 {
                        assert_eq!(
                            pair.outermost::<true>(&meter, None, noise),
                            drawn.outermost::<true>(&meter, None, noise)
                        );
                        assert_eq!(
                            pair.outermost::<false>(&meter, None, noise),
                            drawn.outermost::<false>(&meter, None, noise)
                        );
                        assert_eq!(pair.read_all(&meter, noise), drawn.read_all(&meter, noise));
                    }
                    assert_eq!(of_each(&mut pair), of_each(&mut drawn));
                    std::mem::swap(&mut pair.kept, &mut kept);
                }
            }
        }
    }
}

/// What is kept is read and not drawn: noise of another key in its place shows. And no more is kept than there is room for.
#[test]
fn noise_is_kept_up_to_a_bound() {
    let meter = receivers()[0].meter();
    let mut pair = pair(8, 0);
    pair.kept = Kept::of_states(256);
    let noise = |slot| Noise { key: Key::new(4, "noise"), first_trial: 0, slot };
    pair.hear(&meter, noise(0));
    let kept = pair.read_all(&meter, noise(0)).to_vec();
    assert_eq!(pair.read_all(&meter, noise(1)), kept, "read from where it is kept");
    // Two MiB of 256 codes, 16 lanes, four bytes.
    let places: Vec<bool> = (0..200).map(|slot| pair.kept.place(noise(slot)).is_some()).collect();
    assert_eq!(places.iter().filter(|is_kept| **is_kept).count(), 128);
    pair.hear(&meter, noise(199));
    assert_ne!(pair.read_all(&meter, noise(199)), kept);
}
