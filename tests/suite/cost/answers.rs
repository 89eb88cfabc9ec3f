//! Break-even, Pareto fronts, offers, averages and swings of the cost.

use super::{PRICES, close, document, float, list, loose, model, priced, strict};
use crate::program::Folder;
use serde_json::Value;
use std::sync::LazyLock;

/// The study that ships, with fewer units.
fn bench_minutes() -> String {
    include_str!("../../../studies/bench-minutes.toml").replace("trials = 4000", "trials = 1500")
}

/// The results of `cost` on it, for people and for scripts.
static SHIPPED: LazyLock<(String, Value)> = LazyLock::new(|| {
    let folder = Folder::with(bench_minutes());
    folder.done(&["cost", "study.toml", "--quiet", "--json", "c.json"]);
    (folder.done(&["cost", "study.toml", "--quiet"]), folder.json("c.json"))
});

/// The small study with ranges, rework and an offer.
fn ranged() -> String {
    let prices = PRICES
        .replace("bench_minute = 2.5", "bench_minute = { value = 2.5, from = 0.4, to = 9 }")
        .replace("channel = 40", "channel = { value = 40, from = 30, to = 60 }");
    let more = "set_up = { fit = { value = 720, from = 100, to = 90000 } }\nscrap = { recovered = { value = 30, from = 0, to = 60 } }\n\
                rework = { success = { value = 0.4, from = 0.3, to = 0.9 }, time = \"9 min\", parts = { value = 5, from = 0, to = 60 } }\n\
                [[offer]]\nname = \"tight\"\nchange = { \"jumper.length.half_width\" = \"0.05 mm\", \"cost.channel\" = 44 }\n";
    format!("{}{prices}{more}", strict())
}

#[test]
fn bench_time_pays_from_where_its_savings_make_up_for_its_set_up() {
    let found = &SHIPPED.1;
    let steps = list(&found["steps"]);
    let of = |from: &str, to: &str| {
        steps.iter().find(|of| of["from"] == from && of["to"] == to).expect("the step")
    };
    // By hand, from the saving on a unit and the additional one-time payment.
    let thorough = of("quick", "thorough");
    assert_eq!(float(&thorough["more_set_up"]), 2600.0 - 900.0);
    let saves = &thorough["saves_without_set_up"];
    let units = |saved: &Value| (1700.0 / float(saved)).ceil() as u64;
    assert_eq!(thorough["pays"]["when"], "from");
    assert_eq!(thorough["pays"]["units"], units(&saves["value"]));
    assert_eq!(thorough["pays_at_best"]["units"], units(&saves["high"]));
    assert_eq!(thorough["pays_at_worst"]["units"], units(&saves["low"]));
    // 1700 over 300 units a year are what the saving is less by.
    for key in ["value", "low", "high"] {
        assert!(close(float(&saves[key]) - float(&thorough["saves"][key]), 1700.0 / 300.0), "{key}");
    }
    // Costs of the two differ by it.
    let cost = |name: &str| float(&model(found, name)["cost"]["value"]);
    assert!(close(cost("quick") - cost("thorough"), float(&thorough["saves"]["value"])));
    // Exchanged arms take 13.2 min more for nothing.
    let exchanged = of("quick", "arms exchanged");
    assert!(float(&exchanged["saves"]["high"]) < 0.0 && exchanged["pays"]["when"] == "never");
    let said = found["verdict"].as_str().expect("a verdict");
    assert!(said.contains("23.9 more bench minutes save ") && said.contains("they pay from "), "{said}");
    assert!(said.contains("\"thorough\" makes the cheapest good unit"), "{said}");
}

#[test]
fn dominated_plans_are_named() {
    let (said, found) = &*SHIPPED;
    assert_eq!(model(found, "arms exchanged")["dominated_in_minutes_by"], "quick");
    for name in ["none", "level only", "climb", "quick", "thorough"] {
        assert!(model(found, name).get("dominated_in_minutes_by").is_none(), "{name}");
    }
    for name in ["none", "level only", "climb", "quick", "arms exchanged"] {
        assert_eq!(model(found, name)["dominated_in_cost_by"], "thorough", "{name}");
    }
    assert!(model(found, "thorough").get("dominated_in_cost_by").is_none());
    assert!(said.contains("  by \"quick\" in bench time: arms exchanged\n"), "{said}");
    assert!(
        said.contains("  by \"thorough\" in cost: none, level only, climb, quick, arms exchanged"),
        "{said}"
    );
}

#[test]
fn an_offer_pays_up_to_the_price_at_which_the_costs_are_equal() {
    let offer = &SHIPPED.1["offers"][0];
    assert_eq!(
        (&offer["offer"], &offer["against"]),
        (&Value::from("graded shifters"), &Value::from("thorough"))
    );
    let most = float(&offer["most_a_channel"]["value"]);
    assert!(float(&offer["saves"]["value"]) < 0.0 && 68.0 < most && most < 74.0, "{offer}");
    // At the price that is named, asked of the program, of a study that runs faster.
    let found = document(&ranged(), &[]);
    let most = float(&found["offers"][0]["most_a_channel"]["value"]);
    let at = |price: f64| {
        let study = ranged().replace("\"cost.channel\" = 44", &format!("\"cost.channel\" = {price:?}"));
        float(&document(&study, &[])["offers"][0]["saves"]["value"])
    };
    assert!(at(most).abs() < 1e-8 && at(most - 0.5) > 0.0 && at(most + 0.5) < 0.0, "{most}");
}

#[test]
fn averages_are_tried_on_the_same_units() {
    let found = &SHIPPED.1;
    let averages = &found["averages"];
    assert_eq!((&averages["plan"], &averages["stated"]), (&Value::from("thorough"), &Value::from(4)));
    let tried = list(&averages["tried"]);
    assert_eq!(tried.iter().map(|of| of["averages"].as_u64().unwrap()).collect::<Vec<_>>(), [1, 2, 4, 8, 16]);
    // As stated it is what it was.
    let own = model(found, "thorough");
    for key in ["minutes", "yield", "cost"] {
        assert_eq!(tried[2][key], own[key], "{key}");
    }
    assert!(tried.windows(2).all(|pair| float(&pair[0]["minutes"]) < float(&pair[1]["minutes"])));
    // With a bad receiver it pays to average: the counterpart of the check above.
    let noisy = bench_minutes().replace("noise = \"0.03 dB\"", "noise = \"0.8 dB\"");
    let noisy = document(&noisy, &["--calibration", "quick", "--trials", "600"]);
    let up_to = |of: &Value| of["averages"]["pays_up_to"].as_u64().expect("a number");
    assert!(up_to(&noisy) >= 4 && up_to(found) <= 2, "{} and {}", noisy["averages"], found["averages"]);
    assert_eq!(list(&noisy["plans"]).len(), 2);
}

#[test]
fn a_swing_is_the_cost_at_the_ends_of_a_range() {
    let found = document(&ranged(), &[]);
    let cheapest_of = |of: &Value| of["cheapest"].as_str().expect("a name").to_owned();
    let cheapest = cheapest_of(&found);
    let tornado = list(&found["tornado"]);
    let width = |of: &Value| (float(&of["cost_to"]) - float(&of["cost_from"])).abs();
    assert!(tornado.windows(2).all(|pair| width(&pair[0]) >= width(&pair[1])));
    let inputs: Vec<&str> = tornado.iter().map(|of| of["input"].as_str().expect("a name")).collect();
    for input in ["cost.channel", "cost.bench_minute", "cost.rework.success", "cost.scrap.recovered", "yield"]
    {
        assert!(inputs.contains(&input), "{input}: {inputs:?}");
    }
    let mut others = 0;
    for of in tornado.iter().filter(|of| of["input"] != "yield") {
        for (end, cost, instead) in [("from", "cost_from", "cheapest_from"), ("to", "cost_to", "cheapest_to")]
        {
            // The same asked of the program, with that price stated.
            let set = format!("{}={}", of["input"].as_str().expect("a name"), of[end]);
            let there = document(&ranged(), &["--set", &set]);
            assert!(close(float(&model(&there, &cheapest)["cost"]["value"]), float(&of[cost])), "{set}");
            let named = of.get(instead).and_then(Value::as_str);
            others += usize::from(named.is_some());
            assert_eq!(cheapest_of(&there), named.unwrap_or(&cheapest), "{set}");
        }
    }
    assert!(others > 0, "{found}");
    let of_yield = tornado.iter().find(|of| of["input"] == "yield").expect("the yield");
    assert_eq!(of_yield["from"], model(&found, &cheapest)["yield"]["low"]);
}

#[test]
fn the_benches_for_the_units_of_a_year_are_counted() {
    let study = priced(&loose(), "bench_day = \"7 h\"\ndays_a_year = 200").replace("= 300\n", "= 90000\n");
    let found = document(&study, &[]);
    for name in ["fit", "climb"] {
        let of = model(&found, name);
        // Every unit passes: 420 min a day.
        let a_year = 200.0 * 420.0 / float(&of["minutes"]);
        assert_eq!(of["bench"]["benches"], (90_000.0 / a_year).ceil() as u64, "{name}");
    }
    assert!(model(&found, "none").get("bench").is_none());
}

#[test]
fn a_study_without_a_plan_that_does_nothing_is_priced_as_built_too() {
    let study = priced(&strict(), "").replace("[[calibration]]\nname = \"none\"\n\n", "");
    let (found, whole) = (document(&study, &[]), document(&priced(&strict(), ""), &[]));
    assert_eq!(found["plans"], whole["plans"]);
    // Not where one plan alone is asked for.
    let one = document(&study, &["--calibration", "fit"]);
    assert_eq!(list(&one["plans"]).len(), 1);
    assert_eq!(model(&one, "fit")["cost"], model(&whole, "fit")["cost"]);
}

#[test]
fn where_no_unit_is_good_nothing_has_a_cost() {
    let study = priced(&strict(), "").replace("at_most = \"0.05 dB\"", "at_most = \"-50 dB\"");
    let found = document(&study, &[]);
    assert!(list(&found["plans"]).iter().all(|of| of.get("cost").is_none() && of.get("split").is_none()));
    assert!(found.get("cheapest").is_none() && list(&found["steps"]).is_empty());
    let verdict = found["verdict"].as_str().unwrap();
    assert!(verdict.to_lowercase().contains("no unit is good after any plan"), "{verdict}");
    let folder = Folder::with(study);
    let said = folder.done(&["cost", "study.toml", "--quiet", "--report", "page.txt"]);
    for text in [said, folder.read("page.txt")] {
        assert!(!text.contains("inf") && !text.contains("NaN"), "{text}");
    }
}

#[test]
fn insignificant_differences_are_not_claimed() {
    // Two plans that differ only in name.
    let same_again = "\n[[calibration]]\nname = \"same\"\nlevel = { toward = \"weakest\" }\nalign = { method = \"fit\", codes = 8, reference = 3, swap_arms = true }\noffsets = \"phases\"\n";
    let free = PRICES.replace("bench_minute = 2.5", "bench_minute = 0.0001");
    let found = document(&format!("{}{same_again}{free}", strict()), &[]);
    let step = list(&found["steps"]).iter().find(|of| of["to"] == "same").expect("the step");
    assert_eq!(step["told"], false, "{step}");
    assert!(float(&step["saves"]["low"]) < 0.0 && float(&step["saves"]["high"]) > 0.0);
    let said =
        Folder::with(format!("{}{same_again}{free}", strict())).done(&["cost", "study.toml", "--quiet"]);
    let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("save nothing that 130 units show"), "{said}");
    assert!(words.contains("is not shown to differ in cost from"), "{said}");
}
