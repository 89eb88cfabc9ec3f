//! Axes: from values to positions, and the round values written beside them.

use crate::math::scalar::log10;
use crate::report::number::{fixed, significant};

/// Values of this size or more are written with their power of ten.
const LARGE: f64 = 1e7;

/// An axis of a chart.
#[derive(Clone, Debug)]
pub(crate) struct Axis {
    /// The quantity along it.
    pub name: String,
    /// Its unit; empty for none.
    pub unit: String,
    /// Its scale.
    pub scale: Scale,
}

/// The spacing of values along an axis.
#[derive(Clone, Debug)]
pub(crate) enum Scale {
    /// Equal steps are equally long.
    Linear {
        /// The value at the beginning.
        from: f64,
        /// The value at the end.
        to: f64,
    },
    /// Equal ratios are equally long; both ends above 0.
    Ratios {
        /// The value at the beginning.
        from: f64,
        /// The value at the end.
        to: f64,
    },
    /// Names side by side, counted from 0.
    Names(Vec<String>),
}

impl Axis {
    /// An axis from one value to another.
    pub(crate) fn between(name: impl Into<String>, unit: impl Into<String>, from: f64, to: f64) -> Axis {
        let to = if to > from { to } else { from + 1.0 };
        Axis { name: name.into(), unit: unit.into(), scale: Scale::Linear { from, to } }
    }

    /// An axis of shares in percent, from 0 to 100.
    pub(crate) fn percent(name: impl Into<String>) -> Axis {
        Axis::between(name, "%", 0.0, 100.0)
    }

    /// An axis of shares in percent about some values, for lines; bars begin at 0 and need the full axis.
    pub(crate) fn percent_around(name: impl Into<String>, values: impl IntoIterator<Item = f64>) -> Axis {
        let (low, high) = range(values);
        let axis = Axis::around(name, "%", [low, high]);
        match axis.scale {
            Scale::Linear { from, to } => {
                let scale = Scale::Linear { from: from.max(0.0), to: to.min(100.0) };
                Axis { scale, ..axis }
            }
            _ => axis,
        }
    }

    /// An axis that holds some values, from one round value to another.
    pub(crate) fn around(
        name: impl Into<String>,
        unit: impl Into<String>,
        values: impl IntoIterator<Item = f64>,
    ) -> Axis {
        let (low, high) = range(values);
        let step = round_step((high - low) / 5.0);
        let (from, to) = ((low / step).floor() * step, (high / step).ceil() * step);
        Axis::between(name, unit, from, to)
    }

    /// The same from 0 on, where no value is below.
    pub(crate) fn from_zero(
        name: impl Into<String>,
        unit: impl Into<String>,
        values: impl IntoIterator<Item = f64>,
    ) -> Axis {
        Axis::around(name, unit, values.into_iter().chain([0.0]))
    }

    /// A logarithmic axis that holds some values; a linear one where some are not above 0, or where all are within a factor of 8.
    pub(crate) fn spread(
        name: impl Into<String>,
        unit: impl Into<String>,
        values: impl IntoIterator<Item = f64>,
    ) -> Axis {
        let (low, high) = range(values);
        if low > 0.0 && high / low > 8.0 {
            let scale = Scale::Ratios { from: low / 1.08, to: high * 1.08 };
            return Axis { name: name.into(), unit: unit.into(), scale };
        }
        let room = 0.03 * (high - low);
        Axis::between(name, unit, low - room, high + room)
    }

    /// An axis of names.
    pub(crate) fn names(name: impl Into<String>, names: Vec<String>) -> Axis {
        Axis { name: name.into(), unit: String::new(), scale: Scale::Names(names) }
    }

    /// The position of a value: 0 at the beginning, 1 at the end, never beyond.
    pub(crate) fn place(&self, value: f64) -> f64 {
        let place = match &self.scale {
            Scale::Linear { from, to } => (value - from) / (to - from),
            Scale::Ratios { from, to } if value > 0.0 => log10(value / from) / log10(to / from),
            Scale::Ratios { .. } => 0.0,
            Scale::Names(names) => (value + 0.5) / names.len().max(1) as f64,
        };
        if place.is_finite() { place.clamp(0.0, 1.0) } else { 0.0 }
    }

    /// Whether a value is on it.
    pub(crate) fn holds(&self, value: f64) -> bool {
        match &self.scale {
            Scale::Linear { from, to } | Scale::Ratios { from, to } => (*from..=*to).contains(&value),
            Scale::Names(names) => value >= 0.0 && value < names.len() as f64,
        }
    }

    /// Values to write, at most so many and two.
    pub(crate) fn ticks(&self, most: usize) -> Vec<(f64, String)> {
        match &self.scale {
            Scale::Linear { from, to } => linear(*from, *to, most),
            Scale::Ratios { from, to } => ratios(*from, *to, most),
            Scale::Names(names) => {
                let every = names.len().div_ceil(most.max(1)).max(1);
                let numbered = names.iter().enumerate().step_by(every);
                numbered.map(|(number, name)| (number as f64, name.clone())).collect()
            }
        }
    }

    /// "yield, %"
    pub(crate) fn title(&self) -> String {
        if self.unit.is_empty() { self.name.clone() } else { format!("{}, {}", self.name, self.unit) }
    }
}

/// The least and the most of some finite values; from 0 to 1 where there is none.
fn range(values: impl IntoIterator<Item = f64>) -> (f64, f64) {
    let (low, high) = values
        .into_iter()
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
    match (low.is_finite(), low < high) {
        (false, _) => (0.0, 1.0),
        (true, false) => (low - 0.05 * low.abs().max(0.1), high + 0.05 * high.abs().max(0.1)),
        _ => (low, high),
    }
}

/// The least of 1, 2 and 5 times a power of ten that is not below a step.
fn round_step(step: f64) -> f64 {
    let Some((mantissa, power)) = parts(step) else { return 1.0 };
    let factor =
        [1.0, 2.0, 5.0, 10.0].into_iter().find(|factor| mantissa <= factor * (1.0 + 1e-9)).unwrap_or(10.0);
    format!("{factor}e{power}").parse().unwrap_or(1.0)
}

/// A positive number as mantissa from 1 to 10 and power of ten. Writing decimals is exact everywhere, a logarithm is not.
fn parts(value: f64) -> Option<(f64, i32)> {
    if !(value > 0.0 && value.is_finite()) {
        return None;
    }
    let text = format!("{value:.12e}");
    let (mantissa, power) = text.split_once('e')?;
    Some((mantissa.parse().ok()?, power.parse().ok()?))
}

fn linear(from: f64, to: f64, most: usize) -> Vec<(f64, String)> {
    let step = round_step((to - from) / most.max(1) as f64);
    let decimals = parts(step).map_or(0, |(_, power)| (-power).max(0));
    let first = (from / step - 1e-9).ceil() as i64;
    let last = (to / step + 1e-9).floor() as i64;
    let ticks = (first..=last).take(2 * most + 4).map(|number| number as f64 * step);
    let is_large = from.abs().max(to.abs()) >= LARGE;
    let text = |value: f64| if is_large { format!("{value:.1e}") } else { fixed(value, decimals) };
    ticks.map(|value| (value, text(value))).collect()
}

fn ratios(from: f64, to: f64, most: usize) -> Vec<(f64, String)> {
    let (Some((_, first)), Some((_, last))) = (parts(from), parts(to)) else { return Vec::new() };
    let with = |factors: &[u32]| -> Vec<f64> {
        let all = (first..=last).flat_map(|power| {
            factors.iter().filter_map(move |factor| format!("{factor}e{power}").parse::<f64>().ok())
        });
        all.filter(|value| (from..=to).contains(value)).collect()
    };
    let every = [&[1, 2, 5][..], &[1, 3], &[1]];
    let found = every.into_iter().map(with).find(|ticks| ticks.len() <= most + 1);
    let ticks = found.unwrap_or_else(|| with(&[1]).into_iter().step_by(2).collect());
    ticks.into_iter().map(|value| (value, significant(value, 2))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(axis: &Axis, most: usize) -> Vec<String> {
        axis.ticks(most).into_iter().map(|(_, text)| text).collect()
    }

    #[test]
    fn ticks_are_round() {
        assert_eq!(texts(&Axis::percent("yield"), 5), ["0", "20", "40", "60", "80", "100"]);
        assert_eq!(texts(&Axis::between("a", "dB", -13.4, -12.1), 4), ["-13.0", "-12.5"]);
        assert_eq!(texts(&Axis::between("a", "", 0.0, 0.003), 3), ["0.000", "0.001", "0.002", "0.003"]);
        assert_eq!(texts(&Axis::spread("a", "mm", [0.01, 8.0]), 6), ["0.01", "0.03", "0.1", "0.3", "1", "3"]);
    }

    #[test]
    fn values_have_their_positions() {
        let axis = Axis::between("a", "", -10.0, 10.0);
        assert_eq!(
            [-20.0, -10.0, 0.0, 10.0, f64::NAN].map(|value| axis.place(value)),
            [0.0, 0.0, 0.5, 1.0, 0.0]
        );
        let ratios = Axis { scale: Scale::Ratios { from: 1.0, to: 100.0 }, ..axis };
        assert_eq!([1.0, 10.0, 100.0, 0.0].map(|value| ratios.place(value)), [0.0, 0.5, 1.0, 0.0]);
        let names = Axis::names("a", vec!["x".into(), "y".into()]);
        assert_eq!([names.place(0.0), names.place(1.0)], [0.25, 0.75]);
    }

    #[test]
    fn an_axis_has_room_whatever_the_values() {
        for values in [vec![], vec![f64::NAN], vec![3.0], vec![0.0, 0.0], vec![-1.0, f64::INFINITY, 7.0]] {
            let axis = Axis::around("a", "", values.clone());
            assert!(axis.ticks(5).len() > 1, "{values:?} {axis:?}");
        }
        let around = Axis::around("a", "", [-12.7, -9.1]);
        assert!(around.holds(-12.7) && around.holds(-9.1) && !around.holds(-20.0));
    }

    #[test]
    fn an_axis_of_shares_fits_its_values_and_ends_at_100_percent() {
        let ends = |values: &[f64]| match Axis::percent_around("yield", values.iter().copied()).scale {
            Scale::Linear { from, to } => [from, to],
            _ => panic!("a linear axis"),
        };
        assert_eq!(ends(&[91.0, 99.9]), [90.0, 100.0]);
        assert_eq!(ends(&[0.0, 100.0]), [0.0, 100.0]);
        let [from, to] = ends(&[100.0]);
        assert!(from < 100.0 && to == 100.0);
        let [from, to] = ends(&[0.0]);
        assert!(from == 0.0 && to > 0.0);
    }

    #[test]
    fn steps_are_the_next_round_ones() {
        for (step, round) in [(0.7, 1.0), (1.0, 1.0), (1.1, 2.0), (0.021, 0.05), (60.0, 100.0), (0.0, 1.0)] {
            assert_eq!(round_step(step), round, "{step}");
        }
    }
}
