//! The text, the page, the JSON and the CSV say the same, and a stopped run keeps its results.

use super::{close, float, list, model, priced, same, strict};
use crate::program::{Folder, nulls};
use serde_json::Value;

const MORE: &str = "set_up = { fit = 720 }\nrework = { success = { value = 0.4, from = 0.3, to = 0.6 }, time = \"9 min\", parts = 5 }\n\
                    [[offer]]\nname = \"tight\"\nchange = { \"jumper.length.half_width\" = \"0.05 mm\", \"cost.channel\" = 44 }";

#[test]
fn text_json_and_csv_say_the_same() {
    let folder = Folder::with(priced(&strict(), MORE));
    let said = folder.done(&["cost", "study.toml", "--quiet"]);
    folder.done(&["cost", "study.toml", "--quiet", "--json", "c.json", "--csv", "c.csv", "--threads", "1"]);
    folder.done(&["run", "study.toml", "--quiet", "--json", "r.json"]);
    let (document, run) = (folder.json("c.json"), folder.json("r.json"));
    assert_eq!(nulls(&document), Vec::<String>::new());
    for key in ["format", "study", "study_hash", "seed", "trials"] {
        assert_eq!(document[key], run[key], "{key}");
    }
    // The yields and minutes are those of a run.
    for of in list(&run["calibrations"]) {
        let priced = model(&document, of["name"].as_str().expect("a name"));
        assert_eq!(priced["yield"], of["yield"]);
    }
    assert_eq!(list(&document["plans"]).len(), 6);
    // The CSV, to the last digit.
    let text = folder.read("c.csv");
    let rows: Vec<Vec<&str>> = text.lines().map(|line| line.split(',').collect()).collect();
    let column = |name: &str| rows[0].iter().position(|of| *of == name).expect("a column");
    assert_eq!(rows.len(), 7);
    for (row, of) in rows[1..].iter().zip(list(&document["plans"])) {
        let number = |name: &str| row[column(name)].parse::<f64>().expect("a number");
        assert_eq!((row[column("plan")], row[column("currency")]), (of["plan"].as_str().unwrap(), "EUR"));
        for (name, value) in [
            ("minutes", &of["minutes"]),
            ("yield", &of["yield"]["value"]),
            ("cost", &of["cost"]["value"]),
            ("cost_low", &of["cost"]["low"]),
            ("cost_high", &of["cost"]["high"]),
            ("scrap", &of["split"]["scrap"]),
            ("good_share", &of["split"]["good_share"]),
        ] {
            assert!(same(number(name), float(value)), "{name}");
        }
    }
    // The text, to the digits that it shows: the row of a plan begins with its name and has its cost before the currency.
    for of in list(&document["plans"]).iter().filter(|of| of.get("offer").is_none()) {
        let name = of["plan"].as_str().unwrap();
        let row = said.lines().find(|line| line.starts_with(&format!("  {name} "))).expect("a row");
        let cells: Vec<&str> = row.split_whitespace().collect();
        let cost = cells[cells.iter().position(|cell| *cell == "EUR").expect("a currency") - 1];
        let digit = cost.split_once('.').map_or(1.0, |(_, digits)| 0.1f64.powi(digits.len() as i32));
        let value = float(&of["cost"]["value"]);
        assert!((cost.parse::<f64>().unwrap() - value).abs() <= 0.5 * digit + 1e-9, "{row}, {value}");
    }
    let verdict = document["verdict"].as_str().expect("a verdict");
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words(&said).ends_with(&words(verdict)), "{said}");
    assert!(verdict.contains("prices that the study states") && verdict.contains("not measured"));
}

#[test]
fn lines_are_no_wider_than_a_page() {
    let long = "a plan whose name goes on and on and on";
    let study = priced(&strict(), MORE)
        .replace("\"climb\"\n", &format!("\"{long}\"\n"))
        .replace("\"tight\"", "\"an offer whose name is no shorter than that of the plan\"");
    let folder = Folder::with(study);
    let said = folder.done(&["cost", "study.toml", "--quiet", "--report", "page.txt"]);
    for text in [said, folder.read("page.txt")] {
        let wide = text.lines().find(|line| line.chars().count() > 80);
        assert!(wide.is_none(), "{wide:?}");
    }
}

#[test]
fn the_page_is_one_page_however_much_there_is() {
    let mut study = priced(&strict(), "set_up = { fit = 720 }");
    study = study.replace("bench_minute = 2.5", "bench_minute = { value = 2.5, from = 0.1, to = 90 }");
    study = study.replace("channel = 40", "channel = { value = 40, from = 1, to = 400 }");
    for number in 0..7 {
        study.push_str(&format!(
            "\n[[offer]]\nname = \"jumpers of supplier {number}, cut and sorted by hand\"\n\
             change = {{ \"jumper.length.half_width\" = \"0.{number}5 mm\", \"cost.channel\" = {} }}\n",
            46 - number
        ));
        let codes = [4, 8, 16, 32][number % 4];
        study.push_str(&format!(
            "\n[[calibration]]\nname = \"fit of a further kind, number {number}\"\nalign = {{ method = \"fit\", codes = {codes} }}\n"
        ));
    }
    let folder = Folder::with(study);
    folder.done(&["cost", "study.toml", "--quiet", "--report", "page.txt", "--trials", "400"]);
    let page = folder.read("page.txt");
    assert!(page.lines().count() <= 60, "{} lines\n{page}", page.lines().count());
    for part in ["Question", "Recommendation", "Assumptions", "What would change the answer"] {
        assert!(page.contains(&format!("\n{part}\n")), "{part}\n{page}");
    }
    assert!(page.contains("beamyield cost study.toml --trials 400"), "{page}");
    // The same for scripts.
    folder.done(&["cost", "study.toml", "--quiet", "--report", "page.json", "--trials", "400"]);
    let document = folder.json("page.json");
    assert_eq!(nulls(&document), Vec::<String>::new());
    for key in ["question", "recommendation", "figures", "assumptions", "would_change", "again"] {
        assert!(document.get(key).is_some(), "{key}");
    }
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words(&page).contains(&words(document["recommendation"].as_str().unwrap())));
    let figure = &document["figures"][0];
    assert!(close(float(&figure["confidence"]), 0.95) && float(&figure["low"]) < float(&figure["high"]));
}

#[test]
fn documents_can_go_to_standard_output() {
    let folder = Folder::with(priced(&strict(), ""));
    for (option, begins) in [("--json", "{"), ("--csv", "offer,plan,minutes"), ("--report", "small\n")] {
        let said = folder.done(&["cost", "study.toml", "--quiet", option, "-"]);
        assert!(said.starts_with(begins) && !said.contains("Cost of a good unit, by the plan"), "{said}");
    }
}

/// Stops a costing that would take hours by the signal of Ctrl-C, once it is under way.
#[cfg(unix)]
#[test]
fn a_stopped_costing_keeps_what_it_has() {
    let folder = Folder::with(priced(&strict(), MORE));
    let arguments =
        ["cost", "study.toml", "--trials", "1000000000", "--json", "c.json", "--report", "page.txt"];
    let ended = folder.stopped(&arguments, |done| !done.is_empty());
    let document = folder.json("c.json");
    let trials = document["trials"].as_u64().expect("a count");
    assert!(document["partial"] == true && trials > 0);
    assert!(ended.err.contains(&format!("stopped after {trials} of 1000000000 trials")), "{}", ended.err);
    assert!(ended.out.starts_with(&format!("PARTIAL: stopped after {trials} of")), "{}", ended.out);
    assert!(list(&document["plans"]).iter().all(|of| of["yield"]["trials"] == trials));
    assert_eq!(document.get("averages"), None::<&Value>);
    // Where a line of the page ends depends on how many units there was time for.
    let page = folder.read("page.txt").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(page.contains("The run was stopped early"), "{page}");
}
