//! Every kind is drawn, whatever its numbers.

use super::*;
use crate::report::page::{Axis, Part, Table};

const HOSTILE: &str = "</text><script>alert(1)</script>\"'&";

/// One of each kind, all of the same numbers.
fn all(values: &[f64]) -> Vec<Plot> {
    let axis = |name: &str| Axis::around(name, "dB", values.iter().copied());
    let name = HOSTILE.to_owned();
    let numbered = || values.iter().copied().enumerate().map(|(at, value)| (at as f64, value));
    let point = |(x, y): (f64, f64)| Point { x, y, interval: Some([y - 1.0, y + 1.0]), tip: name.clone() };
    let series = Series { name: name.clone(), points: numbered().map(point).collect(), drawn: Drawn::Both };
    let line = Series { drawn: Drawn::Line, ..series.clone() };
    let row = |value: &f64| Row {
        name: name.clone(),
        value: *value,
        interval: [value - 1.0, value + 1.0],
        text: name.clone(),
        tip: name.clone(),
    };
    let bar = |value: &f64| Bar {
        name: name.clone(),
        from: 0.0,
        to: *value,
        interval: Some([value - 1.0, value + 1.0]),
        inner: Some(0.5 * value),
        text: name.clone(),
        tip: name.clone(),
    };
    let spot = |(x, y): (f64, f64)| Spot {
        name: name.clone(),
        x,
        y,
        interval: Some([y - 1.0, y + 1.0]),
        is_front: true,
        tip: name.clone(),
    };
    let names = vec![name.clone(); values.len()];
    let cells: Vec<Option<(f64, String)>> = values.iter().map(|value| Some((*value, name.clone()))).collect();
    let stop = Stop { value: -12.0, passes: Side::Below, name: name.clone() };
    vec![
        Band {
            x: axis("angle"),
            y: axis("level"),
            at: numbered().map(|of| of.0).collect(),
            error_free: values.to_vec(),
            low: values.to_vec(),
            middle: values.to_vec(),
            high: values.to_vec(),
            worst: Some((values.to_vec(), name.clone())),
            name: name.clone(),
            levels: vec![(-12.0, name.clone())],
        }
        .into(),
        ByChannel {
            y: axis("phase"),
            channels: values.iter().map(|value| [*value; 5]).collect(),
            each: 3,
            names: [name.clone(), name.clone()],
        }
        .into(),
        Curve {
            x: axis("x"),
            y: axis("y"),
            series: vec![series, line],
            levels: vec![(-12.0, name.clone())],
            uprights: vec![(-12.0, name.clone())],
        }
        .into(),
        HeatMap {
            x: Axis::names(name.clone(), names.clone()),
            y: Axis::names(name.clone(), names),
            cells: vec![cells; values.len()],
            range: [0.0, 100.0],
            contours: vec![(-12.0, name.clone())],
        }
        .into(),
        Histogram {
            x: axis("figure"),
            ends: [0.0, 10.0],
            counts: values.iter().map(|value| value.abs() as u64).collect(),
            units: 100,
            cumulative: values.iter().map(|value| (*value, 0.5)).collect(),
            percentiles: values.iter().map(|value| (50, *value, name.clone())).collect(),
            stops: vec![stop.clone()],
        }
        .into(),
        Intervals {
            axis: axis("yield"),
            rows: values.iter().map(row).collect(),
            level: Some((-12.0, name.clone())),
        }
        .into(),
        Ranked {
            axis: axis("share"),
            bars: values.iter().map(bar).collect(),
            base: Some((-12.0, name.clone())),
        }
        .into(),
        Readings {
            x: axis("code"),
            y: axis("level"),
            readings: numbered().collect(),
            chosen: Some(1.0),
            name: name.clone(),
        }
        .into(),
        Scatter { x: axis("x"), y: axis("y"), spots: numbered().map(spot).collect() }.into(),
        Split {
            parts: vec![name.clone(); 2],
            rows: values.iter().map(|value| (name.clone(), vec![(*value, name.clone()); 2])).collect(),
            unit: name.clone(),
        }
        .into(),
        Strips {
            x: axis("figure"),
            strips: vec![Strip {
                name: name.clone(),
                ends: [0.0, 10.0],
                counts: values.iter().map(|value| value.abs() as u64).collect(),
                beyond: [name.clone(), name.clone()],
                text: name.clone(),
                tip: name.clone(),
            }],
            stops: vec![stop],
        }
        .into(),
    ]
}

/// Numbers of the attributes of places and sizes.
fn numbers(svg: &str) -> Vec<f64> {
    let mut found = Vec::new();
    for name in [
        " x=\"",
        " y=\"",
        " x1=\"",
        " y1=\"",
        " x2=\"",
        " y2=\"",
        " cx=\"",
        " cy=\"",
        " points=\"",
        " width=\"",
    ] {
        for rest in svg.split(name).skip(1) {
            let value = rest.split('"').next().unwrap();
            found.extend(
                value.split([' ', ',']).filter(|of| !of.is_empty()).map(|of| of.parse::<f64>().unwrap()),
            );
        }
    }
    found
}

#[test]
fn every_kind_is_drawn_within_its_bounds_whatever_the_numbers() {
    let sets = [
        vec![-13.0, -12.5, -11.0, -9.5],
        vec![],
        vec![3.0],
        vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY],
        vec![1e300, -1e300],
        vec![0.0; 5],
    ];
    for values in sets {
        for plot in all(&values) {
            let drawn = plot.svg(HOSTILE);
            let kind = plot.kind();
            assert!(!drawn.contains("NaN") && !drawn.contains("\"inf"), "{kind}: {drawn}");
            assert!(!drawn.contains("<script"), "{kind}: {drawn}");
            assert!(
                drawn.starts_with("<svg role=\"img\" aria-label=\"") && drawn.ends_with("</svg>\n"),
                "{kind}"
            );
            let is_inside = |value: &f64| (-60.0..=800.0).contains(value);
            assert!(numbers(&drawn).iter().all(is_inside), "{kind} of {values:?}: {drawn}");
        }
    }
}

#[test]
fn a_page_is_of_bounded_size_whatever_was_run() {
    let mut page = crate::report::page::Page {
        title: HOSTILE.into(),
        lead: String::new(),
        verdict: HOSTILE.into(),
        sections: Vec::new(),
        studies: vec![("a".into(), "\"&<>'\n".repeat(200_000)), ("b".into(), "<".repeat(3_000_000))],
        provenance: Vec::new(),
        cautions: vec![HOSTILE.into()],
    };
    let mut table = Table::new(HOSTILE, vec![(HOSTILE.into(), crate::report::grid::Side::Left)]);
    (0..1_000).for_each(|_| table.row([HOSTILE.to_owned()]));
    let values: Vec<f64> = (0..60).map(f64::from).collect();
    let parts =
        (0..10).flat_map(|_| all(&values)).map(|plot| Part::chart("t", "a", plot, table.clone())).collect();
    page.sections.extend(crate::report::page::Section::of("charts", parts));
    let html = crate::report::page::page_html(&page);
    assert!(html.len() < 2_000_000, "{}", html.len());
    assert!(html.contains("<svg") && html.contains("than a page can hold"));
    assert!(!html.contains("<script"));
}
