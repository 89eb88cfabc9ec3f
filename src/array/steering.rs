//! Directions.

use crate::math::scalar;

/// A direction by its cosines: u = sin(theta) cos(phi), v = sin(theta) sin(phi), theta from
/// broadside, phi from the x axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Direction {
    /// Cosine to the x axis.
    pub u: f64,
    /// Cosine to the y axis.
    pub v: f64,
}

impl Direction {
    /// From angles, rad. A negative theta is on the other side of broadside.
    pub(crate) fn from_angles(theta: f64, phi: f64) -> Direction {
        let sine = scalar::sin(theta);
        if phi == 0.0 {
            return Direction { u: sine, v: 0.0 };
        }
        Direction { u: sine * scalar::cos(phi), v: sine * scalar::sin(phi) }
    }

    /// Angle to another direction, rad, >= 0. Through the chord, so that small angles keep their
    /// digits. Directions beyond the edge of visible space count as lying on it.
    #[cfg(test)]
    pub(crate) fn angle_to(&self, other: Direction) -> f64 {
        let (a, b) = (self.unit_vector(), other.unit_vector());
        let chord = ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2) + (a[2] - b[2]).powi(2)).sqrt();
        2.0 * scalar::asin((chord / 2.0).min(1.0))
    }

    #[cfg(test)]
    fn unit_vector(&self) -> [f64; 3] {
        let transverse = self.u * self.u + self.v * self.v;
        if transverse > 1.0 {
            let r = transverse.sqrt();
            return [self.u / r, self.v / r, 0.0];
        }
        [self.u, self.v, (1.0 - transverse).sqrt()]
    }
}
