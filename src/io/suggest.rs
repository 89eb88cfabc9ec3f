//! The word that was probably meant, for every "did you mean".

/// A similarity (Jaro-Winkler, 0 to 1) above which two words are taken for the same.
const SIMILAR: f64 = 0.75;
/// A number of edits (insert, delete, change a letter) up to which a longer word is taken for the same.
const FEW_EDITS: usize = 2;

/// The word of `among` that is closest to `word`, or `None` when nothing is close.
///
/// Case is ignored. Of several close words the most similar wins, of equals the first.
pub(crate) fn closest<'a>(word: &str, among: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    let mut best: Option<(f64, &'a str)> = None;
    for candidate in among {
        let other = candidate.to_lowercase();
        let similarity = strsim::jaro_winkler(&word, &other);
        let edits = strsim::levenshtein(&word, &other);
        // Two edits turn any two-letter word into any other; that is no likeness.
        let few = edits <= FEW_EDITS && 2 * edits < other.chars().count().max(1);
        if (similarity > SIMILAR || few) && best.is_none_or(|(most, _)| similarity > most) {
            best = Some((similarity, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Names that are listed; a longer list is in the study.
const LISTED: usize = 40;

/// What to write in place of an unknown name: the closest of those there are, or else all of them, the first ones of very many.
pub(crate) fn instead_of<'a>(name: &str, names: impl Iterator<Item = &'a str> + Clone) -> String {
    match closest(name, names.clone()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => {
            let mut listed = names.clone().take(LISTED).collect::<Vec<_>>().join(", ");
            let more = names.skip(LISTED).count();
            if more > 0 {
                listed.push_str(&format!(" and {more} more"));
            }
            format!("possible: {listed}")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of<'a>(word: &str, among: &[&'a str]) -> Option<&'a str> {
        closest(word, among.iter().copied())
    }

    #[test]
    fn a_slip_of_the_finger_finds_its_word() {
        let among = ["length", "level", "effective_thickness", "scope"];
        assert_eq!(of("lenght", &among), Some("length"));
        assert_eq!(of("Levle", &among), Some("level"));
        assert_eq!(of("efective_thicknes", &among), Some("effective_thickness"));
        // Three of five letters stay: the edits decide, the similarity would not.
        assert_eq!(of("xxope", &["scope"]), Some("scope"));
    }

    #[test]
    fn the_nearest_of_several_wins() {
        assert_eq!(of("part2", &["part1x", "part2x", "part3x"]), Some("part2x"));
    }

    #[test]
    fn of_very_many_names_the_first_are_listed() {
        let names: Vec<String> = (0..42).map(|number| format!("b{number}")).collect();
        let help = instead_of("xyz", names.iter().map(String::as_str));
        assert!(help.starts_with("possible: b0, b1,") && help.ends_with(", b39 and 2 more"), "{help}");
    }

    #[test]
    fn an_unlike_word_finds_nothing() {
        assert_eq!(of("temperature", &["bits", "gain"]), None);
        assert_eq!(of("q", &["x", "yz"]), None);
        assert_eq!(of("", &["x"]), None);
        assert_eq!(of("bits", &[]), None);
    }
}
