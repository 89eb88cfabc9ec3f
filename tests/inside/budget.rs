//! Who owns the variance and the failures: shares against closed forms, switching off against studies without the distribution, and the
//! command itself.

mod gains;
mod rounding;
mod varied;

use crate::inside::check_values::case::{Case, each_unit, normal};
use crate::inside::folder::{SMALL, edited};
use crate::inside::support;
use beamyield::decide::budget::{Budget, VarianceShares, budget, fewest_units};
use beamyield::engine::{Control, End};
use beamyield::figure::Figure;
use beamyield::model::Model;
use beamyield::model::vary::{Cause, Wish, causes, join};
use beamyield::stats::Estimate;
use beamyield::study::Trials;
use std::sync::atomic::{AtomicBool, Ordering};

fn shared_out(model: &Model, causes: Vec<Cause>, figure: Option<Figure>, threads: usize) -> Budget {
    let control = Control { threads, interrupt: &AtomicBool::new(false) };
    let budget = budget(model, causes, figure, control, &mut |_| ()).expect("the run ends well");
    budget.expect("there are units enough")
}

fn cause<'c>(causes: &'c [Cause], name: &str) -> &'c Cause {
    causes.iter().find(|of| of.name == name).unwrap_or_else(|| panic!("no cause {name}"))
}

/// The first column after the first calibration plan, `[unit]`.
fn first_column(model: &Model) -> Vec<f64> {
    let mut values = Vec::new();
    each_unit(model, |row| values.push(row[0]));
    values
}

/// Standard errors that an estimate is off a value, by its own 95 % interval.
fn off(of: &Estimate, value: f64) -> f64 {
    (of.value - value).abs() / ((of.high - of.low) / 3.92)
}

/// A line of 16 whose amplifier and whose trim, another amplifier, turn phases by small normal errors (deg).
fn two_blocks(amplifier: f64, trim: f64) -> Case {
    let phase = |sd| format!("phase = {}", normal(sd, "deg"));
    Case {
        seed: 5,
        trials: 4096,
        figures: &[Figure::PointingError],
        amplifier: phase(amplifier),
        blocks: format!("[[block]]\nname = \"trim\"\nkind = \"amplifier\"\ngain = \"0 dB\"\n{}", phase(trim)),
        ..Case::default()
    }
}

/// Shares alone and in all of the two blocks and of both together, in one budget.
fn shares_of_two(amplifier: f64, trim: f64) -> VarianceShares {
    let model = two_blocks(amplifier, trim).model();
    let causes = causes(&model);
    let names: Vec<&str> = causes.iter().map(|of| of.name.as_str()).collect();
    assert_eq!(names, ["amplifier.phase", "trim.phase", "shifter.rounding"]);
    shared_out(&model, causes, None, 2).calibrations[0].figures[0].owned.clone()
}

/// Pointing is linear in small phase errors (own derivation; the same slope for both blocks), so with sd s1 and s2 the shares are
/// s1^2/(s1^2 + s2^2) = 0.2 and 0.8, alone and in all, and nothing is owned together. Four standard errors.
#[test]
fn a_linear_figure_is_shared_out_by_variances() {
    let owned = shares_of_two(0.5, 1.0);
    let share = |owned: &VarianceShares, cause: usize| owned.shares[cause].clone().expect("a share");
    for (number, due) in [(0, 0.2), (1, 0.8)] {
        let share = share(&owned, number);
        assert!(off(&share.alone, due) < 4.0 && off(&share.in_all, due) < 4.0, "{number}: {share:?}");
        assert!(share.in_all.high - share.in_all.low < 0.1, "{share:?}");
    }
    let together = owned.together.as_ref().expect("all were run");
    assert!(off(together, 0.0) < 4.0 && together.high < 0.2, "{together:?}");
    assert!(owned.lead.as_ref().is_some_and(|lead| lead.first == 1 && lead.second == 0 && lead.is_told()));
    assert!(owned.shares[2].is_none(), "rounding is no draw");
    // The blocks exchanged are seen.
    let swapped = shares_of_two(1.0, 0.5);
    for (number, due) in [(0, 0.2), (1, 0.8)] {
        let share = share(&swapped, number);
        assert!(off(&share.alone, due) > 4.0 && off(&share.in_all, due) > 4.0, "{number}: {share:?}");
    }
}

/// A group owns what its members own: both blocks are all of the variance.
#[test]
fn a_group_owns_what_its_members_own() {
    let model = two_blocks(0.5, 1.0).model();
    let items = vec!["amplifier".to_owned(), "trim.phase".to_owned()];
    let joined = join(causes(&model), &[Wish { name: "phases".into(), items }]).expect("both are there");
    let budget = shared_out(&model, joined, None, 2);
    assert_eq!(budget.causes[0].holds, ["amplifier.phase", "trim.phase"]);
    let of = &budget.calibrations[0];
    let share = of.figures[0].owned.shares[0].as_ref().expect("a share");
    assert!(off(&share.alone, 1.0) < 4.0 && off(&share.in_all, 1.0) < 4.0, "{share:?}");
    // Without both there is no error left, but for single precision.
    let perfect = of.perfect[0].as_ref().expect("it was run");
    assert!(perfect.moments[0].sd() < 1e-5 && of.figures[0].moments.sd() > 0.01, "{perfect:?}");
}

/// Where units of a lot share a draw, lots are what is counted.
#[test]
fn lots_count_where_they_share_a_draw() {
    let with_lots = edited(SMALL, &[("trials = 130", "trials = 130\nlot = 50")]);
    assert_eq!(fewest_units(&support::model(&with_lots)), 1024);
    let drawn = edited(&with_lots, &[("scope = \"chip\"", "scope = \"lot\"")]);
    assert_eq!(fewest_units(&support::model(&drawn)), 50 * 64);
}

#[test]
fn a_budget_does_not_depend_on_threads() {
    let model = Model { trials: Trials::Fixed(1100), ..support::model(SMALL) };
    let of =
        |threads| format!("{:?}", shared_out(&model, causes(&model), Some(Figure::PointingError), threads));
    assert_eq!(of(1), of(3));
}

#[test]
fn a_stopped_budget_keeps_what_was_run() {
    let model = Model { trials: Trials::Fixed(1 << 28), ..support::model(SMALL) };
    let interrupt = AtomicBool::new(false);
    let control = Control { threads: 2, interrupt: &interrupt };
    let stop = |at: u64| {
        interrupt.store(false, Ordering::Relaxed);
        let mut progress = |done: u64| interrupt.store(done > at, Ordering::Relaxed);
        budget(&model, causes(&model), None, control, &mut progress).expect("the run ends well")
    };
    assert!(stop(100).is_none(), "too few to tell anything");
    let budget = stop(8 * 2000).expect("enough units");
    assert!(budget.end == End::Interrupted && (1024..1 << 20).contains(&budget.units), "{}", budget.units);
    let of = &budget.calibrations[1];
    // The first six causes were run side by side; what has not begun has no number.
    let owned = &of.figures[0].owned;
    let told: Vec<bool> = owned.shares.iter().map(Option::is_some).collect();
    assert!(told[..6].iter().all(|told| *told) && told[6..].iter().all(|told| !*told), "{told:?}");
    assert!(owned.together.is_none() && of.perfect.iter().all(Option::is_none));
}
