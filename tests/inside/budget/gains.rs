//! Causes by what the yield gains without them, against yields worked by hand from the normal distribution.

#[path = "../../suite/budget/sums.rs"]
mod sums;

use super::{cause, off, shared_out};
use crate::inside::folder::{SMALL, edited};
use crate::inside::support;
use beamyield::decide::budget::CalibrationBudget;
use beamyield::figure::Figure;
use beamyield::model::Model;
use beamyield::model::vary::causes;
use beamyield::study::Trials;
use sums::{amplifier, normal, of_four_causes, summed, within};

fn of(study: &str) -> (Vec<String>, CalibrationBudget) {
    let model = support::model(study);
    let causes = causes(&model);
    let names = causes.iter().map(|of| of.name.clone()).collect();
    (names, shared_out(&model, causes, None, 2).calibrations.remove(0))
}

fn number(names: &[String], name: &str) -> usize {
    names.iter().position(|of| of == name).unwrap_or_else(|| panic!("no cause {name}"))
}

/// Four causes of a sum S that has to be -0.5 dB or more: a, normal with sd 1 dB; b, with sd 0.8 dB; c, about -1.2 dB for nine parts in
/// ten and about 0 dB for the others, each with sd 0.2 dB; and temperature, -0.012 dB/K over 50 K, which is -0.6 dB in every unit.
///
/// By the normal cdf F: the yield is 0.9 F(-1.3/1.2961) + 0.1 F(-0.1/1.2961) = 0.18907. Without c it is F(-0.1/1.2806) = 0.46888, without
/// temperature 0.33014, without b 0.13717, without a 0.09689; without all of them every unit passes (worked with the error function of
/// Python's math module). What spreads most, a, is what saves units: mending it alone loses 9.2 points. Four standard errors.
#[test]
fn the_largest_gain_is_not_the_largest_share() {
    let study = of_four_causes();
    let (names, of) = of(&study);
    let gain = |name: &str| {
        of.perfect[number(&names, name)].as_ref().and_then(|of| of.gain.clone()).expect("a gain")
    };
    for (name, due) in [("a.gain", -0.0922), ("b.gain", -0.0519), ("c.gain", 0.2798), ("temperature", 0.1411)]
    {
        let gain = gain(name);
        assert!(off(&gain, due) < 4.0 && off(&gain, due + 0.05) > 4.0, "{name}: {gain:?}, {due} by hand");
    }
    assert!(off(&gain("shifter.rounding"), 0.0) < 4.0);
    let all = of.gains.all.as_ref().expect("all were run");
    assert_eq!(all.yield_.value, 1.0);
    let order: Vec<&str> = of.gains.order.iter().map(|cause| names[*cause].as_str()).collect();
    assert_eq!(order, ["c.gain", "temperature", "shifter.rounding", "b.gain", "a.gain"]);
    assert_eq!((of.gains.first, of.gains.rivals.len()), (Some(number(&names, "c.gain")), 0));
    // By shares the order is another, and its first one would lose yield.
    let in_all =
        |name: &str| of.failures.as_ref()?.shares[number(&names, name)].as_ref().map(|of| of.in_all.value);
    assert!(in_all("a.gain") > in_all("b.gain") && in_all("a.gain") > in_all("c.gain"));
    assert_eq!(in_all("temperature"), None);
}

/// Two causes each of which alone spoils nearly every unit, and a third that does not matter: |A + B| has to be within 0.02 dB, both
/// normal with sd 5 dB. By the normal cdf F the yield is 2 F(0.02/7.071) - 1 = 0.00226, without either 2 F(0.02/5) - 1 = 0.00319, a gain
/// of 0.09 points that 4096 units cannot show; without both every unit passes, a gain of 99.77 points. Four standard errors.
#[test]
fn what_pays_only_together_is_found() {
    let study = within(&[("a", 5.0), ("still", 0.0005), ("b", 5.0)]);
    let (names, of) = of(&study);
    assert_eq!((of.gains.first, of.gains.groups.len()), (None, 1), "{:?}", of.gains);
    let group = &of.gains.groups[0];
    let members: Vec<&str> = group.causes.iter().map(|cause| names[*cause].as_str()).collect();
    assert_eq!(members, ["a.gain", "b.gain"]);
    assert!(off(&group.gain.gain, 0.99774) < 4.0 && off(&group.gain.gain, 0.98) > 4.0, "{group:?}");
    assert!(!group.any_alone && off(&of.perfect[0].as_ref().unwrap().gain.clone().unwrap(), 0.00093) < 4.0);
}

/// Temperature as a whole is another cause than the spread of a coefficient: without the spread the nominal coefficient stays. Bits of the
/// units are those of a study that is used and calibrated where its nominal values hold.
#[test]
fn temperature_is_a_cause() {
    let amplifiers = [
        normal("a", 0.3),
        amplifier(
            "c",
            "normal = { sd = \"0.1 dB\" }",
            ", gain_temperature = \
                      { nominal = \"-0.012 dB/K\", normal = { sd = \"0.001 dB/K\" }, scope = \"unit\" }",
        ),
    ]
    .concat();
    let study = summed(&amplifiers, "{ figure = \"eirp_change\", at_least = \"-0.3 dB\" }");
    let (names, of) = of(&study);
    let gain = |name: &str| {
        of.perfect[number(&names, name)].as_ref().and_then(|of| of.gain.clone()).expect("a gain")
    };
    // By the normal cdf: F(-0.3/0.32016) = 0.17437 with it, F(0.3/0.31623) = 0.82861 without, F(-0.3/0.31623) = 0.17139 without the
    // spread of the coefficient alone.
    assert!(off(&gain("temperature"), 0.65424) < 4.0 && off(&gain("temperature"), 0.6) > 4.0);
    assert!(off(&gain("c.gain_temperature"), -0.00298) < 4.0 && gain("c.gain_temperature").high < 0.02);
    assert_eq!(names[of.gains.order[0]], "temperature");
    // Where nothing depends on it, or it is everywhere that of the nominal values, there is no such cause.
    let still = summed(&normal("a", 0.3), "{ figure = \"eirp_change\", at_least = \"-0.3 dB\" }");
    let at_rest = edited(&study, &[("\"75 degC\"", "\"25 degC\"")]);
    for study in [&still, &at_rest] {
        assert!(causes(&support::model(study)).iter().all(|of| of.name != "temperature"));
    }
    let model = support::model(&study);
    let off = beamyield::model::vary::without(&model, cause(&causes(&model), "temperature"));
    let values = |model| super::first_column(model);
    assert_eq!(values(&off), values(&support::model(&at_rest)));
}

/// A figure counts where it is limited: at one beam and one frequency of two each.
#[test]
fn a_figure_is_judged_where_it_is_limited() {
    let model = Model { trials: Trials::Fixed(1024), ..support::model(SMALL) };
    let budget = shared_out(&model, causes(&model), None, 2);
    let places: Vec<(Figure, usize)> = budget.calibrations[1]
        .figures
        .iter()
        .map(|of| (model.columns[of.column].figure, model.columns[of.column].point))
        .collect();
    let pointing: Vec<usize> =
        places.iter().filter(|(figure, _)| *figure == Figure::PointingError).map(|of| of.1).collect();
    // Beam "ahead" is the first, 10 GHz the second frequency.
    assert_eq!(pointing, [1]);
    assert_eq!(places.len(), 4 + 1, "{places:?}");
}
