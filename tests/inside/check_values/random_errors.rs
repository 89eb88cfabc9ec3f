//! A2: random amplitude and phase errors, as built, without calibration. Broadside needs no rounding.
//!
//! The rows' amplitude errors are relative and of mean 1; an amplifier's gain is normal in dB, so its
//! amplitude is log-normal. A gain of t nepers gives the relative spread sa by exp(t^2) = 1 + sa^2, and the
//! mean exp(t^2/2), which is taken out where a row speaks of absolute power.

use super::case::{Beam, Case, each_unit, error_free_field, line, mean, normal, nulls, tapered};
use super::row::{LimitResult, linear, row};
use beamyield::figure::Figure;
use beamyield::math::scalar;

const TAYLOR: &str = "kind = \"taylor\", side_lobe = \"30 dB\", nbar = 5";
const DB_A_NEPER: f64 = 20.0 / beamyield::math::LN_10;

/// Gain spread, dB, of a relative amplitude spread.
fn gain_sd(relative: f64) -> f64 {
    DB_A_NEPER * scalar::ln_1p(relative * relative).sqrt()
}

/// An array with errors: rms relative amplitude, rms phase in degrees.
fn with_errors(array: String, amplitude: f64, phase_deg: f64) -> Case {
    Case {
        array,
        gain: normal(gain_sd(amplitude), "dB"),
        amplifier: format!("phase = {}", normal(phase_deg, "deg")),
        ..Case::default()
    }
}

/// Loss of the mean power at the beam over the error-free one, dB, amplitudes of mean 1.
fn power_loss(case: Case, amplitude: f64) -> LimitResult {
    let mean_power_gain = 10.0 * scalar::log10(1.0 + amplitude * amplitude);
    LimitResult::level(&case.average(|values| linear(values[0]))).times(-1.0).plus(mean_power_gain)
}

#[test]
fn a2_1_mean_power_at_the_beam() {
    // A2.1, dB: e^{-s^2} + [(1 + sa^2) - e^{-s^2}] sum a^2/(sum a)^2 for live elements. Ruze 1952, Elliott
    // 1958, Allen 1961 (memory). Last digit and standard errors of 0.001 dB; the negative control leaves out the second
    // term's 1/N.
    let found = |array, amplitude, phase| {
        power_loss(Case { trials: 200_000, ..with_errors(array, amplitude, phase) }, amplitude)
    };
    let uniform = row("A2.1 N=16", "0.03032");
    uniform.is_met_by(found(line(16), 0.05, 5.0));
    uniform.is_missed_by(found(line(1024), 0.05, 5.0));
    uniform.is_missed_by(found(line(16), 0.05, 5.5));
    let taylor = row("A2.1 N=32 Taylor", "0.04485");
    taylor.is_met_by(found(tapered(32, TAYLOR), 0.08, 6.0));
    taylor.is_missed_by(found(tapered(32, TAYLOR), 0.08, 6.5));
}

/// Mean level over the beam peak at the error-free nulls, dB.
fn floor(case: Case) -> LimitResult {
    let look_at = |null: f64| Beam { u: 0.0, null: Some(null) };
    let beams: Vec<Beam> = nulls(&case.model()).into_iter().map(look_at).collect();
    assert!(beams.len() > 4, "the pattern has nulls");
    let case = Case { beams, figures: &[Figure::NullDepth], ..case };
    LimitResult::level(&case.average(|values| mean(values.iter().map(|db| linear(*db)))))
}

#[test]
fn a2_2_mean_side_lobe_floor() {
    // A2.2, dB over the coherent peak: [(1 + sa^2) e^{s^2} - 1] sum a^2/(sum a)^2. Ruze 1952, Allen 1961,
    // Skolnik (memory). The row's brute tolerance; over the whole peak, as the figure has it, the level is
    // 0.005 dB lower.
    for (array, amplitude, phase, id, printed) in [
        (line(16), 0.05, 5.0, "A2.2 N=16", "-31.97"),
        (tapered(32, TAYLOR), 0.08, 6.0, "A2.2 N=32 Taylor", "-31.94"),
    ] {
        let floor_row = row(id, printed).within(0.03);
        let found = |phase| floor(Case { trials: 20_000, ..with_errors(array.clone(), amplitude, phase) });
        floor_row.is_met_by(found(phase));
        floor_row.is_missed_by(found(1.1 * phase));
    }
}

#[test]
fn a2_3_mean_array_gain_loss() {
    // A2.3, dB: c + (1 - c) sum a^2/(sum a)^2, c = e^{-s^2}/(1 + sa^2) (derived; its handbook form seen). The form
    // takes numerator and denominator as independent: 0.001 dB on a taper, where a brute-force run of 400,000 arrays
    // in NumPy gives 0.0720 dB, and less on a uniform line.
    for (array, amplitude, phase, id, printed, tolerance) in [
        (line(16), 0.05, 5.0, "A2.3 N=16", "0.0412", 0.0003),
        (tapered(32, TAYLOR), 0.08, 6.0, "A2.3 N=32 Taylor", "0.0726", 0.001),
    ] {
        let found = |phase| {
            let case = with_errors(array.clone(), amplitude, phase);
            let case = Case { trials: 100_000, figures: &[Figure::ArrayGainLoss], ..case };
            LimitResult::mean(&case.average(|values| values[0]))
        };
        row(id, printed).within(tolerance).is_met_by(found(phase));
        row(id, printed).within(tolerance).is_missed_by(found(1.05 * phase));
    }
}

#[test]
fn a2_4_amplitude_error_normal_in_db() {
    // A2.4: penalty E[a^2]/E[a]^2 = e^{t^2}, dB, and relative spread sqrt(e^{t^2} - 1), %, t in nepers
    // (derived). Of 4096 elements the loss lacks 1/4096 of itself.
    let penalty = |gain_sd_db| {
        let figures = &[Figure::ArrayGainLoss];
        let gain = normal(gain_sd_db, "dB");
        let case = Case { trials: 200, array: line(4096), gain, figures, ..Case::default() };
        LimitResult::mean(&case.average(|values| values[0]))
    };
    let relative = |loss: LimitResult| {
        let excess = linear(loss.value) - 1.0;
        let slope = linear(loss.value) / (DB_A_NEPER * excess.sqrt());
        LimitResult { value: 100.0 * excess.sqrt(), standard_error: 100.0 * slope * loss.standard_error }
    };
    for (sd, loss, loss_id, spread, spread_id) in [
        (0.5, "0.01439", "A2.4 0.5 dB, penalty", "5.761", "A2.4 0.5 dB, spread"),
        (1.0, "0.05756", "A2.4 1 dB, penalty", "11.55", "A2.4 1 dB, spread"),
    ] {
        row(loss_id, loss).is_met_by(penalty(sd));
        row(spread_id, spread).is_met_by(relative(penalty(sd)));
        row(loss_id, loss).is_missed_by(penalty(1.02 * sd));
        row(spread_id, spread).is_missed_by(relative(penalty(1.02 * sd)));
    }
}

/// Share of levels at the beam points below a limit, dB over the beam peak.
fn share_below(case: Case, limit: f64) -> LimitResult {
    let case = Case { figures: &[Figure::NullDepth], ..case };
    LimitResult::mean(&case.average(|values| mean(values.iter().map(|level| f64::from(*level < limit)))))
}

/// Errors, alike in phase and in amplitude, that raise a floor (dB over the coherent peak) on a taper of 32:
/// by A2.2 with 1 + sa^2 = e^{s^2}, s^2 = ln(1 + floor/share)/2.
fn circular_errors(taper: &str, floor_db: f64) -> Case {
    let array = tapered(32, taper);
    let amplitude = Case { array: array.clone(), ..Case::default() }.model().array.amplitude;
    let sum: f64 = amplitude.iter().sum();
    let share = amplitude.iter().map(|a| a * a).sum::<f64>() / (sum * sum);
    let s = (0.5 * scalar::ln_1p(linear(floor_db) / share)).sqrt();
    Case {
        array,
        gain: normal(DB_A_NEPER * s, "dB"),
        amplifier: format!("phase = {}", normal(s.to_degrees(), "deg")),
        ..Case::default()
    }
}

/// Directions of a line's error-free side lobes.
fn side_lobes(case: &Case) -> Vec<Beam> {
    let model = case.model();
    let nulls = nulls(&model);
    let top = |pair: &[f64]| {
        let samples = (0..=1000).map(|i| pair[0] + (pair[1] - pair[0]) * f64::from(i) / 1000.0);
        let size = |u: &f64| error_free_field(&model, *u).abs();
        let highest = samples.max_by(|a, b| size(a).total_cmp(&size(b)));
        Beam { u: 0.0, null: highest }
    };
    nulls.windows(2).map(top).collect()
}

#[test]
fn a2_5_a_side_lobe_stays_below_a_limit() {
    // A2.5: Rice distribution of the level for a design level, a mean floor and a limit, dB over the coherent peak.
    // Ruze 1952, Allen 1961, Skolnik (memory). The side lobes of a Chebyshev taper are all at the design
    // level. The row's brute tolerance.
    for (design, floor, limit, id, printed) in [
        (30, -40.0, -27.0, "A2.5 -30/-40/-27", "0.96001"),
        (30, -35.0, -27.0, "A2.5 -30/-35/-27", "0.80727"),
        (40, -50.0, -38.0, "A2.5 -40/-50/-38", "0.85494"),
    ] {
        let taper = format!("kind = \"dolph_chebyshev\", side_lobe = \"{design} dB\"");
        let found = |floor| {
            let case = circular_errors(&taper, floor);
            let beams = side_lobes(&case);
            assert!(beams.len() > 8);
            share_below(Case { trials: 10_000, beams, ..case }, limit)
        };
        row(id, printed).within(0.002).is_met_by(found(floor));
        row(id, printed).within(0.002).is_missed_by(found(floor + 1.0));
    }
}

#[test]
fn a2_6_the_same_by_a_whole_array() {
    // A2.6: N=32, Taylor 30 dB nbar 5, sa = 0.08, s = 6 deg, u = 0.2153: error-free level, dB, and P(level <
    // -27 dB) (derived). The figure is over the unit's own peak, whose mean is that of the coherent one to
    // 0.003 dB.
    let at = Beam { u: 0.0, null: Some(0.2153) };
    let case = |phase| Case {
        trials: 160_000,
        beams: vec![at],
        figures: &[Figure::NullDepth],
        ..with_errors(tapered(32, TAYLOR), 0.08, phase)
    };
    let error_free = case(6.0).model().points[0].error_free_value(Figure::NullDepth).expect("a level");
    row("A2.6 error-free", "-30.99").is_met_by(LimitResult::exactly(error_free));
    let share = row("A2.6 P", "0.7448").within(0.001);
    share.is_met_by(share_below(case(6.0), -27.0));
    share.is_missed_by(share_below(case(6.6), -27.0));
}

#[test]
fn a2_7_levels_at_a_null_are_rayleigh() {
    // A2.7, dB over the mean floor, not passed with P: 10 log10(-ln(1 - P)). Allen 1961, Skolnik (memory).
    let case = circular_errors("kind = \"uniform\"", -35.0);
    let beams: Vec<Beam> = nulls(&case.model()).into_iter().map(|u| Beam { u: 0.0, null: Some(u) }).collect();
    let case = Case { trials: 20_000, beams, figures: &[Figure::NullDepth], ..case };
    let mut levels = Vec::new();
    each_unit(&case.model(), |values| levels.extend_from_slice(values));
    levels.sort_by(f64::total_cmp);
    let count = levels.len() as f64;
    let floor = 10.0 * scalar::log10(mean(levels.iter().map(|db| linear(*db))));
    let quantile = |p: f64| {
        let at = |p: f64| levels[(p * count) as usize];
        let spread = (p * (1.0 - p) / count).sqrt();
        LimitResult { value: at(p) - floor, standard_error: 0.5 * (at(p + spread) - at(p - spread)) }
    };
    for (p, id, printed) in [
        (0.50, "A2.7 50 %", "-1.592"),
        (0.90, "A2.7 90 %", "3.622"),
        (0.95, "A2.7 95 %", "4.765"),
        (0.99, "A2.7 99 %", "6.632"),
    ] {
        row(id, printed).within(0.01).is_met_by(quantile(p));
        // A hundredth to the side is another level.
        row(id, printed).within(0.01).is_missed_by(quantile(p - 0.009));
    }
}

/// Rms pointing error, deg, of phase errors in degrees.
fn pointing(case: Case, phase_deg: f64) -> LimitResult {
    let amplifier = format!("phase = {}", normal(phase_deg, "deg"));
    LimitResult::root(&Case { amplifier, figures: &[Figure::PointingError], ..case }.mean_square())
}

#[test]
fn a2_8_pointing_error_of_a_line() {
    // A2.8, rms deg: s sqrt(sum a^2 x^2)/(k d sum a x^2) (derived; its large-N form seen). The linear
    // formula: 1 % at 10 deg, and as s^2.
    let wide = "layout = { kind = \"linear\", count = 32, spacing = \"0.6 wavelength\" }".to_owned();
    for (array, phase, id, printed, linearity) in [
        (line(8), 10.0, "A2.8 N=8, 10 deg", "0.4912", 0.01),
        (line(16), 5.0, "A2.8 N=16, 5 deg", "0.08631", 0.003),
        (wide, 8.0, "A2.8 N=32, d=0.6", "0.04063", 0.007),
        (tapered(32, TAYLOR), 8.0, "A2.8 N=32 Taylor", "0.05322", 0.007),
    ] {
        let case = Case { array, trials: 40_000, ..Case::default() };
        let expected = row(id, printed).within_share(linearity);
        expected.is_met_by(pointing(case.clone(), phase));
        expected.is_missed_by(pointing(case, 1.05 * phase));
    }
}

#[test]
fn a2_10_pointing_error_of_a_plane() {
    // A2.10, in-plane rms deg: s/(k d) sqrt(12/(nx ny (nx^2 - 1))). Carver 1973 (derived). The figure is the
    // whole angle, in a square array sqrt(2) times the in-plane one. Linear formula: 1 % at 10 deg.
    let plane = |side: usize| {
        let spacing = "column_spacing = \"0.5 wavelength\", row_spacing = \"0.5 wavelength\"";
        let array =
            format!("layout = {{ kind = \"rectangular\", columns = {side}, rows = {side}, {spacing} }}");
        pointing(Case { array, trials: 4_000, ..Case::default() }, 10.0).times(0.5f64.sqrt())
    };
    let expected = row("A2.10 8x8", "0.1737").within_share(0.01);
    expected.is_met_by(plane(8));
    expected.is_missed_by(plane(7));
}

#[test]
fn a2_11_errors_shared_by_a_chip() {
    // A2.11, N=32, k=4, 10 deg: e^{-s^2} + (1 - e^{-s^2}) k/N, dB; s sqrt(sum over chips of (sum x)^2)/(k d
    // sum x^2), deg (derived). Without the shared draws the pointing error is half as large, the loss a tenth
    // larger.
    let case = |chip: usize, figures| Case {
        trials: 40_000,
        array: format!("{}\nchip = {chip}", line(32)),
        amplifier: "phase = { nominal = \"0 deg\", normal = { sd = \"10 deg\" }, scope = \"chip\" }".into(),
        figures,
        ..Case::default()
    };
    let loss = |chip| power_loss(case(chip, &[Figure::EirpChange]), 0.0);
    let pointing = |chip| LimitResult::root(&case(chip, &[Figure::PointingError]).mean_square());
    row("A2.11 loss", "0.1155").is_met_by(loss(4));
    row("A2.11 loss", "0.1155").is_missed_by(loss(1));
    let error = row("A2.11 pointing", "0.1210").within_share(0.01);
    error.is_met_by(pointing(4));
    error.is_missed_by(pointing(1));
    error.is_missed_by(pointing(2));
}
