//! The bench sheet: what to connect, set and read for a calibration plan, in order, and how long it takes.

use crate::bench::{Align, Calibration, DeadRule, Event, Goal, Of, Pair, Pairs, Reading, Reconnection};
use crate::engine::log;
use crate::io::Dimension;
use crate::model::Model;
use crate::report::words::{frequency, quantity};

/// One line of the sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Step {
    /// Cables to move, probe to place.
    pub connect: String,
    /// Codes to set.
    pub set: String,
    /// What to read, and how to use it.
    pub read: String,
    /// Cables moved.
    pub cables: u32,
    /// Codes set.
    pub settings: u32,
    /// Readings, each of them averaged.
    pub readings: u32,
    /// Time it takes, s.
    pub seconds: f64,
}

/// The sheet of one calibration plan, by its number. Where the next code depends on a reading, counts and times are those of
/// unit 0, all its channels alive; what is done about dead ones is a step that says so.
pub(super) fn sheet(model: &Model, calibration: usize) -> Vec<Step> {
    let of = &model.calibrations[calibration];
    if of.is_none() {
        return Vec::new();
    }
    let mut builder = Builder { model, calibration, steps: Vec::new() };
    builder.steps.push(Step {
        connect: "the unit on the bench".into(),
        set: "all channels at code 0, switched on and warm".into(),
        ..Step::default()
    });
    builder.steps.extend(dead_channels(model, of));
    let events = log(model, calibration, 0);
    let mut rest = events.as_slice();
    while let Some((event, after)) = rest.split_first() {
        let (readings, after) = leading_readings(after);
        rest = after;
        match event {
            Event::Alone(round) => {
                // Each connection serves all codes of a channel, and what is read once more.
                let mut all = readings;
                while let Some(more) = on_the_same_connection(*round, rest) {
                    let (readings, after) = leading_readings(more);
                    all.extend(readings);
                    rest = after;
                }
                builder.alone(&all);
            }
            event => builder.event(event, &readings),
        }
    }
    builder
        .steps
        .push(Step { set: "the codes and phases found, in the unit's table".into(), ..Step::default() });
    builder.finish()
}

/// The events after readings of channels as they are connected.
fn on_the_same_connection(round: u32, events: &[Event]) -> Option<&[Event]> {
    match events {
        [Event::Attenuators, Event::Alone(again), more @ ..] if *again == round => Some(more),
        [Event::Detect { is_connected_anew: false, .. }, more @ ..] => Some(more),
        _ => None,
    }
}

/// The treatment of dead channels.
fn dead_channels(model: &Model, of: &Calibration) -> Option<Step> {
    let DeadRule { below_db, is_looked_for } = model.hardware.dead;
    if !is_looked_for {
        return None;
    }
    let level = |db| quantity(db, Dimension::Level);
    let read = format!(
        "a channel that reads alone below {} over what it should have is dead; one that reads less than {} above that is read once more \
         before its cable is moved, and is dead if it reads below then",
        level(below_db),
        level(DeadRule::DOUBT_DB)
    );
    let mut set = "dead channels are left out of all that follows".to_owned();
    if of.has_reference() {
        let named = of.reference();
        set.push_str(&format!("; where channel {named} is dead, the next that lives takes its place"));
    }
    let pairs = of.align.as_ref().and_then(Align::pairs);
    if let Some(what) = pairs.and_then(|pairs| pairs.pairing.dead_channels()) {
        set.push_str(&format!("; {what}"));
    }
    Some(Step { set, read, ..Step::default() })
}

/// The readings that events begin with, and the events after them.
fn leading_readings(events: &[Event]) -> (Vec<&Reading>, &[Event]) {
    let readings = events.iter().map_while(|event| match event {
        Event::Read(reading) => Some(reading),
        _ => None,
    });
    let readings: Vec<&Reading> = readings.collect();
    let after = &events[readings.len()..];
    (readings, after)
}

struct Builder<'p> {
    model: &'p Model,
    calibration: usize,
    steps: Vec<Step>,
}

impl Builder<'_> {
    fn event(&mut self, event: &Event, readings: &[&Reading]) {
        match event {
            Event::Table(number) => self.table(*number),
            Event::Attenuators => self.attenuators(),
            Event::Shifters => self.steps.push(Step {
                set: "every shifter to the code of the phase found so far".into(),
                ..Step::default()
            }),
            Event::Join(pair) => self.joined(pair, readings),
            Event::Rest(channel) => {
                let step = Step {
                    set: format!(
                        "all channels on; shifter {channel} at codes {}, the others stand",
                        codes(readings)
                    ),
                    read: "the level at each; the phase of the sinusoid through them".into(),
                    ..Step::default()
                };
                self.push(step, 0, readings.len());
            }
            Event::Toggle(turned) => {
                let signs: String = turned.iter().map(|turned| if *turned { '-' } else { '+' }).collect();
                let step = Step {
                    set: format!("channels marked - half a turn on: {signs}"),
                    read: "amplitude and phase".into(),
                    ..Step::default()
                };
                self.push(step, 0, readings.len());
            }
            Event::Detect { channel, is_connected_anew } => {
                self.alone_one(*channel, readings, *is_connected_anew);
            }
            // Those belong to the event before them.
            Event::Alone(_) | Event::Read(_) => {}
        }
    }

    fn table(&mut self, number: usize) {
        let model = self.model;
        let of = &model.calibrations[self.calibration];
        let spec = model.courses[self.calibration].tables[number];
        let at = &model.views[spec.view].at;
        let mut set = format!("the source to {}", frequency(at.frequency));
        if model.at_bench.temperature != model.at_bench.reference_temperature {
            set.push_str(&format!(", the unit at {}", quantity(at.temperature, Dimension::Temperature)));
        }
        let mut connect = String::new();
        if of.is_over_the_air() {
            connect = "the probe in front of the unit".into();
            let towards = spec.point.map(|point| &model.beams[model.points[point].beam]);
            match towards {
                Some(beam) => {
                    connect.push_str(&format!(", where beam {} points", beam.name));
                    set.push_str(&format!(", the shifters to beam {}", beam.name));
                }
                None => connect.push_str(", at broadside"),
            }
        }
        self.steps.push(Step { connect, set, ..Step::default() });
    }

    fn attenuators(&mut self) {
        let of = &self.model.calibrations[self.calibration];
        let Some(level) = &of.level else { return };
        let goal = match level.goal {
            Goal::Weakest => "the weakest channel".to_owned(),
            Goal::Target(db) => format!("{} over a nominal channel", quantity(db, Dimension::Level)),
        };
        let step = Step {
            set: format!("every attenuator to the code that brings its channel to {goal}"),
            ..Step::default()
        };
        // Set again without a new reading they stay as they are.
        if self.steps.last() != Some(&step) {
            self.steps.push(step);
        }
    }

    /// All readings of channels alone that one connection each serves, in any order.
    fn alone(&mut self, readings: &[&Reading]) {
        for channel in 0..self.model.channels() {
            let own: Vec<&Reading> =
                readings.iter().copied().filter(|reading| reading.of == Of::Alone { channel }).collect();
            self.alone_one(channel, &own, true);
        }
    }

    fn alone_one(&mut self, channel: usize, own: &[&Reading], is_connected_anew: bool) {
        let is_whole = self.model.calibrations[self.calibration].is_over_the_air();
        let (mut connect, mut on) = (String::new(), String::new());
        match (is_whole, is_connected_anew) {
            (true, _) => on = format!("channel {channel} alone on, "),
            (false, true) => connect = format!("channel {channel} to the receiver"),
            (false, false) => {}
        }
        let set = on
            + &match own {
                [one] => format!("attenuator {channel} at code {}", one.code),
                _ => format!("attenuator {channel} at codes {}", codes(own)),
            };
        let step = Step { connect, set, read: "the level".into(), ..Step::default() };
        self.push(step, u32::from(!is_whole && is_connected_anew), own.len());
    }

    fn joined(&mut self, pair: &Pair, readings: &[&Reading]) {
        let Pair { reference, stepped, is_swapped, reconnection, .. } = *pair;
        let is_whole = self.model.calibrations[self.calibration].is_over_the_air();
        let (fixed, other) = if is_swapped { ("stepped", "reference") } else { ("reference", "stepped") };
        let mut connect = format!("channel {stepped} to the {other} arm");
        if reconnection != Reconnection::Stepped {
            connect = format!("channel {reference} to the {fixed} arm, {connect}");
        }
        let mut on = String::new();
        if is_whole {
            (connect, on) = (String::new(), format!("channels {reference} and {stepped} alone on, "));
        }
        let is_turned = |reading: &&&Reading| matches!(reading.of, Of::Pair { turned, .. } if turned != 0);
        let own: Vec<&Reading> = readings.iter().filter(|reading| !is_turned(reading)).copied().collect();
        let align = self.model.calibrations[self.calibration].align.as_ref();
        let step = if own.len() < readings.len() {
            Step {
                connect,
                set: format!(
                    "{on}shifter {stepped} at codes {}, at each of them shifter {reference} at {} codes evenly spread",
                    codes(&own),
                    readings.len() / own.len().max(1)
                ),
                read: "the level at each; for each code the phase of the sinusoid".into(),
                ..Step::default()
            }
        } else {
            let Some(Pairs { method, .. }) = align.and_then(Align::pairs) else { return };
            let stepping = method.stepping(&codes(&own));
            Step {
                connect,
                set: format!("{on}shifter {reference} at code 0; shifter {stepped} at {stepping}"),
                read: format!("the level at each; {}", method.result()),
                ..Step::default()
            }
        };
        self.push(step, if is_whole { 0 } else { reconnection.cables() }, readings.len());
    }

    fn push(&mut self, step: Step, cables: u32, readings: usize) {
        let readings = readings as u32;
        self.steps.push(Step { cables, settings: readings, readings, ..step });
    }

    /// The steps with the time that each takes.
    fn finish(self) -> Vec<Step> {
        let (clock, model) = (&self.model.clock, self.model);
        let averages = model.receiver_for(&model.calibrations[self.calibration]).averages;
        let mut steps = self.steps;
        for step in &mut steps {
            step.seconds = clock.reconnection * f64::from(step.cables)
                + clock.setting * f64::from(step.settings)
                + clock.reading * f64::from(averages) * f64::from(step.readings);
        }
        if let Some(first) = steps.first_mut() {
            first.seconds += clock.set_up;
        }
        steps
    }
}

/// "0, 4, ..., 60", or as they come.
fn codes(readings: &[&Reading]) -> String {
    let codes: Vec<u32> = readings.iter().map(|reading| reading.code).collect();
    match codes.as_slice() {
        [first, second, .., last] if codes.len() > 3 => {
            let stride = second.wrapping_sub(*first);
            let is_even = codes.windows(2).all(|pair| pair[1].wrapping_sub(pair[0]) == stride);
            if is_even { format!("{first}, {second}, ..., {last}") } else { listed(&codes) }
        }
        codes => listed(codes),
    }
}

fn listed(codes: &[u32]) -> String {
    codes.iter().map(u32::to_string).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::rebuild;
    use crate::report::sample;

    #[test]
    fn steps_take_the_time_of_the_unit() {
        let model = sample::model();
        assert!(sheet(&model, 0).is_empty(), "nothing is done to units left as they come");
        let steps = sheet(&model, 1);
        let sum = |count: fn(&Step) -> u32| steps.iter().map(count).sum::<u32>();
        // Levelling: 8 cables, 8 readings; a star of 7 pairs: 8 cables, 7 sweeps of 16 codes.
        assert_eq!(sum(|step| step.cables), 16);
        assert_eq!((sum(|step| step.settings), sum(|step| step.readings)), (8 + 7 * 16, 8 + 7 * 16));
        let seconds: f64 = steps.iter().map(|step| step.seconds).sum();
        assert!((seconds - rebuild(&model, 0).calibrations[1].seconds).abs() < 1e-9, "{seconds}");
    }

    #[test]
    fn steps_say_what_to_connect_set_and_read() {
        let steps = sheet(&sample::model(), 1);
        let alone = steps.iter().find(|step| step.connect == "channel 3 to the receiver").unwrap();
        assert_eq!((alone.set.as_str(), alone.read.as_str()), ("attenuator 3 at code 0", "the level"));
        let first = steps.iter().position(|step| step.connect.contains("stepped arm")).unwrap();
        assert_eq!(steps[first].connect, "channel 0 to the reference arm, channel 1 to the stepped arm");
        assert_eq!(steps[first].set, "shifter 0 at code 0; shifter 1 at codes 0, 1, ..., 15");
        assert_eq!(steps[first + 1].connect, "channel 2 to the stepped arm");
        assert!(steps[first - 1].set.contains("to the weakest channel"), "{:?}", steps[first - 1]);
    }
}
