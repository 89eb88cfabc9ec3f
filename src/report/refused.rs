//! Values that a study refuses, with the reader's reasons.

use crate::report::grid::paragraph;

/// Most reasons that are shown.
const MOST: usize = 8;

/// A line for each reason, with the values that have it.
pub(super) fn refused_lines<'a>(all: impl Iterator<Item = (String, &'a str)>) -> Vec<String> {
    let mut alike: Vec<(&str, Vec<String>)> = Vec::new();
    for (value, reason) in all {
        match alike.iter_mut().find(|(of, _)| *of == reason) {
            Some((_, values)) => values.push(value),
            None => alike.push((reason, vec![value])),
        }
    }
    let line = |(reason, values): &(&str, Vec<String>)| format!("Refused: {}: {reason}.", values.join("; "));
    let mut lines: Vec<String> = alike.iter().take(MOST).map(line).collect();
    let further = alike.len().saturating_sub(MOST);
    if further > 0 {
        lines.push(format!("Refused for like reasons: {further} more."));
    }
    lines
}

/// The same as text of at most 80 columns.
pub(super) fn refused_text<'a>(all: impl Iterator<Item = (String, &'a str)>) -> String {
    refused_lines(all).iter().map(|line| paragraph(line, 0, 2)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_of_one_reason_are_listed_together() {
        let all = |reasons: Vec<String>| -> Vec<(String, String)> {
            reasons.into_iter().enumerate().map(|(i, reason)| (i.to_string(), reason)).collect()
        };
        let lines = |all: &[(String, String)]| {
            refused_lines(all.iter().map(|(value, reason)| (value.clone(), reason.as_str())))
        };
        let three = all(["too few", "odd", "too few"].map(str::to_owned).to_vec());
        assert_eq!(lines(&three), ["Refused: 0; 2: too few.", "Refused: 1: odd."]);
        let many = lines(&all((0..20).map(|of| of.to_string()).collect()));
        assert_eq!(many.len(), MOST + 1);
        assert_eq!(many[MOST], "Refused for like reasons: 12 more.");
    }
}
