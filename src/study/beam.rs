//! A beam.

use crate::array::Direction;
use crate::io::{Check, Dimension, Key, Optional, Or, Quantity, Table, Text, keys};

/// A beam and where it points.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Beam {
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

keys! {
    pub(super) BEAM: "A beam that every unit is steered to";
    pub(super) NAME: Text = Key::text("name", "ahead", "What the beam is called, unlike all others");
    THETA: Quantity =
        Key::quantity("theta", Dimension::Angle, Check::Any, "10 deg", "Angle from broadside; negative to the other side");
    PHI: Or<Quantity, f64> =
        Key::quantity("phi", Dimension::Angle, Check::Any, "0 deg",
            "Azimuth of the scan plane from the x axis; 0 deg where it is left out, not for a line").or(0.0);
    NULL_AT: Optional<Quantity> =
        Key::quantity("null_at", Dimension::Angle, Check::Any, "40 deg",
            "Angle from broadside, in the same plane, where a null is wanted").optional();
}

impl Beam {
    pub(super) fn read(table: &Table, is_line: bool) -> Beam {
        let angle_in_space = |key: &'static str, angle: f64| {
            if angle.abs() > QUARTER_TURN {
                table.error(
                    table.span_of(key),
                    format!("`{key}` is outside visible space"),
                    "more than 90 deg from broadside",
                    Some("an angle from -90 deg to 90 deg".into()),
                );
                return 0.0;
            }
            angle
        };
        let name = table.read(&NAME);
        let theta = angle_in_space(THETA.name, table.read(&THETA));
        let has_phi = table.has(PHI);
        let phi = table.read(&PHI);
        if is_line && has_phi {
            table.error(
                table.span_of(PHI),
                "a line scans in one plane",
                "`phi` has no meaning for it",
                Some("leave `phi` out; a negative `theta` points to the other side".into()),
            );
        }
        let null_at = table.read(&NULL_AT);
        Beam { name, theta, phi, null_at: null_at.map(|angle| angle_in_space(NULL_AT.name, angle)) }
    }

    /// Where it points.
    pub(crate) fn direction(&self) -> Direction {
        Direction::from_angles(self.theta, self.phi)
    }

    /// Where its null is wanted.
    pub(crate) fn null_direction(&self) -> Option<Direction> {
        self.null_at.map(|theta| Direction::from_angles(theta, self.phi))
    }
}
