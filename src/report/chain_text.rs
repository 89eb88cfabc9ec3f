//! The chain of a channel, block by block, for people.

use crate::chain::{Listed, Named};
use crate::io::Dimension;
use crate::random::Tolerance;
use crate::report::grid::paragraph;
use crate::report::inspection_text::inspection;
use crate::report::number::significant;
use crate::report::words::{distribution, key, quantity, scope};
use crate::study::Study;

/// The blocks in order, the reference plane marked.
pub(super) fn chain(study: &Study) -> String {
    let feed = study.chain.drive().map_or("the feed".to_owned(), |drive| {
        format!("the feed (a nominal channel without taper gets {})", quantity(drive, Dimension::Power))
    });
    let mut text = paragraph(&format!("Channel, from {feed} to the element"), 0, 0);
    let blocks = study.chain.blocks();
    for (number, named) in blocks.iter().enumerate() {
        text.push_str(&block(study, number, named));
        if number + 1 == study.chain.plane() {
            let plane = if number + 1 == blocks.len() {
                "reference plane: the bench sees all of the channel"
            } else {
                "reference plane: cables of the bench see what stands above; what stands below remains an error of the beam, \
                 unless a probe sees it"
            };
            text.push_str(&paragraph(&format!("-- {plane}"), 2, 5));
        }
    }
    text
}

fn block(study: &Study, number: usize, named: &Named<Tolerance>) -> String {
    let kind = key(named.block.kind());
    let title = match named.block.words() {
        None => format!("{}. {}: {kind}", number + 1, named.name),
        Some(words) => format!("{}. {}: {kind}, {words}", number + 1, named.name),
    };
    let mut text = paragraph(&title, 2, 5);
    for listed in named.block.tolerances() {
        if listed.tolerance.spread.is_some() || listed.tolerance.nominal != 0.0 {
            text.push_str(&paragraph(&source(study, &listed), 5, 7));
            if let Some(inspected) = &listed.tolerance.inspected {
                let dimension = listed.dimension.difference();
                text.push_str(&paragraph(&inspection(inspected, listed.slots, dimension), 7, 9));
            }
        }
    }
    for of in &named.correlations {
        for (a, b, coefficient) in &of.pairs {
            let pair = format!("{} and {}", key(of.keys[*a]), key(of.keys[*b]));
            text.push_str(&paragraph(&format!("{pair}: correlated by {coefficient}"), 5, 7));
        }
    }
    text
}

/// "bit phase error: 0 deg, normal, sd 1.5 deg; drawn for each channel, each of 6 bits".
fn source(study: &Study, listed: &Listed<Tolerance>) -> String {
    let Listed { key: name, tolerance, dimension, .. } = listed;
    // An event with a probability has no nominal value worth printing.
    let is_event = tolerance.spreads().any(|(spread, _)| spread.distribution.is_event());
    let (mut text, first) = match is_event {
        true => (format!("{}:", key(name)), " "),
        false => (format!("{}: {}", key(name), quantity(tolerance.nominal, *dimension)), ", "),
    };
    let slots = match listed.slots {
        1 => String::new(),
        slots if name.contains("bit") => format!(", each of {slots} bits"),
        slots => format!(", each of {slots} states"),
    };
    for (number, (spread, _)) in tolerance.spreads().enumerate() {
        let joined = if number == 0 { first } else { "; and " };
        let distribution = if spread.distribution.is_event() {
            // Its standard deviation is the root of its probability.
            format!("with probability {}", significant(spread.distribution.sd().powi(2), 3))
        } else {
            distribution(&spread.distribution, *dimension)
        };
        let drawn = scope(spread.scope, &study.grouping);
        text.push_str(&format!("{joined}{distribution}; {drawn}{slots}"));
    }
    text
}
