use super::*;
use crate::chain::{Conditions, PhaseShifter};
use crate::io::{Document, Findings, SourceText, render};
use crate::random::{Grouping, Sources};

const BITS: u32 = 5;
const CODES: usize = 1 << BITS;

fn shifter(keys: &str) -> Result<PhaseShifter<Tolerance>, String> {
    let document =
        Document::parse(SourceText { name: "study.toml".into(), text: format!("bits = {BITS}\n{keys}") });
    let findings = Findings::default();
    let shifter = PhaseShifter::read(&document.root(&findings));
    if findings.has_errors() {
        Err(render(&document.source, &findings.into_vec(), false))
    } else {
        Ok(shifter)
    }
}

fn sum(errors: &str) -> PhaseShifter {
    bound(errors, &mut Sources::new(1, Grouping { channels: 1, chip: 1, board: None, lot: None }))
}

fn bound(errors: &str, sources: &mut Sources) -> PhaseShifter {
    let written = shifter(&format!("vector_sum = {{ {errors} }}")).unwrap();
    written.map(&mut |of| sources.bind(of.key.into(), of.tolerance, of.slots, of.dimension, of.on_use))
}

const AT: Conditions =
    Conditions { frequency: 1e10, command_frequency: 1e10, temperature: 300.0, reference_temperature: 300.0 };

/// Complex gain of every state of a shifter without spread.
fn states(shifter: &PhaseShifter) -> Vec<(f64, f64)> {
    let draws = Sources::new(1, Grouping { channels: 1, chip: 1, board: None, lot: None }).buffer::<1>();
    let mut states = shifter.room::<1>();
    shifter.states_of(&AT, &draws, 0, &mut states);
    states.high.iter().map(|s| (f64::from(s.re.0[0]), f64::from(s.im.0[0]))).collect()
}

/// Phase error of every state, rad.
fn phases(shifter: &PhaseShifter) -> Vec<f64> {
    let draws = Sources::new(1, Grouping { channels: 1, chip: 1, board: None, lot: None }).buffer::<1>();
    let phase = |code| {
        let (mut gain, mut phase) = ([[0.0]], [[0.0]]);
        shifter.add_states(&AT, &draws, 0, &[[code]], &mut gain, &mut phase);
        f64::from(phase[0][0])
    };
    (0..CODES as Code).map(phase).collect()
}

fn angle(code: usize) -> f64 {
    TAU * code as f64 / CODES as f64
}

/// Furthest that phase errors are from a formula of the state's phase.
fn furthest(phases: &[f64], formula: impl Fn(f64) -> f64) -> f64 {
    phases.iter().enumerate().map(|(code, phase)| (phase - formula(angle(code))).abs()).fold(0.0, f64::max)
}

/// Size of the component of the states that turns `k` times as they go through the codes: a discrete Fourier sum.
fn component(states: &[(f64, f64)], k: f64) -> f64 {
    let (mut re, mut im) = (0.0, 0.0);
    for (code, (x, y)) in states.iter().enumerate() {
        let (sine, cosine) = (-k * angle(code)).sin_cos();
        re += x * cosine - y * sine;
        im += x * sine + y * cosine;
    }
    re.hypot(im) / states.len() as f64
}

#[test]
fn weights_are_rounded_to_the_steps_of_the_converters() {
    for (dac_bits, steps) in [(2, 1.0), (4, 7.0), (7, 63.0), (16, 32767.0)] {
        for (code, (re, im)) in states(&sum(&format!("dac_bits = {dac_bits}"))).into_iter().enumerate() {
            let (sine, cosine) = angle(code).sin_cos();
            let expected = [cosine, sine].map(|x| (x * steps).round_ties_even() / steps);
            assert!((re - expected[0]).abs() < 1e-6 && (im - expected[1]).abs() < 1e-6, "{dac_bits}, {code}");
        }
    }
}

/// Source of the three: own derivation, first order; what is left is the square of the error.
#[test]
fn each_error_has_its_own_period_over_the_code() {
    let eps = 2f64.to_radians();
    let found = phases(&sum("dac_bits = 16, quadrature_error = \"2 deg\""));
    assert!(furthest(&found, |theta| 0.5 * eps * (1.0 - (2.0 * theta).cos())) < eps * eps);
    assert!(furthest(&found, |theta| 0.5 * eps * (1.0 + (2.0 * theta).cos())) > 0.9 * eps);

    // The gain of Q over that of I, in nepers: the second harmonic.
    let g = NEPERS_A_DB * 0.3;
    let found = phases(&sum("dac_bits = 16, i_gain_error = \"-0.1 dB\", q_gain_error = \"0.2 dB\""));
    assert!(furthest(&found, |theta| 0.5 * g * (2.0 * theta).sin()) < g * g);
    assert!(furthest(&found, |theta| 0.5 * g * theta.sin()) > 0.5 * g);

    // Offsets: the first.
    let (i, q) = (0.02, -0.01);
    let found = phases(&sum("dac_bits = 16, i_offset = 0.02, q_offset = \"-1 %\""));
    assert!(furthest(&found, |theta| q * theta.cos() - i * theta.sin()) < i * i);
    assert!(furthest(&found, |theta| q * (2.0 * theta).cos() - i * theta.sin()) > 0.5 * i);
}

/// 0.1 dB of imbalance: an image 44.80 dB down (exact; Richards, Fundamentals of Radar Signal Processing, sec. 3, gives 44.7
/// from the form for small errors).
#[test]
fn imbalance_makes_an_image() {
    let image = |errors: &str| {
        let states = states(&sum(&format!("dac_bits = 16, {errors}")));
        20.0 * (component(&states, -1.0) / component(&states, 1.0)).log10()
    };
    let level = image("i_gain_error = \"0.1 dB\"");
    assert!((level + 44.80).abs() < 0.01, "{level}");
    // Another one differs.
    assert!((image("i_gain_error = \"0.11 dB\"") + 44.80).abs() > 0.5);
    // Own derivation: an error of the quarter turn alone has an image of tan(eps/2).
    let level = image("quadrature_error = \"1 deg\"");
    assert!((level - 20.0 * 0.5f64.to_radians().tan().log10()).abs() < 0.01, "{level}");
}

#[test]
fn errors_are_drawn_in_their_scope() {
    let errors = "dac_bits = 8, i_offset = { normal = { sd = 0.01 } }, \
                  quadrature_error = { normal = { sd = \"2 deg\" }, scope = \"chip\" }";
    let mut sources = Sources::new(1, Grouping { channels: 4, chip: 2, board: None, lot: None });
    let shifter = bound(errors, &mut sources);
    let mut draws = sources.buffer::<1>();
    sources.draw(3, &mut draws);
    let mut gain = [[0.0]; 4];
    // A quarter turn feels eps in full; I is zero there, so that its offset turns the phase too.
    let mut phase = [[0.0]; 4];
    shifter.add_states(&AT, &draws, 0, &[[CODES as Code / 4]; 4], &mut gain, &mut phase);
    for (channel, [phase]) in phase.into_iter().enumerate() {
        let offset = draws.deviation(&sources.list()[0], 0, channel, 0);
        let eps = draws.deviation(&sources.list()[1], 0, channel / 2, 0);
        // First order.
        assert!((f64::from(phase) - (eps - offset)).abs() < 2e-3, "{channel}: {phase}");
        assert!(offset.abs() > 1e-4 && eps.abs() > 1e-4);
    }
}

#[test]
fn nothing_leaves_the_range_of_numbers() {
    for errors in [
        "i_gain_error = \"900 dB\", q_gain_error = \"-900 dB\"",
        "i_offset = -1.0",
        "i_offset = 1e6, q_offset = -1e6, quadrature_error = \"90 deg\"",
    ] {
        let shifter = sum(&format!("dac_bits = 8, {errors}"));
        assert!(phases(&shifter).iter().all(|phase| phase.is_finite()), "{errors}");
        assert!(states(&shifter).iter().all(|(x, y)| (x * x + y * y) < 1e30), "{errors}");
    }
}

#[test]
fn a_vector_sum_stands_alone() {
    for other in
        ["bit_phase_error = \"1 deg\"", "state_gain_error = \"1 dB\"", "states = { csv = \"x.csv\" }"]
    {
        let said = shifter(&format!("vector_sum = {{ dac_bits = 7 }}\n{other}")).unwrap_err();
        assert!(said.contains("beside `vector_sum`") && said.contains("study.toml:3:"), "{said}");
    }
    let said = shifter("vector_sum = { dac_bits = 1 }").unwrap_err();
    assert!(said.contains("`dac_bits` is 1, but must be from 2 to 16"), "{said}");
    assert!(shifter("vector_sum = {}").unwrap_err().contains("missing key `dac_bits`"));
}
