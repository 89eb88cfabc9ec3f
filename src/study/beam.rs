//! A beam.

use crate::array::Direction;
use crate::io::{Check, Dimension, Table};

/// A beam and where it points.
#[derive(Clone, Debug, PartialEq)]
pub struct Beam {
    /// Name, unique in the study.
    pub name: String,
    /// Angle from broadside, rad; negative on the other side.
    pub theta: f64,
    /// Azimuth of the scan plane from the x axis, rad.
    pub phi: f64,
    /// Angle from broadside, in the same plane, where a null is wanted, rad.
    pub null_at: Option<f64>,
}

const QUARTER_TURN: f64 = std::f64::consts::FRAC_PI_2;

impl Beam {
    pub(super) fn read(table: &Table, is_line: bool) -> Beam {
        let angle_in_space = |key: &'static str, angle: f64| {
            if angle.abs() > QUARTER_TURN {
                table.error(
                    table.span_of(key),
                    format!("`{key}` lies outside visible space"),
                    "more than 90 deg from broadside",
                    Some("an angle from -90 deg to 90 deg".into()),
                );
                return 0.0;
            }
            angle
        };
        let name = table.text("name");
        let theta = angle_in_space("theta", table.quantity("theta", Dimension::Angle, Check::Any));
        let has_phi = table.has("phi");
        let phi = table.quantity_or("phi", Dimension::Angle, Check::Any, 0.0);
        if is_line && has_phi {
            table.error(
                table.span_of("phi"),
                "a line scans in one plane",
                "`phi` has no meaning for it",
                Some("leave `phi` out; a negative `theta` points to the other side".into()),
            );
        }
        let null_at = table.optional_quantity("null_at", Dimension::Angle, Check::Any);
        Beam { name, theta, phi, null_at: null_at.map(|angle| angle_in_space("null_at", angle)) }
    }

    /// Where it points.
    pub fn direction(&self) -> Direction {
        Direction::from_angles(self.theta, self.phi)
    }

    /// Where its null is wanted.
    pub fn null_direction(&self) -> Option<Direction> {
        self.null_at.map(|theta| Direction::from_angles(theta, self.phi))
    }
}
