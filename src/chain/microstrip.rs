//! A microstrip line by its dimensions.

mod closed_form;

pub(crate) use closed_form::{
    conductor_loss, dielectric_loss, dispersed, roughness_factor, skin_depth, surface_resistance,
    with_thickness,
};
#[cfg(test)]
pub(crate) use closed_form::{effective_permittivity, impedance};

use crate::array::SPEED_OF_LIGHT;
use crate::chain::{Conditions, Listed, NEPERS_A_DB, Roles};
use crate::inspection::read_tolerance;
use crate::io::{Check, Dimension, Key, Table, keys};
use crate::math::TAU;
use crate::random::{Draws, Tolerance, Toleranced, Value};

/// A strip over a ground plane, open above: what a board shop controls, in place of an effective permittivity.
///
/// Formula: phase = -2 pi f L sqrt(eff(f))/c, loss = (conductor + dielectric) L, each from the drawn dimensions by the closed
/// forms of this folder: Hammerstad and Jensen's static line with their correction for thickness and their dispersion; conductor
/// loss Rs K/(Z0 w) with their current factor and Hammerstad and Bekkadal's factor for roughness; dielectric loss by the filling
/// factor. The conductor is copper of 58 MS/m unless stated, smooth and of no thickness unless stated; the substrate loses nothing unless
/// `loss_tangent` says so. Units: m, 1, S/m; dB for people. Source: Hammerstad and Jensen 1980 (from memory); see
/// [`effective_permittivity`] and its like.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Microstrip<T = Value> {
    length: T,
    width: T,
    height: T,
    permittivity: T,
    thickness: T,
    loss_tangent: T,
    conductivity: T,
    roughness: T,
}

/// Copper at room temperature, S/m.
const COPPER: f64 = 58e6;

/// Widths over height that the closed forms hold for.
const NARROWEST: f64 = 0.01;
const WIDEST: f64 = 100.0;

/// Permittivities that a draw can give; at 1 itself a filling factor would be nothing over nothing.
const LOWEST_PERMITTIVITY: f64 = 1.0 + 1e-6;
const HIGHEST_PERMITTIVITY: f64 = 128.0;

/// Least share of its nominal that a draw can leave of a width, a height or a conductivity.
const LEAST_SHARE: f64 = 0.1;

keys! {
    pub(super) KEYS: "A microstrip line, computed from its cross-section";
    LENGTH: Toleranced =
        Key::tolerance("length", Dimension::Length, Check::NonNegative, "30 mm", "Length");
    WIDTH: Toleranced =
        Key::tolerance("width", Dimension::Length, Check::Positive, "0.5 mm", "Width of the strip");
    HEIGHT: Toleranced =
        Key::tolerance("height", Dimension::Length, Check::Positive, "0.25 mm", "Height of the strip above ground");
    PERMITTIVITY: Toleranced =
        Key::tolerance("permittivity", Dimension::Ratio, Check::Within(1.0, HIGHEST_PERMITTIVITY), "3.5",
            "Relative permittivity of the substrate");
    THICKNESS: Toleranced =
        Key::tolerance("thickness", Dimension::Length, SURFACE, "18 um",
            "Thickness of the strip; none where it is left out").or_exactly(0.0);
    LOSS_TANGENT: Toleranced =
        Key::tolerance("loss_tangent", Dimension::Ratio, Check::Within(0.0, 1.0), "0.002",
            "Loss tangent of the substrate; none where it is left out").or_exactly(0.0);
    CONDUCTIVITY: Toleranced =
        Key::tolerance("conductivity", Dimension::Conductivity, Check::Within(1e3, 1e9), "58 MS/m",
            "Conductivity of the strip; that of copper where it is left out").or_exactly(COPPER);
    ROUGHNESS: Toleranced =
        Key::tolerance("roughness", Dimension::Length, SURFACE, "1 um",
            "Roughness of the copper, root mean square; none where it is left out").or_exactly(0.0);
}

/// Thicknesses and roughnesses of a strip, m.
const SURFACE: Check = Check::Within(0.0, 1e-3);

impl Microstrip<Tolerance> {
    /// Word for `kind`.
    pub(crate) const KIND: &'static str = "microstrip";

    pub(super) fn read(table: &Table) -> Microstrip<Tolerance> {
        let line = Microstrip {
            length: read_tolerance(table, &LENGTH),
            width: read_tolerance(table, &WIDTH),
            height: read_tolerance(table, &HEIGHT),
            permittivity: read_tolerance(table, &PERMITTIVITY),
            thickness: read_tolerance(table, &THICKNESS),
            loss_tangent: read_tolerance(table, &LOSS_TANGENT),
            conductivity: read_tolerance(table, &CONDUCTIVITY),
            roughness: read_tolerance(table, &ROUGHNESS),
        };
        let u = line.width.nominal / line.height.nominal;
        let is_read = [WIDTH, HEIGHT].iter().all(|key| table.has(key) && table.is_sound(key));
        if is_read && !(NARROWEST..=WIDEST).contains(&u) {
            table.error(
                table.span_of(WIDTH),
                format!("the strip is {u:.4} times as wide as it is high above ground"),
                "outside of what the closed form holds for",
                Some(format!("{NARROWEST} to {WIDEST} times `height`")),
            );
        }
        line
    }
}

impl<T> Microstrip<T> {
    pub(super) fn map<'a, U>(&'a self, to: &mut impl FnMut(Listed<'a, T>) -> U) -> Microstrip<U> {
        Microstrip {
            length: to(Listed::one(&LENGTH, &self.length)),
            width: to(Listed::one(&WIDTH, &self.width)),
            height: to(Listed::one(&HEIGHT, &self.height)),
            permittivity: to(Listed::one(&PERMITTIVITY, &self.permittivity)),
            thickness: to(Listed::one(&THICKNESS, &self.thickness)),
            loss_tangent: to(Listed::one(&LOSS_TANGENT, &self.loss_tangent)),
            conductivity: to(Listed::one(&CONDUCTIVITY, &self.conductivity)),
            roughness: to(Listed::one(&ROUGHNESS, &self.roughness)),
        }
    }
}

impl<T> Roles<T> for Microstrip<T> {}

impl Microstrip {
    pub(super) fn nominal_gain_db(&self, at: &Conditions) -> f64 {
        self.response(&self.nominal(), at.frequency).0 / NEPERS_A_DB
    }

    #[inline(always)]
    fn nominal(&self) -> Line {
        Line {
            length: self.length.nominal,
            width: self.width.nominal,
            height: self.height.nominal,
            permittivity: self.permittivity.nominal,
            thickness: self.thickness.nominal,
            loss_tangent: self.loss_tangent.nominal,
            conductivity: self.conductivity.nominal,
            roughness: self.roughness.nominal,
        }
    }

    #[inline(always)]
    pub(super) fn add<const W: usize>(
        &self,
        at: &Conditions,
        draws: &Draws<W>,
        gain: &mut [[f64; W]],
        phase: &mut [[f64; W]],
    ) {
        let nominal = self.response(&self.nominal(), at.frequency);
        for (channel, (gain, phase)) in gain.iter_mut().zip(phase).enumerate() {
            let length = self.length.at(draws, 0, channel);
            let width = self.width.at(draws, 0, channel);
            let height = self.height.at(draws, 0, channel);
            let permittivity = self.permittivity.at(draws, 0, channel);
            let thickness = self.thickness.at(draws, 0, channel);
            let loss_tangent = self.loss_tangent.at(draws, 0, channel);
            let conductivity = self.conductivity.at(draws, 0, channel);
            let roughness = self.roughness.at(draws, 0, channel);
            for l in 0..W {
                let drawn = Line {
                    length: length[l],
                    width: width[l],
                    height: height[l],
                    permittivity: permittivity[l],
                    thickness: thickness[l],
                    loss_tangent: loss_tangent[l],
                    conductivity: conductivity[l],
                    roughness: roughness[l],
                };
                let (nepers, radians) = self.response(&drawn, at.frequency);
                gain[l] += nepers - nominal.0;
                phase[l] += radians - nominal.1;
            }
        }
    }

    /// Gain (nepers) and phase (rad) of a line, its dimensions held to what a line can have.
    #[inline(always)]
    fn response(&self, line: &Line, frequency: f64) -> (f64, f64) {
        let width = at_least(line.width, LEAST_SHARE * self.width.nominal);
        let height = at_least(line.height, LEAST_SHARE * self.height.nominal);
        let conductivity = at_least(line.conductivity, LEAST_SHARE * self.conductivity.nominal);
        let er = at_most(at_least(line.permittivity, LOWEST_PERMITTIVITY), HIGHEST_PERMITTIVITY);
        let u = at_most(at_least(width / height, NARROWEST), WIDEST);
        let (still, impedance) = with_thickness(u, at_least(line.thickness, 0.0) / height, er);
        let effective = dispersed(er, still, impedance, height, frequency);
        let roughness = roughness_factor(at_least(line.roughness, 0.0), skin_depth(frequency, conductivity));
        let resistance = surface_resistance(frequency, conductivity) * roughness;
        let loss = conductor_loss(resistance, impedance, width)
            + dielectric_loss(frequency, er, effective, at_least(line.loss_tangent, 0.0));
        (-loss * line.length, -TAU * frequency / SPEED_OF_LIGHT * line.length * effective.sqrt())
    }
}

/// The dimensions of one line as drawn: m, 1, S/m.
struct Line {
    length: f64,
    width: f64,
    height: f64,
    permittivity: f64,
    thickness: f64,
    loss_tangent: f64,
    conductivity: f64,
    roughness: f64,
}

// A comparison at a time: `clamp` keeps a loop over lanes from becoming vector code.

#[inline(always)]
fn at_least(x: f64, low: f64) -> f64 {
    if x > low { x } else { low }
}

#[inline(always)]
fn at_most(x: f64, high: f64) -> f64 {
    if x < high { x } else { high }
}
