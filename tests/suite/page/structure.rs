//! Pages as documents: well formed, headings in order, nothing that runs or is fetched, of bounded size, the same each time.

use super::{HOSTILE, commands, hostile, page_of};
use crate::program::{Folder, edited};
use std::collections::BTreeSet;

/// The tags of a document with their attributes, in order: it reads as XML, every element is closed by its own name.
fn tags(html: &str) -> Result<Vec<(String, String)>, String> {
    let body = html.strip_prefix("<!DOCTYPE html>").ok_or("no doctype")?;
    let (mut open, mut found) = (Vec::<String>::new(), Vec::new());
    for piece in body.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').ok_or_else(|| format!("an open tag: {piece}"))?;
        if text.contains('>') && open.last().is_none_or(|of| of != "style") {
            return Err(format!("a stray bracket: {text}"));
        }
        if let Some(name) = tag.strip_prefix('/') {
            match open.pop() {
                Some(of) if of == name => {}
                other => return Err(format!("</{name}> closes {other:?}")),
            }
            continue;
        }
        let is_closed = tag.ends_with('/');
        let tag = tag.trim_end_matches('/');
        let (name, attributes) = tag.split_once(' ').unwrap_or((tag, ""));
        if attributes.matches('"').count() % 2 == 1 {
            return Err(format!("an open attribute: {tag}"));
        }
        found.push((name.to_owned(), attributes.to_owned()));
        if !is_closed {
            open.push(name.to_owned());
        }
    }
    if open.is_empty() { Ok(found) } else { Err(format!("never closed: {open:?}")) }
}

/// Values of an attribute.
fn values<'t>(tags: &'t [(String, String)], name: &str) -> Vec<&'t str> {
    let start = format!("{name}=\"");
    let of =
        |attributes: &'t str| Some(attributes.split(&start).nth(1)?.split('"').next().unwrap_or_default());
    tags.iter().filter_map(|(_, attributes)| of(attributes)).collect()
}

#[test]
fn a_document_that_is_not_well_formed_is_seen() {
    assert!(tags("<!DOCTYPE html><p>a</p>").is_ok());
    for wrong in
        ["<p>a</p>", "<!DOCTYPE html><p>a", "<!DOCTYPE html><p><b>a</p></b>", "<!DOCTYPE html><p>a > b</p>"]
    {
        assert!(tags(wrong).is_err(), "{wrong}");
    }
}

#[test]
fn every_page_is_a_document_of_its_own() {
    for (name, study, words) in commands() {
        let html = page_of(&study, &words);
        let tags = tags(&html).unwrap_or_else(|wrong| panic!("{name}: {wrong}"));
        let count = |tag: &str| tags.iter().filter(|(name, _)| name == tag).count();
        // Nothing runs, and nothing is fetched.
        for tag in [
            "script",
            "img",
            "iframe",
            "object",
            "embed",
            "form",
            "base",
            "image",
            "use",
            "foreignObject",
            "audio",
            "video",
        ] {
            assert_eq!(count(tag), 0, "{name}: <{tag}>");
        }
        assert!(!html.contains("http://") && !html.contains("https://") && !html.contains("url("), "{name}");
        assert!(!html.contains("@import") && values(&tags, "src").is_empty(), "{name}");
        let names = |of: &str| {
            of.split('"').step_by(2).map(|name| name.trim().trim_end_matches('=').to_owned()).collect()
        };
        let named: Vec<String> = tags.iter().flat_map(|(_, of)| -> Vec<String> { names(of) }).collect();
        assert!(
            named.iter().any(|of| of == "class") && !named.iter().any(|of| of.starts_with("on")),
            "{name}"
        );
        assert!(values(&tags, "href").iter().all(|to| to.starts_with('#') || *to == "data:,"), "{name}");
        // Headings in order: one of the page, then its sections.
        let headings: Vec<&str> = tags
            .iter()
            .map(|(name, _)| name.as_str())
            .filter(|name| matches!(*name, "h1" | "h2" | "h3" | "h4"))
            .collect();
        assert_eq!(headings[0], "h1", "{name}");
        assert!(headings.len() > 4 && headings[1..].iter().all(|of| *of == "h2"), "{name}: {headings:?}");
        // Every link leads somewhere.
        let ids = values(&tags, "id");
        for to in values(&tags, "href").iter().filter_map(|to| to.strip_prefix('#')) {
            assert_eq!(ids.iter().filter(|id| **id == to).count(), 1, "{name}: #{to}");
        }
        // Every chart has a title, a text for screen readers, and its numbers.
        let charts = count("svg");
        assert!(charts > 0, "{name}");
        assert_eq!([count("figure"), count("figcaption"), count("details")], [charts; 3], "{name}");
        for figure in html.split("<figure").skip(1) {
            let figure = figure.split("</figure>").next().unwrap();
            let label = figure.split("aria-label=\"").nth(1).unwrap().split('"').next().unwrap();
            assert!(figure.contains("role=\"img\"") && label.len() > 20, "{name}: {label}");
            assert!(figure.contains("<tbody>\n<tr>"), "{name}: a table without rows: {label}");
        }
        assert!(!html.contains("NaN") && !html.contains(">inf"), "{name}");
        assert!(html.len() < 2_000_000, "{name}: {}", html.len());
        // The whole study, and the command to run it again.
        assert!(
            html.contains(&format!("beamyield {}", words[0])) && html.contains("--report page.html"),
            "{name}"
        );
        let lines = study.lines().filter(|line| !line.contains(['<', '>', '&', '"', '\'']));
        assert!(lines.clone().count() > 5 && lines.into_iter().all(|line| html.contains(line)), "{name}");
        assert!(
            html.contains("A prediction is no measurement.") && html.contains("licensed practice"),
            "{name}"
        );
    }
}

#[test]
fn every_kind_of_chart_stands_on_some_page() {
    let kind_of = |figure: &str| figure.split('"').next().unwrap().to_owned();
    let kinds = |(_, study, words): (_, String, Vec<&str>)| -> Vec<String> {
        page_of(&study, &words).split("<figure class=\"kind-").skip(1).map(kind_of).collect()
    };
    let drawn: BTreeSet<String> = commands().into_iter().flat_map(kinds).collect();
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/report/page/chart");
    let files =
        std::fs::read_dir(folder).expect("the kinds, one a file").map(|file| file.expect("a file").path());
    let known: BTreeSet<String> = files
        .map(|path| path.file_stem().expect("a name").to_string_lossy().into_owned())
        .filter(|name| !["mod", "tests"].contains(&name.as_str()))
        .collect();
    assert_eq!(drawn, known);
    // The page of a run has the charts of runs alone.
    let run: BTreeSet<String> = kinds(commands().remove(0)).into_iter().collect();
    for kind in ["band", "by_channel", "curve", "histogram", "intervals", "ranked", "readings", "strips"] {
        assert!(run.contains(kind), "{kind}: {run:?}");
    }
}

#[test]
fn a_run_of_few_units_has_a_page_without_what_few_cannot_show() {
    let page = |units: &str| page_of(&hostile(), &["run", "study.toml", "--trials", units]);
    let (few, enough) = (page("19"), page("20"));
    assert!(few.contains("Fewer than 20 units") && !few.contains("kind-histogram"));
    assert!(enough.contains("kind-histogram") && enough.contains("kind-strips"));
    for html in [&few, &enough, &page("1")] {
        assert!(tags(html).is_ok() && html.contains("kind-band") && html.contains("The figures in numbers"));
    }
}

#[test]
fn the_cautions_are_those_of_the_readme() {
    let squeezed = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let readme = squeezed(include_str!("../../../README.md"));
    let html = page_of(&hostile(), &["run", "study.toml"]);
    let items: Vec<&str> = html.split("<li>").filter_map(|item| item.split("</li>").next()).collect();
    let items: Vec<String> =
        items.iter().filter(|of| !of.contains('<')).map(|of| of.replace("&#39;", "'")).collect();
    assert_eq!(items.len(), 3);
    for caution in items {
        assert!(readme.contains(&squeezed(&caution)), "{caution}");
    }
}

#[test]
fn a_hostile_name_stays_a_text_in_the_page_and_in_the_csv() {
    let html = page_of(&hostile(), &["run", "study.toml"]);
    let escaped = HOSTILE.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
    let escaped = escaped.replace('"', "&quot;").replace('\'', "&#39;");
    assert!(
        html.contains(&format!("<title>{escaped}</title>")) && html.contains(&format!("<h1>{escaped}</h1>"))
    );
    assert!(html.contains("beam +&quot;&gt;&lt;img src onerror&gt;&quot;"));
    assert!(!html.contains("<img") && !html.contains("<script"));
    let folder = Folder::with(edited(&hostile(), &[("name = \"fit\"", "name = \"+1+1\"")]));
    folder.done(&["run", "study.toml", "--quiet", "--csv", "units.csv"]);
    let csv = folder.read("units.csv");
    assert!(csv.contains(",'+1+1,"), "{csv}");
    // No cell begins as a formula does; in a header the name is in the middle.
    let mut rows = csv.lines().skip(1).map(|line| line.split(','));
    assert!(
        rows.all(|mut cells| cells.all(|cell| !cell.trim_start_matches('"').starts_with(['=', '@', '+']))),
        "{csv}"
    );
}

#[test]
fn the_same_run_gives_the_same_page() {
    // Nothing but the time that it took differs.
    let page = || {
        let html = page_of(&hostile(), &["run", "study.toml"]);
        let (before, rest) = html.split_once("<dt>took</dt>").expect("the time");
        let (_, after) = rest.split_once("</dd>").expect("the time");
        format!("{before}{after}")
    };
    let threads = page_of(&hostile(), &["run", "study.toml", "--threads", "1"]);
    let first = page();
    assert_eq!(first, page());
    let charts = |html: &str| {
        html.split("<main>").nth(1).unwrap().split("<section id=\"again\">").next().unwrap().to_owned()
    };
    assert_eq!(charts(&first), charts(&threads));
}

#[test]
fn a_page_is_refused_where_it_cannot_be() {
    let folder = Folder::with(hostile());
    for (words, said) in [
        (vec!["run", "study.toml", "--report", "page.pdf"], "let its name end in .html"),
        (vec!["run", "study.toml", "--report", "a.html", "--json", "a.html"], "would both go there"),
        (
            vec!["sweep", "study.toml", "--vary", "shifter.bits=4..5", "--report", "study.toml"],
            "let its name end in .html",
        ),
        (vec!["run", "study.toml", "--report", "no/such/folder/a.html"], "no/such/folder"),
    ] {
        let error = folder.refused(&words);
        assert!(error.contains(said), "{words:?}: {error}");
    }
    let page = folder.done(&["run", "study.toml", "--quiet", "--report", "-"]);
    assert!(page.starts_with("<!DOCTYPE html>") && page.ends_with("</html>\n"));
}
