use super::*;

const STUDY: &str = r#"
title = "A line"
frequencies = ["26 GHz", "28 GHz"]

[array]
layout = { kind = "linear", count = 16, spacing = "5 mm" }

[[beam]]
name = "ahead"
theta = "0 deg"

[[block]]
name = "jumper"
kind = "cable"
length = { nominal = "60 mm", triangular = { half_width = "0.25 mm" } }
attenuation = "2 dB/m"

[[block]]
name = "shifter"
kind = "phase_shifter"
bits = 6
bit_phase_error = { normal = { sd = "1 deg" }, and = { uniform = { half_width = "2 deg" }, scope = "chip" } }

[bench]
receiver = { noise = "0.1 dB" }

[[calibration]]
name = "quick"
align = { method = "fit", codes = 8 }

[[calibration]]
name = "ahead"

[[limit]]
figure = "pointing_error"
beam = "ahead"
at_most = "0.5 deg"

[[limit]]
figure = "pointing_error"
at_most = "0.7 deg"

[[limit]]
figure = "array_gain_loss"
at_most = "0.3 dB"
"#;

fn source() -> SourceText {
    SourceText { name: "line.toml".into(), text: STUDY.into() }
}

fn set(address: &str, value: &str) -> Result<String, Lost> {
    let parameter = Parameter::parse(address).unwrap();
    change(&source(), &[Change { parameter, value: value.into() }]).map(|source| source.text)
}

#[test]
fn a_value_is_changed_where_it_stands() {
    for (address, value, from, to) in [
        ("shifter.bits", "5", "bits = 6", "bits = 5"),
        ("block.shifter.bits", "5", "bits = 6", "bits = 5"),
        ("jumper.length.half_width", "0.1 mm", "\"0.25 mm\"", "\"0.1 mm\""),
        ("jumper.length.triangular.half_width", "0.1 mm", "\"0.25 mm\"", "\"0.1 mm\""),
        ("jumper.length", "61 mm", "\"60 mm\"", "\"61 mm\""),
        ("jumper.attenuation", "3 dB/m", "\"2 dB/m\"", "\"3 dB/m\""),
        ("shifter.bit_phase_error.sd", "2 deg", "\"1 deg\"", "\"2 deg\""),
        ("shifter.bit_phase_error.and.half_width", "3 deg", "\"2 deg\"", "\"3 deg\""),
        (
            "shifter.bit_phase_error",
            "4 deg",
            "scope = \"chip\" } }",
            "scope = \"chip\" } , nominal = \"4 deg\" }",
        ),
        ("layout.count", "32", "count = 16", "count = 32"),
        ("receiver.noise", "0.2 dB", "\"0.1 dB\"", "\"0.2 dB\""),
        ("bench.receiver.averages", "4", "\"0.1 dB\" }", "\"0.1 dB\" , averages = 4 }"),
        ("quick.align.codes", "16", "codes = 8", "codes = 16"),
        ("quick.averages", "4", "[[calibration]]", "[[calibration]]\naverages = 4"),
        ("quick.align.method", "null", "\"fit\"", "\"null\""),
        ("beam.ahead.theta", "10 deg", "\"0 deg\"", "\"10 deg\""),
        ("limit.array_gain_loss.at_most", "0.2 dB", "\"0.3 dB\"", "\"0.2 dB\""),
        ("limit.1.at_most", "0.8 deg", "\"0.7 deg\"", "\"0.8 deg\""),
        ("frequencies", "27 GHz", "[\"26 GHz\", \"28 GHz\"]", "[\"27 GHz\"]"),
        ("frequencies", "[\"1 GHz\", \"2 GHz\"]", "[\"26 GHz\", \"28 GHz\"]", "[\"1 GHz\", \"2 GHz\"]"),
        ("confidence", "0.9", "\ntitle", "confidence = 0.9\n\ntitle"),
    ] {
        assert!(STUDY.contains(from), "{from}");
        assert_eq!(set(address, value).unwrap(), STUDY.replacen(from, to, 1), "{address}");
    }
}

#[test]
fn what_is_not_there_is_told_with_what_is() {
    for (address, message, help) in [
        ("shiftr.bits", "no `shiftr`", "did you mean `shifter`?"),
        ("shifter.bitz", "`shifter` has no `bitz`", "did you mean `bits`?"),
        ("jumper.length.sd", "`jumper.length` has no `sd`", "its distribution is triangular; "),
        ("jumper.attenuation.sd", "`jumper.attenuation` has no `sd`", "give it a distribution"),
        ("ahead.theta", "several things are called `ahead`", "calibration.ahead.theta or beam.ahead.theta"),
        ("block.jumpr.length", "no block `jumpr`", "did you mean `jumper`?"),
        ("limit.pointing_error.at_most", "2 of limit `pointing_error`", "its number"),
        ("limit.eirp_change.at_least", "no limit `eirp_change`", "possible: pointing_error"),
        ("limit.7.at_most", "no limit `7`", "possible"),
        ("block", "`block` is a list", "block.NAME.KEY"),
        ("shifter.bits.deep", "`shifter.bits` has no `deep`", "does not vary"),
        ("quick.align", "`quick.align` is no single value", "quick.align.method, quick.align.codes"),
        ("quick.algn.codes", "`quick` has no `algn`", "did you mean `align`?"),
    ] {
        let lost = set(address, "1").unwrap_err();
        assert!(lost.message.contains(message), "{address}: {lost:?}");
        assert!(lost.help.contains(help), "{address}: {lost:?}");
    }
    for text in ["", ".", "shifter.", ".bits"] {
        assert!(Parameter::parse(text).is_err(), "{text}");
    }
}

#[test]
fn values_are_read_as_a_drawing_has_them() {
    let value = |address| Parameter::parse(address).unwrap().value(&source()).unwrap();
    assert_eq!(value("shifter.bits").as_deref(), Some("6"));
    assert_eq!(value("jumper.length.half_width").as_deref(), Some("0.25 mm"));
    assert_eq!(value("jumper.length").as_deref(), Some("60 mm"));
    assert_eq!(value("quick.averages"), None);
    assert_eq!(value("frequencies"), None);
    assert_eq!(value("quick.align"), None);
}

#[test]
fn changes_follow_one_another() {
    let of =
        |address, value: &str| Change { parameter: Parameter::parse(address).unwrap(), value: value.into() };
    let changes = [of("quick.averages", "4"), of("quick.averages", "9"), of("shifter.bits", "3")];
    let changed = change(&source(), &changes).unwrap().text;
    assert!(
        changed.contains("averages = 9") && !changed.contains("averages = 4") && changed.contains("bits = 3")
    );
    assert_eq!(changes[2].to_string(), "shifter.bits=3");
}

#[test]
fn a_price_with_a_range_stands_for_its_value() {
    let prices = "\n[cost]\nunits_a_year = 300\nbench_minute = { value = 2.4, from = 1, to = 4 }\n";
    let source = SourceText { name: "study.toml".into(), text: format!("{STUDY}{prices}") };
    let minute = Parameter::parse("cost.bench_minute").unwrap();
    assert_eq!(minute.value(&source), Ok(Some("2.4".to_owned())));
    let changed = |parameter: &str, value: &str| {
        let change = Change { parameter: Parameter::parse(parameter).unwrap(), value: value.to_owned() };
        super::change(&source, &[change]).map(|changed| changed.text)
    };
    let with = |to: &str| Ok(source.text.replace("{ value = 2.4, from = 1, to = 4 }", to));
    // A number alone has no range; a range is kept where only the value is changed.
    assert_eq!(changed("cost.bench_minute", "3"), with("3"));
    assert_eq!(changed("cost.bench_minute.value", "3"), with("{ value = 3, from = 1, to = 4 }"));
    assert_eq!(
        changed("cost.bench_minute", "{ value = 3, from = 2, to = 4 }"),
        with("{ value = 3, from = 2, to = 4 }")
    );
    // A price that may be absent is no slip of one that is there.
    assert_eq!(changed("cost.unit", "80"), Ok(source.text.replace("[cost]", "[cost]\nunit = 80")));
    assert!(changed("cost.units_a_yer", "80").is_err());
}

#[test]
fn steps_may_hold_points() {
    let source = SourceText { name: "study.toml".into(), text: STUDY.replace("\"quick\"", "\"0.1 mm\"") };
    let codes = Parameter::of(&["calibration", "0.1 mm", "align", "codes"]);
    assert_eq!(codes.value(&source), Ok(Some("8".to_owned())));
}
