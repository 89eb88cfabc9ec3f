//! Where units fail: every beam, frequency and temperature by itself, any two of them, and all three.

use crate::engine::outcomes::PlanOutcomes;
use crate::model::Model;

/// The places of a model. Each is one beam or all, one frequency or all, one temperature or all; where a study has one of a kind, all of
/// the kind is that one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Places {
    /// Beams, frequencies, temperatures.
    counts: [usize; 3],
}

/// A place: number of its beam, frequency and temperature among the study's, `None` for all of them.
pub(super) type Place = [Option<usize>; 3];

impl Places {
    /// Of a model.
    pub(super) fn of(model: &Model) -> Places {
        // The last beam point is the last of each kind.
        Places { counts: model.points.last().map_or([0; 3], |point| point.numbers().map(|last| 1 + last)) }
    }

    /// How many there are.
    pub(super) fn count(&self) -> usize {
        self.sides().iter().product()
    }

    /// Along each kind: one for all, and behind it each by itself where there are several.
    fn sides(&self) -> [usize; 3] {
        self.counts.map(|count| if count > 1 { 1 + count } else { 1 })
    }

    /// The place of a number.
    pub(super) fn place(&self, number: usize) -> Place {
        let [_, frequencies, temperatures] = self.sides();
        let each = [
            number / (frequencies * temperatures),
            number / temperatures % frequencies,
            number % temperatures,
        ];
        each.map(|of| of.checked_sub(1))
    }

    /// Numbers of all places that a beam point belongs to, by the numbers of its beam, its frequency and its temperature; one may stand
    /// several times.
    fn around(&self, each: [usize; 3]) -> [usize; 8] {
        let sides = self.sides();
        std::array::from_fn(|which| {
            let number = |number: usize, kind: usize| {
                let is_one = which >> kind & 1 == 1 && sides[kind] > 1;
                number * sides[kind] + if is_one { 1 + each[kind] } else { 0 }
            };
            (0..3).fold(0, number)
        })
    }

    /// At each place, the units of a chunk that meet every limit there and fail for no other reason.
    pub(super) fn passed(&self, model: &Model, outcomes: &PlanOutcomes) -> Vec<u64> {
        let mut passed = vec![outcomes.sound(); self.count()];
        for (limit, met) in model.limits.iter().zip(outcomes.met()) {
            self.around(model.points[model.columns[limit.column].point].numbers())
                .iter()
                .for_each(|place| passed[*place] &= met);
        }
        passed
    }

    /// Whether there is a limit at each place.
    pub(super) fn limited(&self, model: &Model) -> Vec<bool> {
        let mut limited = vec![false; self.count()];
        for limit in &model.limits {
            self.around(model.points[model.columns[limit.column].point].numbers())
                .iter()
                .for_each(|place| limited[*place] = true);
        }
        limited
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_look_belongs_to_its_beam_its_frequency_its_temperature_and_all() {
        let places = Places { counts: [2, 3, 2] };
        assert_eq!(places.count(), 3 * 4 * 3);
        let around: Vec<Place> =
            places.around([1, 1, 1]).iter().map(|number| places.place(*number)).collect();
        let one = Some(1);
        for place in [
            [None, None, None],
            [one, None, None],
            [None, one, None],
            [one, one, None],
            [None, None, one],
            [one, None, one],
            [None, one, one],
            [one, one, one],
        ] {
            assert!(around.contains(&place), "{place:?}");
        }
        assert_eq!(
            places.around([0, 2, 0]).map(|number| places.place(number))[7],
            [Some(0), Some(2), Some(0)]
        );
    }

    #[test]
    fn one_of_a_kind_is_all_of_it() {
        let places = Places { counts: [3, 1, 1] };
        assert_eq!(places.count(), 4);
        let all: Vec<Place> = (0..4).map(|number| places.place(number)).collect();
        assert_eq!(all, [None, Some(0), Some(1), Some(2)].map(|beam| [beam, None, None]));
        let mut around = places.around([2, 0, 0]).to_vec();
        around.sort_unstable();
        around.dedup();
        assert_eq!(around, [0, 3]);
    }
}
