//! Numbers of pages are those of the JSON of the same run, as far as a page writes digits.

use super::{hostile, priced};
use crate::program::Folder;
use serde_json::Value;

/// A page and the JSON of one call.
fn both(study: &str, words: &[&str]) -> (String, Value) {
    let folder = Folder::with(study);
    let mut all = words.to_vec();
    all.extend(["--quiet", "--report", "page.html", "--json", "all.json"]);
    folder.done(&all);
    (folder.read("page.html"), folder.json("all.json"))
}

/// Cells of the rows of the table of a caption, without markup.
fn rows(html: &str, caption: &str) -> Vec<Vec<String>> {
    let table = html
        .split(&format!("<caption>{caption}</caption>"))
        .nth(1)
        .unwrap_or_else(|| panic!("no table {caption}"));
    let body = table.split("<tbody>").nth(1).unwrap().split("</tbody>").next().unwrap();
    let text = |cell: &str| {
        let text = cell.split_once('>').unwrap().1.split("</td>").next().unwrap();
        let text =
            text.replace("&quot;", "\"").replace("&#39;", "'").replace("&lt;", "<").replace("&gt;", ">");
        text.replace("&amp;", "&")
    };
    body.split("<tr>").skip(1).map(|row| row.split("<td").skip(1).map(text).collect()).collect()
}

/// Whether a written number is a value, as exactly as it is written.
fn is_written(text: &str, value: f64) -> bool {
    let number = text.split([' ', '%']).next().unwrap();
    let decimals = number.split_once('.').map_or(0, |(_, decimals)| decimals.len() as i32);
    let written: f64 = number.parse().unwrap_or_else(|_| panic!("a number: {text}"));
    // Half of the last digit, and a hair.
    (written - value).abs() <= 0.5 * 10f64.powi(-decimals) * (1.0 + 1e-9)
}

#[test]
fn a_number_is_compared_by_its_digits() {
    assert!(is_written("91.8 %", 91.77) && !is_written("91.8 %", 91.7) && is_written("33 min", 33.2));
}

fn list(of: &Value) -> &Vec<Value> {
    of.as_array().expect("a list")
}

#[test]
fn yields_of_a_run_are_those_of_its_json() {
    let (html, json) = both(&hostile(), &["run", "study.toml"]);
    let rows = rows(&html, "Yield: the share of units that meet every limit");
    let plans = list(&json["calibrations"]);
    assert_eq!(rows.len(), plans.len());
    for (row, plan) in rows.iter().zip(plans) {
        let of = &plan["yield"];
        let (value, passed) = (of["value"].as_f64().unwrap(), of["passed"].as_u64().unwrap());
        assert_eq!((row[0].as_str(), row[3].parse().ok()), (plan["name"].as_str().unwrap(), Some(passed)));
        let is_bound = row[1].starts_with("at ");
        assert!(is_bound == (passed == 0 || passed == of["trials"].as_u64().unwrap()), "{row:?}");
        assert!(is_bound || is_written(&row[1], 100.0 * value), "{row:?} {value}");
        // The bar is as long as its number: the axis goes from 0 to 100 percent over the same width for all.
        let bar = html.split(&format!("<title>{}: ", plan["name"].as_str().unwrap())).next().unwrap();
        let width: f64 = bar.rsplit("width=\"").next().unwrap().split('"').next().unwrap().parse().unwrap();
        let whole: Vec<f64> = html
            .split("<figure")
            .nth(1)
            .unwrap()
            .split("<line class=\"rule\" x1=\"")
            .skip(1)
            .map(|of| of.split('"').next().unwrap().parse().unwrap())
            .collect();
        let (from, to) = (whole[0], whole[whole.len() - 1]);
        assert!((width - (to - from) * value).abs() < 0.2, "{width} of {} for {value}", to - from);
    }
}

#[test]
fn figures_of_a_run_are_those_of_its_json() {
    let (html, json) = both(&hostile(), &["run", "study.toml"]);
    let part = html.split("<h2>The figures in numbers</h2>").nth(1).expect("the tables");
    let caption =
        part.split("<caption>").find(|of| of.starts_with("Array-gain loss (dB)")).expect("a figure");
    let caption = caption.split("</caption>").next().unwrap();
    let mut seen = 0;
    for row in rows(part, caption) {
        let plans = list(&json["calibrations"]).iter();
        let plan = plans.clone().find(|plan| plan["name"] == row[0].as_str()).expect("the plan");
        let all: Vec<&Value> =
            list(&plan["figures"]).iter().filter(|of| of["figure"] == "array_gain_loss").collect();
        // It is that of one operating point, in mean and percentiles at once.
        let is_it = |of: &&Value| {
            let percentiles = of["percentiles"].as_object().expect("percentiles");
            let at = |p: &str| percentiles[p].as_f64().expect("a value");
            is_written(&row[1], of["mean"].as_f64().unwrap())
                && ["1", "5", "50", "95", "99"]
                    .iter()
                    .zip(&row[3..8])
                    .all(|(p, cell)| is_written(cell, at(p)))
        };
        assert!(all.into_iter().any(|of| is_it(&of)), "{row:?} {}", plan["figures"]);
        seen += 1;
    }
    assert!(seen > 1);
}

#[test]
fn points_of_a_sweep_and_costs_are_those_of_their_json() {
    let (html, json) = both(&hostile(), &["sweep", "study.toml", "--vary", "shifter.bits=3..5"]);
    let points = list(&json["points"]);
    let first = list(&points[0]["calibrations"])[0]["name"].as_str().unwrap().to_owned();
    let rows_of_first = rows(&html, &format!("After &quot;{first}&quot;"));
    assert_eq!(rows_of_first.len(), points.len());
    for (row, point) in rows_of_first.iter().zip(points) {
        let value = 100.0 * list(&point["calibrations"])[0]["yield"]["value"].as_f64().unwrap();
        assert!(row[1].starts_with("at ") || is_written(&row[1], value), "{row:?} {value}");
    }
    let (html, json) = both(&priced(), &["cost", "study.toml"]);
    for (row, plan) in rows(&html, "Cost of a good unit by each plan").iter().zip(list(&json["plans"])) {
        assert_eq!(row[0], plan["name"].as_str().unwrap());
        match plan["cost"]["value"].as_f64() {
            Some(value) => assert!(is_written(&row[3], value), "{row:?} {value}"),
            None => assert_eq!(row[3], "-"),
        }
    }
}

#[test]
fn a_histogram_holds_every_unit_and_marks_the_percentiles_of_the_json() {
    let (html, json) = both(&hostile(), &["run", "study.toml"]);
    let trials = json["trials"].as_u64().expect("trials");
    let charts: Vec<&str> = html.split("<figure class=\"kind-histogram\">").skip(1).collect();
    for chart in charts.iter().map(|chart| chart.split("</figure>").next().unwrap()) {
        let title = chart.split("<figcaption>").nth(1).unwrap().split("</figcaption>").next().unwrap();
        let unit = title.split('(').nth(1).unwrap().split(')').next().unwrap();
        let bins = rows(chart, &format!("Units by value, {unit}"));
        let units: u64 = bins.iter().map(|row| row[2].parse::<u64>().unwrap()).sum();
        assert_eq!(units, trials, "{title}");
        assert_eq!(bins.last().unwrap()[3], "100 %", "{title}");
        // The marks, as in \"5 %: 0.0198\", are the percentiles of one column of the plan that the page shows.
        let plan = list(&json["calibrations"])
            .iter()
            .find(|plan| title.ends_with(&format!("after &quot;{}&quot;", plan["name"].as_str().unwrap())))
            .expect("the plan");
        let marks = ["1", "5", "50", "95", "99"].map(|percent| {
            let label = format!(">{percent} %: ");
            chart.split(&label).nth(1).expect("a mark").split('<').next().unwrap()
        });
        let is_it = |figure: &&Value| {
            let percentiles = &figure["percentiles"];
            let pairs = ["1", "5", "50", "95", "99"].iter().zip(marks);
            pairs.into_iter().all(|(percent, mark)| {
                percentiles[percent].as_f64().is_some_and(|value| is_written(mark, value))
            })
        };
        assert!(list(&plan["figures"]).iter().any(|figure| is_it(&figure)), "{title}: {marks:?}");
    }
    let figures =
        list(&list(&json["calibrations"])[0]["figures"]).iter().map(|figure| figure["figure"].as_str());
    let figures: std::collections::BTreeSet<_> = figures.collect();
    assert_eq!(charts.len(), figures.len());
}
