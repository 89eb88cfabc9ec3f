//! Channels that do not work: how many units fail for it, and what those that live with it lose.

use crate::check_values::case::{Beam, Case, line, mean, normal, nulls};
use crate::check_values::row::{Found, linear, row};
use crate::program::Folder;
use crate::support;
use beamyield::engine::Failure;
use beamyield::figure::Figure;

const TRIALS: u64 = 20_000;

fn with_dead(count: usize, probability: f64, allowed: usize, calibration: &str) -> Case {
    Case {
        trials: TRIALS,
        bits: 4,
        array: format!(
            "{}\ndead_channel = {{ probability = {probability}, allowed = {allowed} }}",
            line(count)
        ),
        calibration: calibration.into(),
        ..Case::default()
    }
}

/// Share of units that fail for a reason.
fn failing(case: &Case, failure: Failure) -> Found {
    let failed = support::run(&case.plan()).calibrations[0].failed[failure as usize];
    let value = failed as f64 / TRIALS as f64;
    Found { value, standard_error: (value * (1.0 - value) / TRIALS as f64).sqrt() }
}

#[test]
fn as_many_units_fail_as_the_binomial_law_says() {
    // 1 - (1 - p)^N of all have a dead channel, 1 - (1 - p)^N - N p (1 - p)^(N - 1) more than one. Own derivation.
    for (count, p) in [(8, 0.03f64), (16, 0.01)] {
        let n = f64::from(count as u32);
        let none = (1.0 - p).powf(n);
        let one = n * p * (1.0 - p).powf(n - 1.0);
        let share = |value: f64| row("share that fails", &format!("{value:.9}")).within(0.0);
        let found = |allowed| failing(&with_dead(count, p, allowed, ""), Failure::DeadChannels);
        share(1.0 - none).is_met_by(found(0));
        share(1.0 - none - one).is_met_by(found(1));
        share(1.0 - none).is_missed_by(found(1));
        share(1.0 - none).is_missed_by(failing(&with_dead(count, 1.1 * p, 0, ""), Failure::DeadChannels));
        assert_eq!(found(count).value, 0.0);
    }
}

#[test]
fn a_star_fails_with_its_reference_and_a_chain_with_any() {
    let share = |value: f64| row("share without reference", &format!("{value:.9}")).within(0.0);
    let found = |pairing: &str| {
        let align = format!("align = {{ method = \"null\", pairing = \"{pairing}\", reference = 3 }}");
        failing(&with_dead(8, 0.03, 8, &align), Failure::DeadReference)
    };
    let any = 1.0 - 0.97f64.powi(8);
    share(0.03).is_met_by(found("star"));
    share(any).is_met_by(found("chain"));
    share(any).is_met_by(found("all_pairs"));
    share(any).is_missed_by(found("star"));
    let air = with_dead(8, 0.03, 8, "align = { method = \"coded_toggling\", reference = 3 }");
    assert_eq!(failing(&air, Failure::DeadReference).value, 0.0);
}

#[test]
fn the_reason_stands_with_every_unit_and_in_the_sum() {
    let case = Case { trials: 600, ..with_dead(8, 0.03, 0, "align = { method = \"null\" }") };
    let folder = Folder::with(case.text() + "[[limit]]\nfigure = \"eirp_change\"\nat_least = \"-90 dB\"\n");
    folder.done(&["run", "study.toml", "--quiet", "--json", "run.json", "--csv", "run.csv"]);
    let table = folder.read("run.csv");
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let headings = reader.headers().expect("headings").clone();
    let place = |name: &str| headings.iter().position(|heading| heading == name).expect("a column");
    let (failure, passed, trial) = (place("failure"), place("passed"), place("trial"));
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    assert_eq!(rows.len(), 600);
    let reason = Failure::DeadChannels.reason();
    let dead: Vec<&csv::StringRecord> = rows.iter().filter(|row| &row[failure] == reason).collect();
    assert!(rows.iter().all(|row| (row[failure].is_empty()) == (&row[passed] == "true")));
    let of = &folder.json("run.json")["calibrations"][0];
    assert_eq!(of["failed_for"][reason], dead.len());
    assert_eq!(of["yield"]["passed"].as_u64(), Some(600 - dead.len() as u64));
    // Six in a hundred do not: neither all nor none.
    assert!((80..200).contains(&dead.len()), "{}", dead.len());
    let unit = dead[0][trial].to_owned();
    folder.done(&["unit", "study.toml", &unit, "--json", "unit.json"]);
    assert_eq!(folder.json("unit.json")["calibrations"][0]["failure"], reason);
}

/// The rows of A2 for 64 elements alike: 10 % of amplitude, 10 deg, 98 % of them alive.
fn with_errors(probability: f64, figures: &'static [Figure]) -> Case {
    let sd = 20.0 / std::f64::consts::LN_10 * (0.1f64 * 0.1).ln_1p().sqrt();
    Case {
        trials: 60_000,
        figures,
        bits: 12,
        gain: normal(sd, "dB"),
        amplifier: format!("phase = {}", normal(10.0, "deg")),
        ..with_dead(64, probability, 64, "")
    }
}

#[test]
fn a2_1_mean_power_at_the_beam_with_dead_elements() {
    // A2.1, dB: P^2 e^{-s^2} + [P (1 + sa^2) - P^2 e^{-s^2}]/N. Ruze 1952, Elliott 1958, Allen 1961 (memory). Amplitudes of mean 1: a gain
    // normal in dB has a mean power of 1 + sa^2 over them.
    let found = |p| {
        let power = with_errors(p, &[Figure::EirpChange]).average(|values| linear(values[0]));
        Found::level(&power).times(-1.0).plus(10.0 * 1.01f64.log10())
    };
    row("A2.1 N=64, P=0.98", "0.3035").within(1e-3).is_met_by(found(0.02));
    row("A2.1 N=64, P=0.98", "0.3035").within(1e-3).is_missed_by(found(0.022));
    row("A2.1 N=64, P=0.98", "0.3035").within(1e-3).is_missed_by(found(0.0));
}

#[test]
fn a2_2_floor_of_the_side_lobes_with_dead_elements() {
    // A2.2, dB over the coherent peak: [(1 + sa^2) e^{s^2}/P - 1]/N. The same sources.
    let found = |p| {
        let case = with_errors(p, &[Figure::NullDepth]);
        let beams: Vec<Beam> =
            nulls(&case.plan()).into_iter().map(|null| Beam { u: 0.0, null: Some(null) }).collect();
        assert!(beams.len() > 20);
        let case = Case { trials: 4000, beams, ..case };
        Found::level(&case.average(|values| mean(values.iter().map(|db| linear(*db)))))
    };
    row("A2.2 N=64, P=0.98", "-30.10").within(0.03).is_met_by(found(0.02));
    row("A2.2 N=64, P=0.98", "-30.10").within(0.03).is_missed_by(found(0.0));
}

#[test]
fn a2_3_loss_of_array_gain_with_dead_elements() {
    // A2.3, dB: c + (1 - c)/N, c = P e^{-s^2}/(1 + sa^2) (derived): dead elements count once, in the power at the beam twice.
    let found = |p| {
        let case = Case { trials: 30_000, ..with_errors(p, &[Figure::ArrayGainLoss]) };
        Found::mean(&case.average(|values| values[0]))
    };
    row("A2.3 N=64, P=0.98", "0.259").within(2e-3).is_met_by(found(0.02));
    row("A2.3 N=64, P=0.98", "0.259").within(2e-3).is_missed_by(found(0.022));
    row("A2.3 N=64, P=0.98", "0.3035").within(2e-3).is_missed_by(found(0.02));
}
