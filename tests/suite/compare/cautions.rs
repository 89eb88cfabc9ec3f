//! Designs with different conditions are compared with a caution that names the difference.

use crate::program::{Folder, SMALL, edited};
use serde_json::Value;

/// The comparison of the small study with another: cautions, verdict, text, page.
fn compared(other: &str) -> (Vec<String>, String, String, String) {
    let folder = Folder::with(SMALL);
    folder.put("other.toml", other);
    let arguments = ["compare", "study.toml", "--with", "other.toml", "--quiet"];
    let text = folder.done(&arguments);
    folder.done(&[&arguments[..], &["--json", "c.json"]].concat());
    let page = folder.done(&[&arguments[..], &["--report", "-"]].concat());
    let document = folder.json("c.json");
    let cautions = document.get("cautions").and_then(Value::as_array).cloned().unwrap_or_default();
    let cautions = cautions.iter().map(|of| of.as_str().expect("a caution").to_owned()).collect();
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    (cautions, document["verdict"].as_str().expect("a verdict").to_owned(), words, page)
}

#[test]
fn each_kind_of_difference_has_its_caution() {
    let temperatures = "frequencies = [\"9.8 GHz\", \"10 GHz\"]\ntemperatures = [\"25 degC\", \"70 degC\"]";
    for (from, to, caution) in [
        ("count = 8", "count = 10", "arrays differ: \"study\" has 8 elements, \"other\" 10"),
        (
            "0.5 wavelength",
            "0.55 wavelength",
            "arrays differ: \"study\" is 104.9 mm across, \"other\" 115.4 mm",
        ),
        (
            "taper = { kind = \"taylor\", side_lobe = \"20 dB\", nbar = 3 }\n",
            "",
            "tapers differ: \"study\" feeds its weakest element at ",
        ),
        (
            "cosine_exponent = 0.5",
            "cosine_exponent = 1",
            "element patterns differ: an element of \"study\" radiates",
        ),
        (
            "theta = \"-25 deg\"",
            "theta = \"-30 deg\"",
            "beams differ: beam aside points to -25 deg in \"study\", to -30 deg in \"other\"",
        ),
        (
            "[[beam]]\nname = \"aside\"",
            "[[beam]]\nname = \"beside\"",
            "beams differ: \"study\" alone has beam aside; \"other\" alone has beam beside",
        ),
        (
            "[\"9.8 GHz\", \"10 GHz\"]",
            "[\"10 GHz\"]",
            "frequencies differ: \"study\" has 9.8 and 10 GHz, \"other\" 10 GHz",
        ),
        (
            "frequencies = [\"9.8 GHz\", \"10 GHz\"]",
            temperatures,
            "temperatures differ: \"study\" has 25 degC, \"other\" 25 and 70 degC",
        ),
        (
            "at_most = \"0.4 dB\"",
            "at_most = \"0.35 dB\"",
            "limits differ: \"study\" has array-gain loss at most 0.4 dB, \"other\" at most 0.35 dB",
        ),
        (
            "[[limit]]\nfigure = \"array_gain_loss\"\nat_most = \"0.4 dB\"",
            "[[limit]]\nfigure = \"array_gain_loss\"\nat_most = \"0.4 dB\"\nbeam = \"ahead\"",
            "limits differ: \"study\" has array-gain loss at most 0.4 dB, \"other\" none at beam aside, 9.8 GHz and 1 more",
        ),
    ] {
        let (cautions, verdict, text, page) = compared(&edited(SMALL, &[(from, to)]));
        let found = cautions.iter().find(|of| of.starts_with(caution));
        let found = found.unwrap_or_else(|| panic!("{caution}: {cautions:?}"));
        assert!(verdict.contains(&format!("Caution: {}", cautions[0])), "{verdict}");
        assert!(text.contains("Caution: the designs differ by more than their hardware"), "{text}");
        assert!(text.contains(found.as_str()), "{text}");
        let escaped = found.replace('"', "&quot;");
        assert!(page.contains(&escaped[1..]) && page.contains("Cautions"), "{caution}");
    }
}

#[test]
fn designs_that_differ_by_hardware_alone_have_none() {
    let finer = edited(
        SMALL,
        &[("bits = 5\nbit_phase", "bits = 6\nbit_phase"), ("sd = \"0.2 mm\"", "sd = \"0.1 mm\"")],
    );
    // The same frequencies and lengths in other units.
    let rewritten = edited(&finer, &[("\"9.8 GHz\"", "\"9800 MHz\""), ("\"0.4 dB\"", "\"0.40 dB\"")]);
    for other in [SMALL.to_owned(), finer, rewritten] {
        let (cautions, verdict, text, page) = compared(&other);
        assert_eq!(cautions, Vec::<String>::new());
        assert!(!verdict.contains("Caution") && !text.contains("Caution"), "{text}");
        assert!(!page.contains(">Where the designs differ<"));
    }
}

#[test]
fn a_sweep_of_the_array_or_of_a_limit_says_so_and_one_of_hardware_does_not() {
    let folder = Folder::with(SMALL);
    let swept = |vary: &str| {
        folder.done(&[
            "sweep",
            "study.toml",
            "--vary",
            vary,
            "--trials",
            "40",
            "--quiet",
            "--json",
            "s.json",
        ]);
        folder.json("s.json")
    };
    for (vary, kinds) in [("array.layout.count=8,10", "arrays"), ("limit.0.at_most=0.3 dB, 0.4 dB", "limits")]
    {
        let document = swept(vary);
        let caution = format!("the points differ by more than their hardware: {kinds}");
        assert!(document["cautions"][0].as_str().expect("a caution").starts_with(&caution), "{document}");
        assert!(document["verdict"].as_str().expect("a verdict").contains(&format!("Caution: {caution}")));
    }
    let document = swept("shifter.bits=5,6");
    assert!(document.get("cautions").is_none());
    assert!(!document["verdict"].as_str().expect("a verdict").contains("Caution"));
}

#[test]
fn an_offer_that_changes_the_question_says_so() {
    let prices = "\n[cost]\ncurrency = \"EUR\"\nunits_a_year = 100\nchannel = 50\nbench_minute = 1.5\n";
    let offer =
        |change: &str| format!("{SMALL}{prices}\n[[offer]]\nname = \"other\"\nchange = {{ {change} }}\n");
    let costed = |study: String| {
        let folder = Folder::with(study);
        folder.done(&["cost", "study.toml", "--quiet", "--json", "c.json"]);
        folder.json("c.json")
    };
    let document = costed(offer("\"array.layout.spacing\" = \"0.55 wavelength\""));
    let caution = document["cautions"][0].as_str().expect("a caution");
    assert!(caution.starts_with("arrays differ: \"the study\" is "), "{caution}");
    assert!(document["verdict"].as_str().expect("a verdict").contains(&format!("Caution: {caution}")));
    let document = costed(offer("\"jumper.length.half_width\" = \"0.1 mm\""));
    assert!(document.get("cautions").is_none());
}
