//! Errors of a receiver besides noise: linearity, and drift while the bench works.

use crate::io::{Check, Dimension, Key, Nested, Optional, Or, Quantity, Table, keys};
use crate::math::elementary;
use crate::random::{Scope, Sources, Tolerance, Toleranced, Value};

/// Linearity and drift of the receiver.
///
/// Formula: to a level L (dB over a nominal channel) it adds e L, e the linearity error, and before that the drift of the moment t
/// since set-up: g (1 - exp(-t/tau)) of warming up, and a random walk whose standard deviation is `walk` after an hour and grows as
/// the root of time. Both tolerances are drawn once a unit, as if each unit met another bench of the make. Units: dB, s.
/// Source: common practice, no source.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Stability<T = Value> {
    /// dB a dB.
    pub linearity: T,
    /// Standard deviation of the random walk after an hour, dB.
    pub walk_db: f64,
    /// Gain that warming up brings in the end, dB.
    pub warm_up: T,
    /// Time constant of warming up, s.
    pub warm_up_time: f64,
}

/// An hour, s.
const HOUR: f64 = 3600.0;

keys! {
    pub(super) KEYS: "";
    LINEARITY: Toleranced =
        Key::tolerance("bench.receiver.linearity", Dimension::Ratio, Check::Within(-0.5, 0.5), "0.01",
            "By how much of itself a level is stretched").or_exactly(0.0).in_scope(Scope::Unit);
    DRIFT: Nested = Key::table("drift", &DRIFT_KEYS, "{ walk = \"0.3 dB\" }");
}

keys! {
    DRIFT_KEYS: "How readings change with time; not at all where it is left out";
    WALK: Or<Quantity, f64> =
        Key::quantity("walk", Dimension::Level, Check::NonNegative, "0.3 dB", "Standard deviation of the random walk over an hour").or(0.0);
    WARM_UP: Toleranced =
        Key::tolerance("bench.receiver.warm_up", Dimension::Level, Check::Any, "0.4 dB",
            "What the receiver still changes by when work begins").or_exactly(0.0).in_scope(Scope::Unit);
    WARM_UP_TIME: Optional<Quantity> =
        Key::quantity("warm_up_time", Dimension::Time, Check::Positive, "10 min", "Time constant of that; required where it warms up").optional();
}

impl Stability<Tolerance> {
    /// Reads `linearity` and `drift = { walk, warm_up, warm_up_time }` of the receiver; absent parts are ideal.
    pub(super) fn read(receiver: Option<&Table>) -> Stability<Tolerance> {
        let exact = || Tolerance::exact(0.0);
        let Some(receiver) = receiver else {
            return Stability { linearity: exact(), walk_db: 0.0, warm_up: exact(), warm_up_time: 1.0 };
        };
        let linearity = Tolerance::read_in_scope(receiver, &LINEARITY);
        let Some(drift) = receiver.table(DRIFT) else {
            return Stability { linearity, walk_db: 0.0, warm_up: exact(), warm_up_time: 1.0 };
        };
        let warm_up = Tolerance::read_in_scope(&drift, &WARM_UP);
        let warm_up_time = match drift.read(&WARM_UP_TIME) {
            None if !warm_up.is_zero() => drift.read(&WARM_UP_TIME.required()),
            time => time.unwrap_or(1.0),
        };
        Stability { linearity, walk_db: drift.read(&WALK), warm_up, warm_up_time }
    }

    /// Gives every tolerance its place among the draws: the receiver as units meet it.
    pub(crate) fn bind(&self, sources: &mut Sources) -> Stability {
        let mut bind = |key: &Key<Toleranced>, tolerance| {
            sources.bind(key.takes.path.into(), tolerance, 1, key.takes.dimension, false)
        };
        Stability {
            linearity: bind(&LINEARITY, &self.linearity),
            walk_db: self.walk_db,
            warm_up: bind(&WARM_UP, &self.warm_up),
            warm_up_time: self.warm_up_time,
        }
    }
}

impl Stability {
    /// True when it reads the same at any time and stretches nothing.
    pub(crate) fn is_ideal(&self) -> bool {
        self.linearity.is_zero() && !self.drifts()
    }

    /// True when readings depend on the time.
    pub(crate) fn drifts(&self) -> bool {
        self.walk_db > 0.0 || !self.warm_up.is_zero()
    }

    /// Share of the warming up that is done after some seconds.
    #[inline(always)]
    pub(crate) fn warmed(&self, seconds: f64) -> f32 {
        (1.0 - elementary::exp(-seconds / self.warm_up_time)) as f32
    }

    /// Standard deviation of the random walk over some seconds, dB.
    #[inline(always)]
    pub(crate) fn walk_over(&self, seconds: f64) -> f32 {
        (self.walk_db * (seconds / HOUR).sqrt()) as f32
    }
}
