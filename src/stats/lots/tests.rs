use super::*;

/// Lots of so many passes of so many units.
fn shares(lots: &[(u64, u64)], size: u64) -> Lots {
    let mut of = Lots::new(size);
    lots.iter().for_each(|(passes, units)| of.push_word(*units as usize, (1 << passes) - 1));
    of
}

fn is_near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-9 * expected.abs().max(1.0), "{found}, {expected}");
}

#[test]
fn a_share_of_few_lots_agrees_with_numbers_made_apart() {
    // NumPy 2 and scipy 1.17.1, from the formulas: v = M/(M - 1) sum (y - p m)^2/N^2, deff = v N/(p (1 - p)), n = N/deff (z/t)^2 not
    // below (sum m)^2/sum m^2, beta.ppf of n and p n. Eight lots of 5, the last of 3.
    let lots = [(5, 5), (4, 5), (2, 5), (5, 5), (5, 5), (1, 5), (4, 5), (3, 3)];
    let of = shares(&lots, 5).by_lots();
    assert_eq!((of.lots, of.units, of.seen, of.unseen), (8, 38.0, 8, 4));
    is_near(of.variance, 0.012667621817336753);
    is_near(of.equal_lots, 7.8478260869565215);
    // The t of four lots with a failure leaves 7.11 units, fewer than lots.
    is_near(of.effective_units(0.95), 7.8478260869565215);
    let found = of.share(0.95);
    is_near(found.value, 29.0 / 38.0);
    is_near(found.low, 0.3570696081042886);
    is_near(found.high, 0.9733755266674575);

    let passes = [
        4, 3, 4, 4, 2, 4, 4, 4, 1, 4, 4, 4, 3, 4, 0, 4, 4, 2, 4, 4, 4, 4, 4, 3, 4, 4, 4, 4, 2, 4, 4, 3, 4, 4,
        4, 4, 1, 4, 4, 4,
    ];
    let of = shares(&passes.map(|passes| (passes, 4)), 4).by_lots();
    is_near(of.variance, 0.0016025641025641025);
    is_near(of.effective_units(0.95), 52.8097771455035);
    let found = of.share(0.95);
    is_near(found.low, 0.7549502341063502);
    is_near(found.high, 0.9499267315126608);
    // As if units were independent, 160 of them.
    assert!(crate::stats::clopper_pearson(140, 160, 0.95).low > found.low + 0.05);
}

#[test]
fn a_mean_by_lots_agrees_with_numbers_made_apart() {
    // NumPy, from the formula: lots 1 2 4, 2 2 3, 7 6 8, 1 0.
    let mut lots = Lots::new(3);
    lots.push_values(&[1.0, 2.0, 4.0, 2.0]);
    lots.push_values(&[2.0, 3.0, 7.0, 6.0, 8.0, 1.0, 0.0]);
    let of = lots.by_lots();
    is_near(1.0 + of.mean, 3.272727272727273);
    is_near(of.variance.sqrt(), 1.375381425634031);
    // Values that are no numbers count for nothing, nor do lots of them alone.
    lots.push_values(&[f64::NAN; 4]);
    assert_eq!(lots.by_lots().variance, of.variance);
    assert_eq!(lots.by_lots().lots, 4);
}

#[test]
fn the_bits_do_not_depend_on_how_units_come_in() {
    let values: Vec<f64> = (0..1000).map(|i| (f64::from(i) * 0.618).fract() * 1e3 + 7.0).collect();
    for size in [1, 3, 64, 100, 4096] {
        let by = |part: usize| {
            let mut lots = Lots::new(size);
            values.chunks(part).for_each(|values| lots.push_values(values));
            lots.by_lots()
        };
        let whole = by(1000);
        for part in [1, 16, 64, 777] {
            let found = by(part);
            assert_eq!(found.variance.to_bits(), whole.variance.to_bits(), "{size}, {part}");
            assert_eq!((found.mean, found.lots), (whole.mean, 1000_u64.div_ceil(size)));
        }
    }
}

#[test]
fn lots_of_one_are_nearly_independent_units() {
    // v is that of independent units times N/(N - 1), and t of 199 degrees of freedom 0.6 % beyond z.
    let lots: Vec<(u64, u64)> = (0..1000).map(|unit| (u64::from(unit % 5 != 0), 1)).collect();
    let of = shares(&lots, 1).by_lots();
    let exact = crate::stats::clopper_pearson(800, 1000, 0.95);
    let found = of.share(0.95);
    assert!((found.low - exact.low).abs() < 4e-4 && (found.high - exact.high).abs() < 4e-4, "{found:?}");
}

#[test]
fn where_all_units_agree_lots_take_their_place() {
    let of = shares(&[(50, 50); 20], 50).by_lots();
    let (found, exact) = (of.share(0.95), crate::stats::clopper_pearson(20, 20, 0.95));
    is_near(found.low, exact.low);
    assert_eq!((found.value, found.high, found.count), (1.0, 1.0, 1000));
    let none = shares(&[(0, 50); 20], 50).by_lots().share(0.95);
    is_near(none.high, 1.0 - exact.low);
    // One lot is one unit, and no lot tells nothing.
    let one = shares(&[(40, 50)], 50).by_lots().share(0.95);
    assert!(one.low < 0.01 && one.high > 0.99, "{one:?}");
    let nothing = Lots::new(50).by_lots().share(0.95);
    assert_eq!((nothing.low, nothing.high), (0.0, 1.0));
}

#[test]
fn a_tight_interval_is_as_narrow_as_asked() {
    let of = shares(&[(45, 50), (50, 50), (40, 50), (48, 50), (47, 50), (44, 50), (46, 50)].repeat(40), 50)
        .by_lots();
    let found = of.share(0.95);
    let half = 0.5 * (found.high - found.low);
    assert!(of.is_tight(0.95, half * 1.001) && !of.is_tight(0.95, half * 0.999));
}

/// Sums of parts, put together, are those of all: to the bit what is counted, to rounding what is summed.
#[test]
fn parts_merge_into_the_whole() {
    let value = |i: usize| if i % 17 == 3 { f64::NAN } else { 1e3 + (i * i % 29) as f64 };
    let values: Vec<f64> = (0..200).map(value).collect();
    for size in [1, 7, 37, 150, 500] {
        let mut whole = Lots::new(size);
        values.chunks(50).for_each(|part| whole.push_values(part));
        for cut in [1, 6, 7, 36, 37, 38, 74, 149, 150, 199] {
            let part = |from: usize, to: usize| {
                let mut lots = Lots::starting(size, from as u64);
                lots.push_values(&values[from..to]);
                lots
            };
            let middle = cut + (200 - cut) / 2;
            let (mut first, mut second) = (part(0, cut), part(cut, middle));
            second.merge(&part(middle, 200));
            first.merge(&second);
            let (found, expected) = (first.by_lots(), whole.by_lots());
            assert_eq!((found.lots, found.units), (expected.lots, expected.units), "{size} {cut}");
            let near = |a: f64, b: f64| a.is_nan() && b.is_nan() || (a - b).abs() <= 1e-9 * b.abs();
            assert!(near(found.variance, expected.variance), "{size} {cut}: {found:?} {expected:?}");
            assert!(near(found.equal_lots, expected.equal_lots), "{size} {cut}");
        }
    }
}
