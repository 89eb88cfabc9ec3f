//! What is shared after a change to a study, and what must not be.

use super::*;
use crate::io::SourceText;

const LINE: &str = include_str!("../../../studies/line-64.toml");

/// The line with a bench that draws, and with each of the edits, which move what stands behind them in the file.
fn models(edits: &[(&str, &str)]) -> Vec<Model> {
    let bench = "[bench]\nreconnection = { gain = { normal = { sd = \"0.01 dB\" } } }\n";
    let text = LINE.replacen("[bench]\n", bench, 1);
    let compiled = |text: String| {
        let source = SourceText { name: "line-64.toml".into(), text };
        crate::model::compile(&crate::study::parse(&source).expect("the study is right"), &source.text)
    };
    let edited = |(from, to): &(&str, &str)| {
        assert!(text.contains(from), "{from}");
        compiled(format!("# Moved by a line.\n{}", text.replacen(from, to, 1)))
    };
    std::iter::once(compiled(text.clone())).chain(edits.iter().map(edited)).collect()
}

/// Whether a changed line has its units from the line, and which of its four calibrations.
fn shared(from: &str, to: &str) -> (bool, [bool; 4]) {
    let sharing = Sharing::of(&models(&[(from, to)]));
    let Shared { shared, outcomes, .. } = &sharing.models[1];
    (shared.is_none(), std::array::from_fn(|calibration| outcomes[calibration].is_some()))
}

#[test]
fn what_a_change_leaves_as_it_is_is_shared() {
    let (all, none_but_first) = ([true; 4], [true, false, false, false]);
    // Of the study, of its spec.
    assert_eq!(shared("trials = 20000", "trials = 100"), (true, all));
    assert_eq!(shared("at_most = \"0.10 dB\"", "at_most = \"0.2 dB\""), (true, all));
    assert_eq!(shared("beam = \"20 deg\"\nat_most", "beam = \"0 deg\"\nat_most"), (true, all));
    // Of one calibration.
    let fit = "method = \"fit\", pairing = \"star\", reference = 0 }\n";
    let averaged = format!("{fit}averages = 4\n");
    assert_eq!(shared(fit, &averaged), (true, [true, true, false, true]));
    assert_eq!(shared("name = \"climb\"", "name = \"up\""), (true, all));
    // Of the bench: units that meet none stay.
    assert_eq!(shared("noise = \"0.02 dB\"", "noise = \"0.03 dB\""), (true, none_but_first));
    assert_eq!(shared("sd = \"0.01 dB\"", "sd = \"0.02 dB\""), (false, none_but_first));
    let timed = "[bench]\ntime = { reading = \"1 ms\" }\n";
    assert_eq!(shared("[bench]\n", timed), (true, none_but_first));
    // Averages that a calibration has of its own are those of the receiver.
    assert_eq!(shared(fit, &format!("{fit}averages = 1\n")), (true, all));
}

#[test]
fn what_a_change_affects_is_not_shared() {
    let nothing = [false; 4];
    for (from, to, has_its_units) in [
        // Units.
        ("seed = 1", "seed = 2", false),
        ("sd = \"0.25 mm\"", "sd = \"0.26 mm\"", false),
        ("bits = 6\nbit_phase", "bits = 5\nbit_phase", false),
        ("name = \"trace\"", "name = \"strip\"", false),
        ("spacing = \"0.5 wavelength\"", "spacing = \"0.49 wavelength\"", false),
        ("[array]\n", "[array]\ndead_channel = { probability = 0.001 }\n", false),
        ("frequencies = [\"28 GHz\"]", "frequencies = [\"28 GHz\", \"28.1 GHz\"]", false),
        // What is taken of them.
        ("theta = \"20 deg\"", "theta = \"21 deg\"", true),
        ("    \"pointing_error\",\n", "    \"beamwidth_change\",\n    \"pointing_error\",\n", true),
    ] {
        assert_eq!(shared(from, to), (has_its_units, nothing), "{to}");
    }
}

/// Two models that differ from the first and not from each other share with each other.
#[test]
fn any_plan_before_can_be_the_origin() {
    let longer = ("sd = \"0.25 mm\"", "sd = \"0.5 mm\"");
    let sharing = Sharing::of(&models(&[longer, longer]));
    let batches: Vec<usize> = sharing.models.iter().map(|model| model.batch).collect();
    assert_eq!(batches, [0, 1, 1]);
    let origin = |calibration| Some(Origin { model: 1, calibration });
    assert_eq!(sharing.models[2].outcomes, [0, 1, 2, 3].map(origin));
}

/// Noise is kept where several calibrations read it, and only there.
#[test]
fn noise_is_kept_for_several_readers() {
    let one = |name: &str| {
        let mut model = models(&[]).remove(0);
        model.courses = vec![model.courses[0].clone()];
        model.calibrations.retain(|of| of.name == name);
        model
    };
    assert_eq!(Sharing::of(&[one("fit")]).noise_of_states, 0);
    assert_eq!(Sharing::of(&[one("none"), one("fit")]).noise_of_states, 0);
    assert_eq!(Sharing::of(&[one("fit"), one("climb")]).noise_of_states, 64);
    // The second has its outcomes from the first.
    assert_eq!(Sharing::of(&[one("fit"), one("fit")]).noise_of_states, 0);
}
