//! Where the main lobe ends and where visible space does.

use crate::array::Direction;

/// Main lobe and side lobes of a beam. Offsets are from the commanded direction, in direction cosines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Region {
    toward: Direction,
    centre: (f64, f64),
    /// Half the extent of the main lobe.
    reach: (f64, f64),
    /// Factors from an offset to parts of the half axes of an elliptic main lobe; 0 for a rectangular one.
    per_axis: (f64, f64),
}

/// Shape of the main lobe's region in direction cosines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    /// Out to a null along each axis, as the patterns of lattices have them.
    Rectangle,
    /// With the nulls along the axes as ends of its axes.
    Ellipse,
}

impl Region {
    /// A main lobe around `centre` out to the nulls at `nulls`; infinite along y for a line.
    pub(super) fn new(toward: Direction, centre: (f64, f64), nulls: (f64, f64), shape: Shape) -> Region {
        // A null that falls on a sample, as a uniform line's does, belongs to the side lobes.
        let reach = (nulls.0 * (1.0 - 1e-6), nulls.1 * (1.0 - 1e-6));
        let per_axis = match shape {
            Shape::Rectangle => (0.0, 0.0),
            Shape::Ellipse => (1.0 / reach.0, 1.0 / reach.1),
        };
        Region { toward, centre, reach, per_axis }
    }

    #[inline(always)]
    pub(super) fn is_main_lobe(&self, u: f64, v: f64) -> bool {
        self.is_visible(u, v) & self.is_within_nulls(u, v)
    }

    #[inline(always)]
    pub(super) fn is_side_lobe(&self, u: f64, v: f64) -> bool {
        self.is_visible(u, v) & !self.is_within_nulls(u, v)
    }

    /// The steps along x and y from a place outside the main lobe that lead toward it, when it is next to it; (0, 0)
    /// elsewhere.
    pub(super) fn inward(&self, (u, v): (f64, f64), spacing: (f64, f64)) -> (i32, i32) {
        if self.is_elliptic() {
            return self.inward_to_ellipse((u - self.centre.0, v - self.centre.1), spacing);
        }
        let axis = |from_centre: f64, reach: f64, spacing: f64| {
            let beyond = from_centre.abs() - reach;
            let inward = if from_centre > 0.0 { -1 } else { 1 };
            (beyond < NEXT_TO * spacing || reach.is_infinite(), if beyond >= 0.0 { inward } else { 0 })
        };
        let (near_u, inward_u) = axis(u - self.centre.0, self.reach.0, spacing.0);
        let (near_v, inward_v) = axis(v - self.centre.1, self.reach.1, spacing.1);
        if near_u && near_v { (inward_u, inward_v) } else { (0, 0) }
    }

    /// Toward the middle along both axes: more directions than the skirt rises in do no harm.
    fn inward_to_ellipse(&self, (u, v): (f64, f64), spacing: (f64, f64)) -> (i32, i32) {
        let part = |from_centre: f64, per_axis: f64| (from_centre * per_axis).powi(2);
        let is_within = |u: f64, v: f64| part(u, self.per_axis.0) + part(v, self.per_axis.1) < 1.0;
        let nearer = |from_centre: f64, spacing: f64| (from_centre.abs() - NEXT_TO * spacing).max(0.0);
        if is_within(u, v) || !is_within(nearer(u, spacing.0), nearer(v, spacing.1)) {
            return (0, 0);
        }
        let step = |from_centre: f64, spacing: f64| match from_centre {
            far if far > 0.5 * spacing => -1,
            far if far < -0.5 * spacing => 1,
            _ => 0,
        };
        (step(u, spacing.0), step(v, spacing.1))
    }

    fn is_elliptic(&self) -> bool {
        self.per_axis != (0.0, 0.0)
    }

    /// Distance to the first null in a direction (unit vector), at most.
    pub(super) fn main_lobe_along(&self, along: (f64, f64)) -> f64 {
        if self.is_elliptic() {
            return 1.0 / ((along.0 * self.per_axis.0).powi(2) + (along.1 * self.per_axis.1).powi(2)).sqrt();
        }
        let reach = |null: f64, cosine: f64| if cosine == 0.0 { f64::INFINITY } else { null / cosine.abs() };
        reach(self.reach.0, along.0).min(reach(self.reach.1, along.1))
    }

    #[inline(always)]
    fn is_visible(&self, u: f64, v: f64) -> bool {
        let (u, v) = (self.toward.u + u, self.toward.v + v);
        // A direction put on the edge may round to beyond it.
        u * u + v * v <= 1.0 + 1e-12
    }

    /// Whether some direction of visible space is at this offset along y.
    pub(super) fn is_row_visible(&self, v: f64) -> bool {
        (self.toward.v + v).abs() <= 1.0
    }

    #[inline(always)]
    fn is_within_nulls(&self, u: f64, v: f64) -> bool {
        let (u, v) = (u - self.centre.0, v - self.centre.1);
        let (part_u, part_v) = (u * self.per_axis.0, v * self.per_axis.1);
        let is_in_rectangle = (u.abs() < self.reach.0) & (v.abs() < self.reach.1);
        is_in_rectangle & (part_u * part_u + part_v * part_v < 1.0)
    }

    /// The side lobes along x at one offset along y, as intervals of offsets along x.
    pub(super) fn intervals(&self, v: f64) -> Vec<(f64, f64)> {
        let half_chord = (1.0 - (self.toward.v + v).powi(2)).max(0.0).sqrt();
        let (low, high) = (-half_chord - self.toward.u, half_chord - self.toward.u);
        if (v - self.centre.1).abs() >= self.reach.1 {
            return vec![(low, high)];
        }
        let part_v = (v - self.centre.1) * self.per_axis.1;
        let chord = 1.0 - part_v * part_v;
        let half = if chord > 0.0 { self.reach.0 * chord.sqrt() } else { 0.0 };
        let (near, far) = (self.centre.0 - half, self.centre.0 + half);
        vec![(low, near.min(high)), (far.max(low), high)]
    }
}

/// How far the skirt of the main lobe makes lobes narrow, in samples from the null.
const NEXT_TO: f64 = 5.0;
