//! The bench sheet for people.

use crate::model::Model;
use crate::report::grid::paragraph;
use crate::report::number::{counted, duration};
use crate::report::sheet::{Step, sheet};
use crate::report::words::plain;

/// The sheets of all calibration plans of a model, at most 80 columns wide.
pub(crate) fn sheet_text(model: &Model) -> String {
    let mut text = paragraph(&format!("Bench sheet: {}", plain(&model.title)), 0, 0);
    text.push_str(&paragraph(CAUTION, 0, 0));
    for (number, of) in model.calibrations.iter().enumerate() {
        text.push_str(&format!("\nCalibration \"{}\"\n", plain(&of.name)));
        let steps = sheet(model, number);
        if steps.is_empty() {
            text.push_str(&paragraph("Nothing to do: the unit stays as it comes from assembly.", 2, 2));
            continue;
        }
        let mut elapsed = 0.0;
        for (number, step) in steps.iter().enumerate() {
            elapsed += step.seconds;
            let parts = [("connect", &step.connect), ("set", &step.set), ("read", &step.read)];
            let said = parts.iter().filter(|(_, what)| !what.is_empty());
            let said: Vec<String> = said.map(|(verb, what)| format!("{verb} {what}")).collect();
            let time = if step.seconds > 0.0 { format!(" [{}]", duration(elapsed)) } else { String::new() };
            text.push_str(&paragraph(&format!("{:>4}. {}{time}", number + 1, said.join("; ")), 2, 8));
        }
        text.push_str(&paragraph(&total(model, &steps), 2, 4));
    }
    text
}

/// What the whole sheet takes.
fn total(model: &Model, steps: &[Step]) -> String {
    let sum = |count: fn(&Step) -> u32| steps.iter().map(|step| u64::from(count(step))).sum::<u64>();
    let seconds: f64 = steps.iter().map(|step| step.seconds).sum();
    let clock = &model.clock;
    let takes_time = clock.set_up + clock.reconnection + clock.setting + clock.reading > 0.0;
    let time = if takes_time { duration(seconds) } else { "time not stated".to_owned() };
    format!(
        "In all: {}, {} set, {}; {time}.",
        counted(sum(|step| step.cables), "cable move"),
        counted(sum(|step| step.settings), "code"),
        counted(sum(|step| step.readings), "reading"),
    )
}

const CAUTION: &str = "Channels in phase add up to more than the power of one: make sure beforehand that receiver, coupler and \
    anyone in front of the unit are safe with all of it. Local codes and licensed practice come first.";
