//! What shares draws, what adds up, what varies together.

use super::*;
use crate::math::normal;
use crate::random::{Arcsine, Beta, Gamma, Normal, Uniform, Weibull};

const GROUPING: Grouping = Grouping { channels: 8, chip: 2, board: Some(4), lot: Some(50) };

fn normal(sd: f64) -> Distribution {
    Distribution::Normal(Normal::new(sd).unwrap())
}

fn uniform() -> Distribution {
    Distribution::Uniform(Uniform::new(2.0).unwrap())
}

fn tolerance(distribution: Distribution, scope: Scope) -> Tolerance {
    Tolerance { spread: Some(Spread { distribution, scope }), ..Tolerance::exact(1.0) }
}

fn and(first: Tolerance, distribution: Distribution, scope: Scope) -> Tolerance {
    Tolerance { second: Some(Spread { distribution, scope }), ..first }
}

/// Sources of the named tolerances with two slots each, the second half of them drawn on use.
fn bind<'n>(tolerances: &[(&'n str, Tolerance)]) -> (Vec<(&'n str, Value)>, Sources) {
    let mut sources = Sources::new(7, GROUPING);
    let count = tolerances.len();
    let bind = |(number, (name, tolerance)): (usize, &(&'n str, Tolerance))| {
        let on_use = number >= count / 2;
        (*name, sources.bind(format!("part.{name}"), tolerance, 2, Dimension::Ratio, on_use))
    };
    let values = tolerances.iter().enumerate().map(bind).collect();
    (values, sources)
}

fn correlation(keys: &[&'static str], factor: &[&[f64]]) -> Correlation {
    let factor = factor.iter().map(|row| row.to_vec()).collect();
    Correlation { keys: keys.to_vec(), pairs: Vec::new(), factor }
}

/// Deviations `[value][slot][channel]` of the trials `0..trials`, each from a batch of W that begins at a multiple of W.
fn draw<const W: usize>(sources: &Sources, of: &[(&str, Value)], trials: u64) -> Vec<Vec<f32>> {
    let mut draws = sources.buffer::<W>();
    let mut all = Vec::new();
    for first in (0..trials).step_by(W) {
        sources.draw(first, &mut draws);
        for (_, value) in of {
            (0..2).for_each(|slot| sources.need(value, slot, &mut draws));
        }
        for lane in 0..W.min((trials - first) as usize) {
            let at = |value: &Value, slot, channel| value.deviation_at(&draws, slot, channel)[lane];
            let of_slot = |value, slot| (0..GROUPING.channels).map(move |channel| (value, slot, channel));
            let places =
                of.iter().flat_map(|(_, value)| [0, 1].into_iter().flat_map(move |s| of_slot(value, s)));
            all.push(places.map(|(value, slot, channel)| at(value, slot, channel)).collect());
        }
    }
    all
}

fn everything() -> Vec<(&'static str, Tolerance)> {
    vec![
        ("own", tolerance(normal(1.0), Scope::Channel)),
        ("board", tolerance(uniform(), Scope::Board)),
        ("lot", tolerance(normal(1.0), Scope::Lot)),
        ("own and lot", and(tolerance(normal(1.0), Scope::Channel), uniform(), Scope::Lot)),
        ("score a", tolerance(uniform(), Scope::Lot)),
        ("score b", tolerance(normal(1.0), Scope::Lot)),
        ("unit and chip", and(tolerance(uniform(), Scope::Unit), normal(1.0), Scope::Chip)),
        ("score c", tolerance(uniform(), Scope::Channel)),
        ("score d", tolerance(normal(3.0), Scope::Channel)),
    ]
}

fn everything_bound() -> (Vec<(&'static str, Value)>, Sources) {
    let (all, mut sources) = bind(&everything());
    let factor: [&[f64]; 2] = [&[1.0], &[0.6, 0.8]];
    sources.correlate("part", &correlation(&["score b", "score a"], &factor));
    sources.correlate("part", &correlation(&["score c", "score d"], &factor));
    (all, sources)
}

/// Across the ends of lots at trials 50 and 100, which no width divides.
#[test]
fn the_lanes_do_not_matter() {
    let (all, sources) = everything_bound();
    let alone = draw::<1>(&sources, &all, 112);
    assert_eq!(alone, draw::<16>(&sources, &all, 112));
}

#[test]
fn a_lot_and_a_board_share_their_draws() {
    let (all, sources) = everything_bound();
    let trials = draw::<16>(&sources, &all, 112);
    let of = |trial: usize, number: usize, channel: usize| trials[trial][number * 16 + channel];
    for number in [2, 4, 5] {
        for trial in 0..111 {
            let is_same = of(trial, number, 0) == of(trial + 1, number, 0);
            assert_eq!(is_same, trial != 49 && trial != 99, "{} at {trial}", all[number].0);
            assert_eq!(of(trial, number, 0), of(trial, number, 7));
        }
    }
    for trial in 0..112 {
        let shares = |number, a, b| of(trial, number, a) == of(trial, number, b);
        assert!(shares(1, 0, 3) && !shares(1, 3, 4) && shares(1, 4, 7), "boards of four");
        assert!(shares(6, 0, 1) && !shares(6, 1, 2), "the finer scope of unit and chip");
        assert!(!shares(0, 0, 1) && !shares(3, 0, 1), "channels");
    }
}

/// The first distribution keeps its draws bit for bit, the second is a source of its own, and what a part deviates by is their sum.
#[test]
fn two_distributions_add_up() {
    let plain = [("a", tolerance(normal(1.0), Scope::Channel)), ("b", tolerance(uniform(), Scope::Unit))];
    let both = plain.clone().map(|(name, of)| (name, and(of, normal(2.0), Scope::Lot)));
    let ((plain, without), (both, with)) = (bind(&plain), bind(&both));
    let names: Vec<&str> = with.list().iter().map(|source| source.name.as_str()).collect();
    assert_eq!(names, ["part.a", "part.a, lot", "part.b", "part.b, lot"]);
    let (mut draws, mut more) = (without.buffer::<16>(), with.buffer::<16>());
    without.draw(48, &mut draws);
    with.draw(48, &mut more);
    without.draw_rest(&mut draws);
    with.draw_rest(&mut more);
    for (slot, channel, lane) in (0..2).flat_map(|s| (0..8).flat_map(move |c| (0..4).map(move |l| (s, c, l))))
    {
        for number in 0..2 {
            let [first, second] = [2 * number, 2 * number + 1].map(|n| {
                let source = &with.list()[n];
                more.deviation(source, slot, source.group_of(channel), lane) as f32
            });
            let alone = plain[number].1.deviation_at(&draws, slot, channel)[lane];
            assert_eq!(first.to_bits(), alone.to_bits());
            let sum = both[number].1.deviation_at(&more, slot, channel)[lane];
            assert_eq!(sum.to_bits(), (first + second).to_bits());
            assert_ne!(second, 0.0);
            assert_eq!(both[number].1.at(&more, slot, channel)[lane], 1.0 + f64::from(sum));
        }
    }
    assert!((both[0].1.sd() - 5.0_f64.sqrt()).abs() < 1e-15);
    // Rows of channels are handed out where the finer distribution has one for each channel.
    assert!(both[0].1.deviations(&more, 0, 0..8).is_some() && both[1].1.deviations(&more, 0, 0..8).is_none());
}

/// Mean, and deviation from it.
fn centred(values: &[f64]) -> (f64, Vec<f64>) {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (mean, values.iter().map(|x| x - mean).collect())
}

fn sample_correlation(x: &[f64], y: &[f64]) -> f64 {
    let ((_, x), (_, y)) = (centred(x), centred(y));
    let product = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| x * y).sum::<f64>();
    product(&x, &y) / (product(&x, &x) * product(&y, &y)).sqrt()
}

/// Samples of slot 1 of channels 0 and 5, a list for each tolerance.
fn samples(sources: &Sources, of: &[(&str, Value)], count: usize) -> Vec<Vec<f64>> {
    let trials = draw::<16>(sources, of, count as u64 / 2);
    let take = |number: usize| {
        trials.iter().flat_map(move |all| [0, 5].map(|c| f64::from(all[number * 16 + 8 + c])))
    };
    (0..of.len()).map(|number| take(number).collect()).collect()
}

const COUNT: usize = 100_000;

#[test]
fn correlated_parameters_keep_their_distributions_and_vary_together() {
    let arcsine = Distribution::Arcsine(Arcsine::new(1.5).unwrap());
    let found = vary_together([normal(2.0), normal(0.5), arcsine]);
    // Of normal parameters the values are correlated as the scores are.
    assert!((sample_correlation(&found[0], &found[1]) - 0.6).abs() < 5.0 * 0.64 / (COUNT as f64).sqrt());
}

/// The first is drawn from streams, as without correlation; the others are quantiles of their scores.
#[test]
fn so_do_parameters_that_are_drawn_from_streams() {
    let gamma = Distribution::Gamma(Gamma::new(1.3, 0.2).unwrap());
    let beta = Distribution::Beta(Beta::new(2.0, 5.0, -0.1, 0.3).unwrap());
    let weibull = Distribution::Weibull(Weibull::new(1.5, 0.4).unwrap());
    vary_together([gamma, beta, weibull]);
}

/// Values of three correlated parameters, once they are found to be right.
fn vary_together(distributions: [Distribution; 3]) -> Vec<Vec<f64>> {
    let all: Vec<(&str, Tolerance)> = ["a", "b", "c"]
        .into_iter()
        .zip(distributions.clone())
        .map(|(n, distribution)| (n, tolerance(distribution, Scope::Channel)))
        .collect();
    let (_, free) = bind(&all);
    let (all, mut sources) = bind(&all);
    // NumPy's factor of [[1, .6, -.3], [.6, 1, .2], [-.3, .2, 1]].
    let factor: [&[f64]; 3] = [&[1.0], &[0.6, 0.8], &[-0.3, 0.475, 0.827_269_605_388_714_9]];
    sources.correlate("part", &correlation(&["a", "b", "c"], &factor));
    let found = samples(&sources, &all, COUNT);
    let independent = samples(&free, &all, COUNT);
    assert_eq!(found[0], independent[0], "the first keeps its draws");
    let n = COUNT as f64;
    for (values, distribution) in found.iter().zip(&distributions) {
        let (mean, away) = centred(values);
        let power = |k| away.iter().map(|x| x.powi(k)).sum::<f64>() / n;
        let (variance, fourth) = (power(2), power(4));
        // Five standard errors each.
        let off = mean - distribution.mean();
        assert!(off.abs() < 5.0 * distribution.sd() / n.sqrt(), "{}: {mean}", distribution.name());
        let bound = 5.0 * ((fourth - variance * variance) / n).sqrt();
        assert!(
            (variance - distribution.sd() * distribution.sd()).abs() < bound,
            "{}: {variance}",
            distribution.name()
        );
    }
    let scores = |of: &[f64], distribution: &Distribution| -> Vec<f64> {
        of.iter().map(|x| normal::quantile(distribution.cdf(*x).clamp(1e-12, 1.0 - 1e-12))).collect()
    };
    for (a, b, coefficient) in [(0, 1, 0.6), (0, 2, -0.3), (1, 2, 0.2)] {
        let (x, y) = (scores(&found[a], &distributions[a]), scores(&found[b], &distributions[b]));
        let sample = sample_correlation(&x, &y);
        // The standard error of a correlation of normal values is (1 - r^2)/sqrt(n); five of them.
        let bound = 5.0 * (1.0 - coefficient * coefficient) / n.sqrt();
        assert!((sample - coefficient).abs() < bound, "{a} and {b}: {sample}");
        // The other sign, and no correlation, are found out.
        assert!((sample + coefficient).abs() > bound);
        let apart = sample_correlation(&independent[a], &independent[b]);
        assert!((apart - coefficient).abs() > bound, "{apart}");
    }
    found
}

#[test]
fn full_correlation_is_one_draw_for_both() {
    for sign in [1.0, -1.0] {
        let all = [("a", tolerance(normal(2.0), Scope::Chip)), ("b", tolerance(normal(0.5), Scope::Chip))];
        let (all, mut sources) = bind(&all);
        let factor: [&[f64]; 2] = [&[1.0], &[sign, 0.0]];
        sources.correlate("part", &correlation(&["a", "b"], &factor));
        let found = samples(&sources, &all, 64);
        for (a, b) in found[0].iter().zip(&found[1]) {
            assert!((a * sign - 4.0 * b).abs() < 1e-5, "{a} {b}");
        }
    }
}

/// Number of a source by its name.
fn number(sources: &Sources, name: &str) -> usize {
    sources.list().iter().position(|source| source.name == name).unwrap()
}

/// Which of the tolerances of [`everything`] have the deviations they have in `with`.
fn unchanged(with: &[Vec<f32>], of: &[Vec<f32>]) -> Vec<bool> {
    let tolerances = with[0].len() / 16;
    let same = |at: usize| with.iter().zip(of).all(|(a, b)| a[at * 16..][..16] == b[at * 16..][..16]);
    (0..tolerances).map(same).collect()
}

#[test]
fn a_silent_source_is_nominal_and_leaves_the_others() {
    let (all, sources) = everything_bound();
    let with = draw::<16>(&sources, &all, 112);
    for (name, silenced) in [("own", 0), ("lot", 2), ("score a", 4), ("score c", 7)] {
        let mut without = sources.clone();
        let numbers = without.together_with(number(&sources, &format!("part.{name}")));
        without.freeze(&numbers);
        let left = draw::<16>(&without, &all, 112);
        assert!(left.iter().all(|trial| trial[silenced * 16..][..16].iter().all(|x| *x == 0.0)), "{name}");
        let together =
            if name.starts_with("score") { silenced..silenced + 2 } else { silenced..silenced + 1 };
        for (at, is_same) in unchanged(&with, &left).into_iter().enumerate() {
            assert_eq!(is_same, !together.contains(&at), "{name}: {}", all[at].0);
        }
        assert_eq!(numbers.len(), together.len(), "what varies together goes together");
    }
    // One distribution of two: the other is left.
    let mut without = sources.clone();
    without.freeze(&[number(&sources, "part.own and lot")]);
    for trial in draw::<16>(&without, &all, 50) {
        assert!(trial[3 * 16..][..8].iter().all(|x| *x == trial[3 * 16] && *x != 0.0), "the lot's alone");
    }
    // Nor is it drawn where it is not kept.
    let draws = without.buffer::<16>();
    without.freeze(&[number(&sources, "part.own")]);
    assert_eq!(without.draw_once(&all[0].1, 5, 4, &draws), [[0.0; 16]; 4]);
}

#[test]
fn a_second_sample_is_another_one_of_the_same_seed() {
    let (all, sources) = everything_bound();
    let first = draw::<16>(&sources, &all, 112);
    let mut second = sources.clone();
    second.rekey(&[number(&sources, "part.own"), number(&sources, "part.lot")]);
    let found = unchanged(&first, &draw::<16>(&second, &all, 112));
    let expected: Vec<bool> = (0..all.len()).map(|at| at != 0 && at != 2).collect();
    assert_eq!(found, expected);
    // Taken twice it is the same one.
    let once = draw::<16>(&second, &all, 112);
    second.rekey(&[number(&sources, "part.own")]);
    assert_eq!(once, draw::<16>(&second, &all, 112));
}

/// The list with other draws at the same places.
fn of_another_seed(sources: &Sources) -> Sources {
    let mut other = sources.clone();
    other.list.iter_mut().for_each(|source| source.key = Key::new(8, &source.name));
    other
}

/// Draws at the place of a source that draws alike are taken over, sums with them, and no others: here they are another list's,
/// so that they show.
#[test]
fn what_a_source_alike_has_drawn_is_taken_over() {
    let (of, sources) = everything_bound();
    let other = of_another_seed(&sources);
    let shared = sources.shared(&[(5, &sources)]);
    let on_use = &of[of.len() - 1].1;
    let rows = |draws: &Draws<16>, of: &[(&str, Value)]| -> Vec<[f32; 16]> {
        let row = |value: &Value, slot: usize, channel| *value.deviation_at(draws, slot, channel);
        of.iter().flat_map(|(_, of)| (0..16).map(|i| row(of, i / 8, i % 8))).collect()
    };
    let (mut own, mut its, mut taken) =
        (sources.buffer::<16>(), other.buffer::<16>(), sources.buffer::<16>());
    for (first_trial, of_other) in [(48, 48), (48, 64)] {
        sources.draw(first_trial, &mut own);
        other.draw(of_other, &mut its);
        other.need(on_use, 0, &mut its);
        let same = |number: usize| {
            assert_eq!(number, 5);
            (&sources, &its)
        };
        sources.draw_shared(first_trial, &shared, same, &mut taken);
        let is_taken = first_trial == of_other;
        // At once are drawn the first four of the nine.
        let expected = if is_taken { &its } else { &own };
        assert_eq!(rows(&taken, &of[..4]), rows(expected, &of[..4]));
        assert_ne!(rows(&own, &of[..4]), rows(&its, &of[..4]));
        for slot in [0, 1] {
            for draws in [&mut own, &mut taken] {
                sources.need(on_use, slot, draws);
            }
            let expected = if is_taken && slot == 0 { &its } else { &own };
            assert_eq!(on_use.deviation_at(&taken, slot, 3), on_use.deviation_at(expected, slot, 3));
        }
    }
}

#[test]
fn only_sources_that_draw_alike_are_shared() {
    let (of, sources) = everything_bound();
    let shared = |change: fn(&mut Sources)| {
        let mut other = sources.clone();
        change(&mut other);
        let found: usize = sources.shared(&[(0, &other)]).count();
        (sources.list.len() - found, sources.agree(&other, &[]), sources.agree(&other, &[&of[0].1]))
    };
    assert_eq!(shared(|_| ()), (0, true, true));
    assert_eq!(shared(|other| *other = of_another_seed(other)).0, sources.list.len());
    assert_eq!(shared(|other| other.list[0].distribution = uniform()), (1, false, true));
    assert_eq!(shared(|other| other.list[1].groups = 1), (1, false, false));
    assert_eq!(shared(|other| other.list[2].lot = Some(30)), (1, false, false));
    // Slots that both have are alike; places are not.
    assert_eq!(shared(|other| other.list[0].slots = 1), (0, false, true));
    // Correlated ones are alike together or not at all.
    let [first, second] = &sources.sets[..] else { panic!("two sets") };
    assert_eq!((first.members.len(), second.members.len()), (2, 2));
    assert_eq!(shared(|other| other.sets[1].factor[1][0] = 0.5).0, 2);
    assert_eq!(shared(|other| other.list[other.sets[0].members[0]].distribution = normal(9.0)).0, 2);
}
