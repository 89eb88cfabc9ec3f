//! Angles between directions, for all lanes at once.

use crate::math::arc;
use multiversion::multiversion;

/// A direction for each lane: its cosines to x and to y.
pub(super) type Directions<const W: usize> = [[f64; W]; 2];

/// Angle from one direction to another along a line's scan, rad, signed.
///
/// Formula: sin(b - a) = sin b cos a - cos b sin a, which keeps the digits of small angles. Directions beyond the edge of
/// visible space count as on it.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn angle_along_line<const W: usize>(from: &Directions<W>, to: &Directions<W>) -> [f64; W] {
    let mut angle = [0.0; W];
    for l in 0..W {
        let (from, to) = (on_face(from[0][l], 0.0), on_face(to[0][l], 0.0));
        let (sine, cosine) = (to[0] * from[2] - to[2] * from[0], to[2] * from[2] + to[0] * from[0]);
        angle[l] = arc::angle(cosine, sine);
    }
    angle
}

/// Angles from one direction to another in the plane of a scan, through broadside and the unit vector `along` in direction cosines,
/// and out of that plane, rad, signed. Directions beyond the edge of visible space count as on it.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn scan_angles<const W: usize>(
    from: &Directions<W>,
    to: &Directions<W>,
    along: (f64, f64),
) -> [[f64; W]; 2] {
    let mut angles = [[0.0; W]; 2];
    for l in 0..W {
        let (from, to) = (on_scan(from[0][l], from[1][l], along), on_scan(to[0][l], to[1][l], along));
        let (sine, cosine) = (to[0] * from[2] - to[2] * from[0], to[2] * from[2] + to[0] * from[0]);
        // No angle is left of a direction square to the plane.
        angles[0][l] = if sine == 0.0 && cosine == 0.0 { 0.0 } else { arc::angle(cosine, sine) };
        let in_plane = |of: &[f64; 3]| (of[0] * of[0] + of[2] * of[2]).sqrt();
        let (of_from, of_to) = (in_plane(&from), in_plane(&to));
        angles[1][l] = arc::angle(of_to * of_from + to[1] * from[1], to[1] * of_from - of_to * from[1]);
    }
    angles
}

/// Unit vector of direction cosines: along the scan, across it, toward broadside.
#[inline(always)]
fn on_scan(u: f64, v: f64, along: (f64, f64)) -> [f64; 3] {
    let [x, y, z] = on_face(u, v);
    [x * along.0 + y * along.1, y * along.0 - x * along.1, z]
}

/// Angle between directions, rad, >= 0. Through the chord, so that small angles keep their digits. Directions beyond the
/// edge of visible space count as on it.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn angle_between<const W: usize>(from: &Directions<W>, to: &Directions<W>) -> [f64; W] {
    let mut angle = [0.0; W];
    for l in 0..W {
        let (from, to) = (on_face(from[0][l], from[1][l]), on_face(to[0][l], to[1][l]));
        let [x, y, z] = [0, 1, 2].map(|axis| from[axis] - to[axis]);
        angle[l] = 2.0 * arc::asin((x * x + y * y + z * z).sqrt() / 2.0);
    }
    angle
}

/// Unit vector of direction cosines.
#[inline(always)]
fn on_face(u: f64, v: f64) -> [f64; 3] {
    let transverse = u * u + v * v;
    let radius = if transverse > 1.0 { transverse.sqrt() } else { 1.0 };
    let height = if transverse > 1.0 { 0.0 } else { 1.0 - transverse };
    [u / radius, v / radius, height.sqrt()]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::array::Direction;
    use crate::math::scalar;

    #[test]
    fn angles_are_those_of_single_directions() {
        for i in -50..=50 {
            for j in -50..=50 {
                let (a, b) = (f64::from(i) * 0.0213, f64::from(j) * 0.0201);
                let [along] = angle_along_line(&[[a], [0.0]], &[[b], [0.0]]);
                let expected = scalar::asin(b.clamp(-1.0, 1.0)) - scalar::asin(a.clamp(-1.0, 1.0));
                assert!((along - expected).abs() < 1e-14, "{a} to {b}: {along}");
                let [between] = angle_between(&[[a], [0.3]], &[[0.2], [b]]);
                let expected = Direction { u: a, v: 0.3 }.angle_to(Direction { u: 0.2, v: b });
                assert!((between - expected).abs() < 1e-14, "{a}, {b}: {between}");
            }
        }
        // In the plane of a line's scan they are those of the line.
        for along in [(1.0, 0.0), (0.6, 0.8)] {
            let place = |at: f64, aside: f64| {
                // At these angles along the scan and across it.
                let (t, n) = (scalar::cos(aside) * scalar::sin(at), scalar::sin(aside));
                [[t * along.0 - n * along.1], [t * along.1 + n * along.0]]
            };
            for (from, to) in
                [([0.3, 0.0], [0.31, 0.0]), ([-0.4, 0.1], [0.9, -0.2]), ([0.2, 0.3], [0.2, 0.3001])]
            {
                let [[in_plane], [out]] = scan_angles(&place(from[0], from[1]), &place(to[0], to[1]), along);
                assert!((in_plane - (to[0] - from[0])).abs() < 1e-14, "{from:?} to {to:?}: {in_plane}");
                assert!((out - (to[1] - from[1])).abs() < 1e-14, "{from:?} to {to:?}: {out}");
            }
        }
        let [small] = angle_along_line(&[[0.5], [0.0]], &[[0.5 + 1e-9], [0.0]]);
        assert!((small / (1e-9 / 0.75f64.sqrt()) - 1.0).abs() < 1e-6);
    }
}
