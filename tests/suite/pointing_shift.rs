//! A limit that no unit can meet names its remedy.

use crate::program::Folder;

const LINE: &str = "layout = { kind = \"linear\", count = 8, spacing = \"0.5 wavelength\" }\nelement = { cosine_exponent = 1.0 }";

#[test]
fn a_limit_that_no_unit_meets_names_its_remedy() {
    let study = |figure: &str| {
        // The beam points to the direction cosine 0.7.
        format!(
            "title = \"check\"\nseed = 1\ntrials = 200\nfrequencies = [\"28 GHz\"]\nfigures = [\"eirp_change\"]\n\
             [array]\n{LINE}\n[[beam]]\nname = \"0\"\ntheta = \"44.4270040008057 deg\"\n\
             [[block]]\nname = \"amplifier\"\nkind = \"amplifier\"\ngain = \"0 dB\"\n\
             phase = {{ nominal = \"0 deg\", normal = {{ sd = \"3 deg\" }} }}\n\
             [[block]]\nname = \"shifter\"\nkind = \"phase_shifter\"\nbits = 12\n[[calibration]]\nname = \"it\"\n\
             [[limit]]\nfigure = \"{figure}\"\nat_most = \"1 deg\"\n"
        )
    };
    let folder = Folder::with(study("pointing_error"));
    let said = folder.run(&["check", "study.toml"]).err;
    assert!(said.contains("no unit can meet this limit"), "{said}");
    assert!(said.contains("limit `pointing_shift`"), "{said}");
    folder.done(&["run", "study.toml", "--quiet", "--json", "run.json"]);
    assert_eq!(folder.json("run.json")["calibrations"][0]["yield"]["passed"], 0);

    let folder = Folder::with(study("pointing_shift"));
    let said = folder.run(&["check", "study.toml"]).err;
    assert!(!said.contains("no unit can meet"), "{said}");
    folder.done(&["run", "study.toml", "--quiet", "--json", "run.json"]);
    let document = folder.json("run.json");
    assert_eq!(document["calibrations"][0]["yield"]["passed"], 200);
    // Both signs: the mean is within four standard errors of 0, far from the pull.
    let of = document["calibrations"][0]["figures"].as_array().expect("figures");
    let shift = of.iter().find(|of| of["figure"] == "pointing_shift").expect("the figure");
    let number = |key: &str| shift[key].as_f64().expect("a number");
    assert!(number("mean").abs() < 4.0 * number("standard_error"), "{shift}");
    assert!(number("sd") > 0.05);
    let [beam] = &document["error_free_beams"].as_array().expect("beams")[..] else { panic!("one beam") };
    assert_eq!(beam["taper_efficiency"], 1.0);
    assert!(beam["directivity_dbi"].as_f64().expect("a level") > 9.0);
    assert!(beam["beamwidth_deg"].as_f64().expect("a width") > 10.0);
}
