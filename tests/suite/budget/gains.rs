//! Causes by what the yield gains without them, as the command reports them.

#[path = "sums.rs"]
mod sums;

use crate::program::{Folder, nulls};
use serde_json::Value;
use sums::{of_four_causes, within};

#[test]
fn what_gains_most_is_mended_first() {
    let study = of_four_causes();
    let folder = Folder::with(&study);
    folder.done(&["budget", "study.toml", "--quiet", "--json", "b.json", "--csv", "b.csv"]);
    let json = folder.json("b.json");
    assert_eq!(nulls(&json), Vec::<String>::new());
    let said = json["verdict"].as_str().expect("a verdict").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("Mend c.gain first: without it the yield gains 2"), "{said}");
    assert!(said.contains("Less, but next: temperature 1"), "{said}");
    let failures = &json["calibrations"][0]["failures"];
    let ranks: Vec<(&Value, &Value)> =
        failures["causes"].as_array().expect("causes").iter().map(|of| (&of["cause"], &of["rank"])).collect();
    assert_eq!((ranks[0], ranks[4]), ((&"c.gain".into(), &1.into()), (&"a.gain".into(), &5.into())));
    assert_eq!(failures["mend_first"], serde_json::json!(["c.gain"]));
    assert_eq!(failures["without_all"]["yield_without"]["value"], 1.0);
    let csv = folder.read("b.csv");
    let row = csv.lines().nth(1).expect("a row");
    assert!(row.contains(",c.gain,true,") && row.ends_with(",1"), "{csv}");
}

#[test]
fn causes_that_gain_only_together_are_named_together() {
    let words = |study: &str| {
        let said = Folder::with(study).done(&["budget", "study.toml", "--quiet"]);
        said.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let said = words(&within(&[("a", 5.0), ("still", 0.0005), ("b", 5.0)]));
    assert!(said.contains("No single cause is shown to gain any yield with 4096 units."), "{said}");
    assert!(said.contains("Only together a.gain and b.gain gain 99."), "{said}");
    // A twin whose causes pay by themselves has no group: one of them alone.
    let said = words(&within(&[("a", 5.0), ("still", 0.0005)]));
    assert!(said.contains("Mend a.gain first") && !said.contains("nly together"), "{said}");
}
