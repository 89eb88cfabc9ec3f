//! Plans that differ in what varies: causes taken from an independent second sample, or switched off.

use crate::bench::Calibration;
use crate::io::suggest;
use crate::model::{Model, NoiseKeys};
use crate::random::{Key, Source, Value};

/// What makes units differ, or a fixed imperfection that could be mended: what is varied and switched off as one.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Cause {
    /// What it is called.
    pub name: String,
    /// Names of all that it holds.
    pub holds: Vec<String>,
    /// Sources of draws, by number.
    sources: Vec<usize>,
    traits: Vec<Trait>,
}

/// What is imperfect without being a source of the plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Trait {
    /// Receiver noise, of its own and thermal; drawn for each reading.
    Noise,
    /// The random walk of the receiver's gain; drawn for each reading.
    Walk,
    /// What warming up brings, its nominal part included.
    WarmUp,
    /// The receiver's stretch of levels, its nominal part included.
    Linearity,
    Resolution,
    Floor,
    Saturation,
    ShifterRounding,
    AttenuatorRounding,
    /// Use and bench at other temperatures than that of the nominal values.
    Temperature,
}

impl Trait {
    fn is_drawn(self) -> bool {
        matches!(self, Trait::Noise | Trait::Walk)
    }
}

/// A wish to take several causes as one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Wish {
    /// What they are called together.
    pub name: String,
    /// Blocks, bench parts, or single ones of their values: "jumper", "feed trace.length", "bench.receiver".
    pub items: Vec<String>,
}

/// A wish that cannot be met: what is wrong, and what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Unmatched {
    /// What is wrong.
    pub message: String,
    /// What would be right.
    pub help: String,
}

impl Cause {
    /// True when it differs from unit to unit. What does not is the same in all units given their other draws: it owns no share of
    /// a variance, and what it costs shows when it is switched off.
    pub(crate) fn is_drawn(&self) -> bool {
        !self.sources.is_empty() || self.traits.iter().any(|of| of.is_drawn())
    }

    /// True when a wish for an item means this one.
    fn is_meant(&self, item: &str) -> bool {
        let begins = |name: &String| {
            let rest = name.strip_prefix(item);
            rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('.') || rest.starts_with(", "))
        };
        self.holds.iter().any(begins)
    }
}

/// Every cause of a plan, one by one: drawn sources (those that vary together as one), the receiver's noise and drift, then
/// what is fixed: rounding, and temperature as a whole, of which the spread of a coefficient is but a part.
pub(crate) fn causes(model: &Model) -> Vec<Cause> {
    let is_calibrated = !model.calibrations.iter().all(Calibration::is_none);
    let of = |name: &str, traits: &[Trait]| Cause {
        name: name.to_owned(),
        holds: vec![name.to_owned()],
        sources: Vec::new(),
        traits: traits.to_vec(),
    };
    let list = model.sources.list();
    let mut causes = Vec::new();
    for (number, source) in list.iter().enumerate() {
        let together = model.sources.together_with(number);
        let is_idle = !is_calibrated && is_of_bench(source);
        let is_there = together.iter().any(|of| *of < number);
        if is_idle || is_there || together.iter().all(|of| list[*of].distribution.sd() == 0.0) {
            continue;
        }
        let holds: Vec<String> = together.iter().map(|of| list[*of].name.clone()).collect();
        let traits = match source.name.as_str() {
            LINEARITY => vec![Trait::Linearity],
            WARM_UP => vec![Trait::WarmUp],
            _ => Vec::new(),
        };
        causes.push(Cause { name: holds.join(" with "), holds, sources: together, traits });
    }
    let is_there = |name: &str| causes.iter().any(|of| of.name == name);
    let (has_linearity, has_warm_up) = (is_there(LINEARITY), is_there(WARM_UP));
    let stability = &model.stability;
    let receiver = &model.receiver;
    let bench = [
        (receiver.is_noisy(), "bench.receiver.noise", Trait::Noise),
        (stability.walk_db > 0.0, "bench.receiver.walk", Trait::Walk),
        (!has_warm_up && !stability.warm_up.is_zero(), WARM_UP, Trait::WarmUp),
        (!has_linearity && !stability.linearity.is_zero(), LINEARITY, Trait::Linearity),
        (receiver.resolution_db > 0.0, "bench.receiver.resolution", Trait::Resolution),
        (receiver.floor_db.is_some(), "bench.receiver.floor", Trait::Floor),
        (receiver.saturation_db.is_some(), "bench.receiver.saturation", Trait::Saturation),
    ];
    let bench = bench.iter().filter(|(is_there, ..)| is_calibrated && *is_there);
    causes.extend(bench.map(|(_, name, of_bench)| of(name, &[*of_bench])));
    let block = |place: usize| format!("{}.rounding", model.chain.blocks()[place].name);
    causes.push(of(&block(model.chain.shifter_place()), &[Trait::ShifterRounding]));
    let levels = model.calibrations.iter().any(|of| of.level.is_some());
    let is_set = model.hardware.rest_short.iter().any(|short| *short != 0.0);
    if let Some(place) = model.chain.attenuator_place().filter(|_| levels || is_set) {
        causes.push(of(&block(place), &[Trait::AttenuatorRounding]));
    }
    if model.feels_temperature() {
        causes.push(of(TEMPERATURE, &[Trait::Temperature]));
    }
    causes
}

/// What the cause of all that temperatures do is called.
pub(crate) const TEMPERATURE: &str = "temperature";

const LINEARITY: &str = "bench.receiver.linearity";
const WARM_UP: &str = "bench.receiver.warm_up";

fn is_of_bench(source: &Source) -> bool {
    source.name.starts_with("bench.")
}

/// Joins causes that are to be taken as one. A joined one stands where its first stood.
///
/// Errors: an item that nothing of the study is meant by, that is in two of the wishes, or a name that is taken.
pub(crate) fn join(causes: Vec<Cause>, wishes: &[Wish]) -> Result<Vec<Cause>, Unmatched> {
    // The wish that a cause belongs to, `[cause]`.
    let mut wish_of: Vec<Option<usize>> = vec![None; causes.len()];
    for (number, wish) in wishes.iter().enumerate() {
        for item in &wish.items {
            let mut is_found = false;
            for (cause, wish_of) in causes.iter().zip(&mut wish_of) {
                if !cause.is_meant(item) {
                    continue;
                }
                is_found = true;
                match *wish_of {
                    Some(other) if other != number => return Err(in_two(cause, &wishes[other], wish)),
                    _ => *wish_of = Some(number),
                }
            }
            if !is_found {
                return Err(not_found(item, wish, &causes));
            }
        }
    }
    let mut joined: Vec<Cause> = Vec::new();
    let mut made: Vec<Option<usize>> = vec![None; wishes.len()];
    for (cause, wish) in causes.into_iter().zip(&wish_of) {
        match wish {
            None => joined.push(cause),
            Some(wish) => match made[*wish] {
                None => {
                    made[*wish] = Some(joined.len());
                    joined.push(Cause { name: wishes[*wish].name.clone(), ..cause });
                }
                Some(at) => {
                    let to = &mut joined[at];
                    to.holds.extend(cause.holds);
                    to.sources.extend(cause.sources);
                    to.traits.extend(cause.traits);
                }
            },
        }
    }
    let twice =
        joined.iter().enumerate().find(|(i, of)| joined[..*i].iter().any(|other| other.name == of.name));
    match twice {
        None => Ok(joined),
        Some((_, of)) => Err(Unmatched {
            message: format!("two groups would be called `{}`", of.name),
            help: "give the group a name of its own".to_owned(),
        }),
    }
}

fn in_two(cause: &Cause, one: &Wish, other: &Wish) -> Unmatched {
    Unmatched {
        message: format!("`{}` would be in two groups, `{}` and `{}`", cause.name, one.name, other.name),
        help: "leave it out of one of them; what varies together cannot be parted".to_owned(),
    }
}

fn not_found(item: &str, wish: &Wish, causes: &[Cause]) -> Unmatched {
    let mut names: Vec<&str> = Vec::new();
    for name in causes.iter().flat_map(|cause| &cause.holds) {
        let whole = name.rsplit_once('.').map_or(name.as_str(), |(whole, _)| whole);
        for name in [whole, name] {
            if !names.contains(&name) {
                names.push(name);
            }
        }
    }
    Unmatched {
        message: format!(
            "group `{}`: nothing that varies, or could be mended, is called `{item}`",
            wish.name
        ),
        help: suggest::instead_of(item, names.iter().copied()),
    }
}

/// The plan with some causes read from the second sample: every other draw is as it was. Of what is not drawn nothing changes.
pub(crate) fn from_second_sample<'c>(model: &Model, causes: impl IntoIterator<Item = &'c Cause>) -> Model {
    let mut model = model.clone();
    let seed = model.seed;
    let second = NoiseKeys::new(model.noise.joined.len() as u32, |name| Key::of_second_sample(seed, name));
    for cause in causes {
        model.sources.rekey(&cause.sources);
        for of in &cause.traits {
            match of {
                Trait::Noise => model.noise = NoiseKeys { walk: model.noise.walk, ..second.clone() },
                Trait::Walk => model.noise.walk = second.walk,
                _ => {}
            }
        }
    }
    model
}

/// The plan without a cause: what is drawn stays at its nominal value, what is fixed is perfect.
pub(crate) fn without(model: &Model, cause: &Cause) -> Model {
    let mut model = model.clone();
    model.sources.freeze(&cause.sources);
    for of in &cause.traits {
        match of {
            Trait::Noise => (model.receiver.noise_db, model.receiver.noise_floor_db) = (0.0, None),
            Trait::Walk => model.stability.walk_db = 0.0,
            Trait::WarmUp => model.stability.warm_up = Value::exact(0.0),
            Trait::Linearity => model.stability.linearity = Value::exact(0.0),
            Trait::Resolution => model.receiver.resolution_db = 0.0,
            Trait::Floor => model.receiver.floor_db = None,
            Trait::Saturation => model.receiver.saturation_db = None,
            Trait::ShifterRounding => model.hardware.unrounded.shifter = true,
            Trait::AttenuatorRounding => model.hardware.unrounded.attenuator = true,
            Trait::Temperature => {
                let views = model.views.iter_mut().map(|view| &mut view.at);
                let all = model.conditions.iter_mut().chain([&mut model.at_bench]).chain(views);
                all.for_each(|of| of.temperature = of.reference_temperature);
            }
        }
    }
    model
}
