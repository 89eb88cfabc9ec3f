//! One design at several values of one or two parameters, on the same units.

mod points;

pub(crate) use points::{Points, Vary, in_steps};

use crate::decide::{DesignRun, Passes};
use crate::engine::End;
use crate::stats::{Estimate, Pairs};
use std::collections::BTreeMap;

/// A parameter and the values it takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Axis {
    /// The parameter.
    pub name: String,
    /// Its values, as on a drawing.
    pub values: Vec<String>,
}

/// The results of all points, row by row: the last axis varies fastest.
#[derive(Clone, Debug)]
pub(crate) struct Sweep {
    /// One or two.
    pub axes: Vec<Axis>,
    /// One for each point; `None` where an interrupt came first, and where the study cannot have its values.
    pub points: Vec<Option<DesignRun>>,
    /// Why the study cannot have the values of a point, by its number.
    pub refused: BTreeMap<usize, String>,
    /// Why it ended.
    pub end: End,
    /// Confidence of the intervals.
    pub confidence: f64,
}

/// A gain of yield below this is not worth a finer value.
pub(crate) const WORTH: f64 = 0.01;

/// A step from one point to the next along an axis.
#[derive(Clone, Debug)]
pub(crate) struct Step {
    /// Number of the axis.
    pub axis: usize,
    /// Number of the point where it begins.
    pub from: usize,
    /// Number of the point where it ends.
    pub to: usize,
    /// The units by both verdicts, the second point's first.
    pub pairs: Pairs,
    /// Yield of the second minus that of the first, on the same units.
    pub gain: Estimate,
}

/// Where more stops paying along an axis.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Knee {
    /// At this place of the line: the interval of every other place excludes a gain of [`WORTH`] or more.
    At(usize),
    /// Probably here, but the units do not show it; about this many would.
    Unsure(usize, Option<u64>),
    /// The yield still rises at the end of the range: the last place is within [`WORTH`] of the best, and the interval of its step excludes 0.
    BeyondRange,
    /// The interval of every place excludes a difference of [`WORTH`].
    Nowhere,
    /// A point is missing.
    Unknown,
}

impl Sweep {
    /// Places on the axes of a point.
    pub(crate) fn at(&self, point: usize) -> Vec<usize> {
        match self.axes.as_slice() {
            [_, second] => vec![point / second.values.len(), point % second.values.len()],
            _ => vec![point],
        }
    }

    /// The values of a point, one for each axis.
    pub(crate) fn values(&self, point: usize) -> Vec<&str> {
        self.axes.iter().zip(self.at(point)).map(|(axis, at)| axis.values[at].as_str()).collect()
    }

    /// Numbers of the points that the study can have.
    pub(crate) fn sound(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.points.len()).filter(|point| !self.refused.contains_key(point))
    }

    /// The value on an axis of a point.
    pub(crate) fn value(&self, axis: usize, point: usize) -> &str {
        &self.axes[axis].values[self.at(point)[axis]]
    }

    /// The points along an axis that the study can have, the places on the other as they are at `point`.
    pub(crate) fn line(&self, axis: usize, point: usize) -> Vec<usize> {
        let count = self.axes[axis].values.len();
        let stride = if axis + 1 == self.axes.len() { 1 } else { self.axes[axis + 1].values.len() };
        let first = point - self.at(point)[axis] * stride;
        let all = (0..count).map(|place| first + place * stride);
        all.filter(|point| !self.refused.contains_key(point)).collect()
    }

    /// The first place of every line along an axis on which the study can have a point.
    pub(crate) fn lines(&self, axis: usize) -> Vec<usize> {
        let begins = (0..self.points.len()).filter(|point| self.at(*point)[axis] == 0);
        begins.filter(|first| !self.line(axis, *first).is_empty()).collect()
    }

    /// Whether a point has all of its units.
    pub(crate) fn is_whole(&self, point: usize) -> bool {
        self.points[point].as_ref().is_some_and(|ran| !ran.is_cut)
    }

    /// Which units pass at a point after a calibration plan.
    pub(crate) fn passes(&self, point: usize, calibration: usize) -> Option<&Passes> {
        self.points[point].as_ref().map(|ran| &ran.passes[calibration])
    }

    /// Every step between neighbours that both have results, after one calibration plan.
    pub(crate) fn steps(&self, calibration: usize) -> Vec<Step> {
        let along = |axis: usize| {
            let lines = self.lines(axis).into_iter().map(move |first| self.line(axis, first));
            lines.flat_map(move |line| line.windows(2).map(|two| (axis, two[0], two[1])).collect::<Vec<_>>())
        };
        let steps = (0..self.axes.len()).flat_map(along);
        steps.filter_map(|(axis, from, to)| self.step(calibration, axis, from, to)).collect()
    }

    fn step(&self, calibration: usize, axis: usize, from: usize, to: usize) -> Option<Step> {
        let (pairs, gain) = self.gain(calibration, from, to)?;
        Some(Step { axis, from, to, pairs, gain })
    }

    /// The gain of yield from one point to another.
    fn gain(&self, calibration: usize, from: usize, to: usize) -> Option<(Pairs, Estimate)> {
        let pairs = self.passes(to, calibration)?.beside(self.passes(from, calibration)?);
        Some((pairs, pairs.difference(self.confidence)))
    }

    /// Yields along a line of points after a calibration plan; `None` where a point is missing.
    pub(crate) fn yields(&self, calibration: usize, line: &[usize]) -> Option<Vec<f64>> {
        let yield_at = |point: &usize| {
            let passes = self.passes(*point, calibration)?;
            Some(passes.beside(passes).both as f64 / passes.units() as f64)
        };
        line.iter().map(yield_at).collect()
    }

    /// Where more stops paying along a line of points after a calibration plan, coming from the end with the lower yield.
    pub(crate) fn knee(&self, calibration: usize, line: &[usize]) -> Knee {
        let Some(yields) = self.yields(calibration, line) else { return Knee::Unknown };
        let count = line.len();
        if count < 2 {
            return Knee::Nowhere;
        }
        let order: Vec<usize> =
            if rises(&yields) { (0..count).collect() } else { (0..count).rev().collect() };
        let best = order
            .iter()
            .copied()
            .fold(order[0], |best, at| if yields[at] > yields[best] { at } else { best });
        let gain = |from: usize, to: usize| self.gain(calibration, line[from], line[to]);
        let near = order.iter().copied().find_map(|at| (gain(at, best)?.1.value < WORTH).then_some(at));
        let Some(at) = near else { return Knee::Unknown };
        // Places whose interval does not exclude a worthwhile gain, the one that takes the most units first.
        let open = |at: usize| {
            let others = (0..count).filter(|to| *to != at).filter_map(|to| gain(at, to));
            let open = others.filter(|(_, gain)| gain.high >= WORTH);
            open.map(|(pairs, _)| pairs.units_to_tell_from(WORTH, self.confidence))
                .max_by_key(|of| of.unwrap_or(u64::MAX))
        };
        let last = order[count - 1];
        match open(at) {
            _ if at == last && gain(order[count - 2], last).is_some_and(|(_, gain)| gain.low > 0.0) => {
                Knee::BeyondRange
            }
            None if (0..count)
                .all(|from| gain(from, best).is_some_and(|(_, missed)| missed.high < WORTH)) =>
            {
                Knee::Nowhere
            }
            None => Knee::At(at),
            Some(units) => Knee::Unsure(at, units),
        }
    }
}

/// Whether yields are higher at their end than at their beginning.
pub(crate) fn rises(yields: &[f64]) -> bool {
    yields.last() > yields.first()
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::engine::Summary;

    fn sweep(counts: &[usize]) -> Sweep {
        let axis = |(number, count): (usize, &usize)| Axis {
            name: format!("axis {number}"),
            values: (0..*count).map(|value| value.to_string()).collect(),
        };
        let axes: Vec<Axis> = counts.iter().enumerate().map(axis).collect();
        let points = vec![None; counts.iter().product()];
        Sweep { axes, points, refused: BTreeMap::new(), end: End::Done, confidence: 0.95 }
    }

    #[test]
    fn points_are_row_by_row() {
        let two = sweep(&[2, 3]);
        assert_eq!((two.at(4), two.values(4)), (vec![1, 1], vec!["1", "1"]));
        assert_eq!((two.line(0, 4), two.line(1, 4)), (vec![1, 4], vec![3, 4, 5]));
        assert_eq!((two.lines(0), two.lines(1)), (vec![0, 1, 2], vec![0, 3]));
        let one = sweep(&[4]);
        assert_eq!((one.line(0, 2), one.lines(0), one.at(3)), (vec![0, 1, 2, 3], vec![0], vec![3]));
        assert_eq!(one.knee(0, &[0, 1]), Knee::Unknown);
    }

    /// The ends alike and the middle worse: something makes a difference. By their intervals no value beats the last.
    #[test]
    fn a_dip_is_a_difference() {
        assert_eq!(knee(&[900, 700, 900], 0), Knee::At(2));
        assert_eq!(knee(&[700, 900, 700], 0), Knee::At(1));
    }

    /// The last value is 1.5 points better by 60 units against 45 of a thousand, which is z = 1.46: the units do not
    /// show a rise. By 60 against 20, z = 4.5, it is one.
    #[test]
    fn a_rise_at_the_end_is_one_by_its_interval() {
        let knee = |lost: usize, won: usize| {
            let mut sweep = line(&[500, 900, 900], 0);
            let passes: Vec<bool> = (0..1000).map(|unit| (lost..900 + won).contains(&unit)).collect();
            if let Some(ran) = &mut sweep.points[2] {
                ran.passes = vec![Passes::of(&passes)];
            }
            sweep.knee(0, &sweep.line(0, 0))
        };
        assert_eq!(knee(45, 60), Knee::At(2));
        assert_eq!(knee(20, 60), Knee::BeyondRange);
    }

    /// One axis; at each place this many of a thousand units pass, the same ones first, except for `odd` units that differ from place
    /// to place.
    pub(crate) fn line(passing: &[usize], odd: usize) -> Sweep {
        const UNITS: usize = 1000;
        let mut sweep = sweep(&[passing.len()]);
        for (place, count) in passing.iter().enumerate() {
            let mut verdicts: Vec<bool> = (0..UNITS).map(|unit| unit < *count).collect();
            // As many fail of the first as pass of the last.
            for swap in 0..odd {
                verdicts.swap((place * odd + swap) % count, UNITS - 1 - swap);
            }
            let summary = Summary { trials: UNITS as u64, calibrations: Vec::new() };
            sweep.points[place] =
                Some(DesignRun { summary, passes: vec![Passes::of(&verdicts)], is_cut: false });
        }
        sweep
    }

    fn knee(passing: &[usize], odd: usize) -> Knee {
        let sweep = line(passing, odd);
        sweep.knee(0, &sweep.line(0, 0))
    }

    #[test]
    fn the_knee_is_the_first_place_that_no_other_beats() {
        assert_eq!(knee(&[300, 700, 900, 903, 902], 0), Knee::At(2));
        // Falling: the last place that no other beats.
        assert_eq!(knee(&[902, 903, 900, 700, 300], 0), Knee::At(2));
        assert_eq!(knee(&[300, 500, 700, 900], 0), Knee::BeyondRange);
        assert_eq!(knee(&[900, 700, 500], 0), Knee::BeyondRange);
        assert_eq!(knee(&[900, 901, 902], 0), Knee::Nowhere);
        // The same yields, but 40 units a side differ: 3 of 1000 then has a standard error of 9 of 1000, and a point is not
        // ruled out. z^2 (0.083 - 9e-6)/(0.007)^2 = 6507.
        match knee(&[300, 700, 900, 903, 902], 40) {
            Knee::Unsure(2, Some(units)) => assert!((4000..9000).contains(&units), "{units}"),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn steps_gain_what_their_yields_differ_by() {
        let sweep = line(&[300, 700, 650], 0);
        let steps = sweep.steps(0);
        let gains: Vec<f64> = steps.iter().map(|step| step.gain.value).collect();
        assert_eq!(gains, [0.4, -0.05]);
        assert_eq!((steps[1].from, steps[1].to, steps[1].pairs.only_second), (1, 2, 50));
        assert!(steps[1].gain.low < -0.05 && -0.05 < steps[1].gain.high && steps[1].gain.high < 0.0);
    }
}
