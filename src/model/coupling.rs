//! Which elements couple, and how strongly.

use crate::array::Array;
use crate::chain::NeighbourCoupling;

/// Elements count as nearest neighbours up to this many times the smallest distance: a lattice is not drawn to the last digit.
const NEAR: f64 = 1.05;

/// Coupling between the nearest neighbours of an array.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Coupling {
    /// Level and phase, bound to their draws.
    pub coefficient: NeighbourCoupling,
    /// The nearest neighbours of each element, ascending, `[channel]`.
    pub neighbours: Vec<Vec<u32>>,
}

impl Coupling {
    /// Looks for the nearest neighbours.
    pub(super) fn new(array: &Array, coefficient: &NeighbourCoupling) -> Coupling {
        let square = |a: usize, b: usize| {
            let (x, y) = (array.x[a] - array.x[b], array.y[a] - array.y[b]);
            x * x + y * y
        };
        let count = array.channels();
        let pairs = || (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b)));
        let smallest = pairs().map(|(a, b)| square(a, b)).fold(f64::INFINITY, f64::min);
        let mut neighbours = vec![Vec::new(); count];
        for (a, b) in pairs().filter(|(a, b)| square(*a, *b) <= NEAR * NEAR * smallest) {
            neighbours[a].push(b as u32);
            neighbours[b].push(a as u32);
        }
        Coupling { coefficient: coefficient.clone(), neighbours }
    }
}
