//! Direct sums of the far field at any direction, and what is found with them: the beam peak to far below a
//! thousandth of a beamwidth, and the half-power points.

use crate::array::{Array, Direction, Element};
use crate::figure::Look;
use crate::math::{scalar, slice};

/// A direction for each lane, as offset from the commanded one in direction cosines, and the level there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point<const W: usize> {
    /// Offset along x.
    pub u: [f64; W],
    /// Offset along y.
    pub v: [f64; W],
    /// Power there, element pattern included, linear.
    pub level: [f64; W],
}

impl<const W: usize> Default for Point<W> {
    fn default() -> Point<W> {
        Point { u: [0.0; W], v: [0.0; W], level: [0.0; W] }
    }
}

impl<const W: usize> Point<W> {
    /// The direction of a lane.
    pub fn direction(&self, look: &Look, lane: usize) -> Direction {
        Direction { u: look.toward.u + self.u[lane], v: look.toward.v + self.v[lane] }
    }
}

/// Newton steps from a sample of the scan, at most half a sample off: the error falls from a thirtieth of
/// the null distance to its square and so on, to rounding after three.
const PEAK_STEPS: usize = 3;

/// Newton steps toward a half-power point from that of the error-free array.
const HALF_POWER_STEPS: usize = 5;

/// Room for direct sums.
#[derive(Clone, Debug)]
pub struct Probe<const W: usize> {
    phase: Vec<[f64; W]>,
    cosine: Vec<[f64; W]>,
    sine: Vec<[f64; W]>,
}

/// Logarithm of the power and its derivatives with respect to the direction cosines.
struct Slopes<const W: usize> {
    power: [f64; W],
    u: [f64; W],
    v: [f64; W],
    uu: [f64; W],
    uv: [f64; W],
    vv: [f64; W],
}

impl<const W: usize> Probe<W> {
    pub(super) fn new(channels: usize) -> Probe<W> {
        let zero = vec![[0.0; W]; channels];
        Probe { phase: zero.clone(), cosine: zero.clone(), sine: zero }
    }

    /// Climbs from a sample near the top of the main lobe to the top, on the logarithm of the power with the
    /// element pattern. No step is longer than a sample of the scan, so a misshapen beam stays near its sample.
    pub(super) fn refine_peak(
        &mut self,
        array: &Array,
        look: &Look,
        start: ([f64; W], [f64; W]),
        re: &[[f64; W]],
        im: &[[f64; W]],
    ) -> Point<W> {
        let (mut u, mut v) = start;
        let longest = look.visible.spacing();
        let mut level = [0.0; W];
        for _ in 0..PEAK_STEPS {
            let at = self.slopes(array, look, &u, &v, re, im);
            level = at.power;
            for l in 0..W {
                let (du, dv) =
                    uphill([at.u[l], at.v[l]], [at.uu[l], at.uv[l], at.vv[l]], array.lattice.is_line());
                u[l] += du.clamp(-longest.0, longest.0);
                v[l] += dv.clamp(-longest.1, longest.1);
            }
        }
        for l in 0..W {
            level[l] *= element_power(&array.element, look, u[l], v[l]);
        }
        Point { u, v, level }
    }

    /// Walks along the scan from the peak, starting `offset` (direction cosines) away, to where the level is half
    /// the peak's.
    pub(super) fn half_power(
        &mut self,
        array: &Array,
        look: &Look,
        peak: &Point<W>,
        offset: f64,
        re: &[[f64; W]],
        im: &[[f64; W]],
    ) -> Point<W> {
        let (along_u, along_v) = look.along;
        let mut distance = [offset; W];
        let place = |distance: &[f64; W]| {
            let u: [f64; W] = std::array::from_fn(|l| peak.u[l] + distance[l] * along_u);
            let v: [f64; W] = std::array::from_fn(|l| peak.v[l] + distance[l] * along_v);
            (u, v)
        };
        for _ in 0..HALF_POWER_STEPS {
            let (u, v) = place(&distance);
            let at = self.slopes(array, look, &u, &v, re, im);
            for l in 0..W {
                let level = at.power[l] * element_power(&array.element, look, u[l], v[l]);
                let slope = at.u[l] * along_u + at.v[l] * along_v;
                // Downhill is away from the peak; where it is not, the walk goes on outward by the longest step.
                let away = offset.signum();
                let miss = scalar::ln(2.0 * level / peak.level[l]);
                let step = if slope * away < 0.0 { -miss / slope } else { away * miss };
                let longest = 0.25 * offset.abs();
                let reached = distance[l] + step.clamp(-longest, longest);
                distance[l] = away * (reached * away).clamp(0.1 * offset.abs(), 4.0 * offset.abs());
            }
        }
        let (u, v) = place(&distance);
        Point { u, v, level: peak.level.map(|level| level / 2.0) }
    }

    fn slopes(
        &mut self,
        array: &Array,
        look: &Look,
        u: &[f64; W],
        v: &[f64; W],
        re: &[[f64; W]],
        im: &[[f64; W]],
    ) -> Slopes<W> {
        for ((phase, x), y) in self.phase.iter_mut().zip(&array.x).zip(&array.y) {
            for l in 0..W {
                phase[l] = look.wavenumber * (x * u[l] + y * v[l]);
            }
        }
        let (sine, cosine) = (self.sine.as_flattened_mut(), self.cosine.as_flattened_mut());
        slice::sin_cos(self.phase.as_flattened(), sine, cosine);

        // Sums of the field and of its first and second moments over the face.
        let mut sums = [[0.0; W]; 12];
        let is_line = array.lattice.is_line();
        for n in 0..re.len() {
            let (x, y) = (array.x[n], array.y[n]);
            for l in 0..W {
                let a = re[n][l] * self.cosine[n][l] - im[n][l] * self.sine[n][l];
                let b = re[n][l] * self.sine[n][l] + im[n][l] * self.cosine[n][l];
                sums[0][l] += a;
                sums[1][l] += b;
                sums[2][l] += x * a;
                sums[3][l] += x * b;
                sums[4][l] += x * x * a;
                sums[5][l] += x * x * b;
                if !is_line {
                    sums[6][l] += y * a;
                    sums[7][l] += y * b;
                    sums[8][l] += x * y * a;
                    sums[9][l] += x * y * b;
                    sums[10][l] += y * y * a;
                    sums[11][l] += y * y * b;
                }
            }
        }
        let k = look.wavenumber;
        let exponent = array.element.exponent;
        let mut slopes =
            Slopes { power: [0.0; W], u: [0.0; W], v: [0.0; W], uu: [0.0; W], uv: [0.0; W], vv: [0.0; W] };
        for l in 0..W {
            let [a, b, xa, xb, xxa, xxb, ya, yb, xya, xyb, yya, yyb] = sums.map(|sum| sum[l]);
            let power = a * a + b * b;
            // With F = a + jb and dF/du = jk(xa + j xb): derivatives of |F|^2 over |F|^2.
            let per = 2.0 / power;
            let first = |pa: f64, pb: f64| per * k * (b * pa - a * pb);
            let second = |pa: f64, pb: f64, qa: f64, qb: f64, pqa: f64, pqb: f64| {
                per * k * k * (pa * qa + pb * qb - a * pqa - b * pqb)
            };
            let (pu, pv) = (first(xa, xb), first(ya, yb));
            let (cu, cv) = (look.toward.u + u[l], look.toward.v + v[l]);
            let squared_cosine = (1.0 - cu * cu - cv * cv).max(1e-9);
            let bend = 2.0 * exponent / squared_cosine;
            let bend_more = 2.0 * bend / squared_cosine;
            slopes.power[l] = power;
            slopes.u[l] = pu - bend * cu;
            slopes.v[l] = pv - bend * cv;
            slopes.uu[l] = second(xa, xb, xa, xb, xxa, xxb) - pu * pu - bend - bend_more * cu * cu;
            slopes.uv[l] = second(xa, xb, ya, yb, xya, xyb) - pu * pv - bend_more * cu * cv;
            slopes.vv[l] = second(ya, yb, ya, yb, yya, yyb) - pv * pv - bend - bend_more * cv * cv;
        }
        slopes
    }
}

fn element_power(element: &Element, look: &Look, u: f64, v: f64) -> f64 {
    element.power(Direction { u: look.toward.u + u, v: look.toward.v + v })
}

/// Newton's step to a maximum; where the surface is not a hilltop, a long step uphill (the caller clips it).
fn uphill(slope: [f64; 2], [uu, uv, vv]: [f64; 3], is_line: bool) -> (f64, f64) {
    if is_line {
        return if uu < 0.0 { (-slope[0] / uu, 0.0) } else { (slope[0], 0.0) };
    }
    let determinant = uu * vv - uv * uv;
    if uu < 0.0 && determinant > 0.0 {
        ((uv * slope[1] - vv * slope[0]) / determinant, (uv * slope[0] - uu * slope[1]) / determinant)
    } else {
        (slope[0], slope[1])
    }
}
