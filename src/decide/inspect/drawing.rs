//! Sizes rounded for a drawing.

/// A size with three digits, on the tight side of `size`.
pub(super) fn tighter(size: f64, larger_is_looser: bool) -> f64 {
    rounded(size, if larger_is_looser { -1 } else { 1 })
}

/// A size with three digits, on the loose side of `size`.
pub(crate) fn looser(size: f64, larger_is_looser: bool) -> f64 {
    tighter(size, !larger_is_looser)
}

/// The nearest size with three digits.
pub(super) fn nearest(size: f64) -> f64 {
    format!("{size:.2e}").parse().unwrap_or(size)
}

/// With three digits, not above (-1) or not below (1).
fn rounded(size: f64, side: i64) -> f64 {
    // Writing and reading decimals is exact, so that this rounds alike everywhere.
    let text = format!("{size:.2e}");
    let parts = text.split_once('e').and_then(|(digits, power)| {
        let steps: i64 = digits.replace('.', "").parse().ok()?;
        Some((steps, power.parse::<i32>().ok()? - 2))
    });
    let Some((steps, power)) = parts else { return size };
    let at = |steps: i64, power: i32| format!("{steps}e{power}").parse().unwrap_or(size);
    let nearest: f64 = at(steps, power);
    let is_beyond = if side < 0 { nearest > size } else { nearest < size };
    match steps + side {
        _ if !is_beyond => nearest,
        // The next size below 10.0 is 9.99.
        next if next.abs() < 100 => at(10 * steps + side, power - 1),
        next => at(next, power),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_digits_on_either_side() {
        for (size, tight, loose) in [
            (0.4631, 0.463, 0.464),
            (0.4637, 0.463, 0.464),
            (0.46, 0.46, 0.46),
            (-2.0589, -2.06, -2.05),
            (9.999, 9.99, 10.0),
        ] {
            assert_eq!((tighter(size, true), looser(size, true)), (tight, loose), "{size}");
            assert_eq!((tighter(size, false), looser(size, false)), (loose, tight), "{size}");
        }
        assert_eq!([nearest(0.4637), nearest(1234.0)], [0.464, 1230.0]);
    }
}
