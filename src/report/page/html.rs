//! The page as a file: one HTML document that fetches nothing.

use crate::report::PROGRAM;
use crate::report::grid::Side;
use crate::report::page::style::style;
use crate::report::page::svg::escape;
use crate::report::page::{Chart, Page, Part, Section, Table};
use crate::report::words::{capital, plain};
use rayon::prelude::*;
use std::fmt::Write;

/// Most bytes of all charts and tables: with the studies every page stays below 2 MB.
const MOST_PARTS: usize = 1_200_000;

/// Most bytes of the studies' text.
const MOST_STUDIES: usize = 500_000;

/// Most rows of a table that is kept on one sheet in print.
const SHORT: usize = 20;

/// Most rows of a table.
const MOST_ROWS: usize = 400;

/// Keeps a browser from fetching or running anything.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";

/// The page as HTML that is also well-formed XML.
pub(crate) fn page_html(page: &Page) -> String {
    let title = escape(&plain(&page.title));
    let mut body = format!(
        "<a class=\"skip\" href=\"#verdict\">To the answer</a>\n<header>\n<p class=\"program\">{PROGRAM}</p>\n<h1>{title}</h1>\n\
         <p class=\"lead\">{}</p>\n</header>\n<main>\n<section id=\"verdict\">\n<h2>The answer</h2>\n{}</section>\n",
        escape(&plain(&page.lead)),
        verdict_html(&page.verdict)
    );
    body.push_str(&contents(page));
    let mut left = MOST_PARTS;
    for (number, section) in page.sections.iter().enumerate() {
        body.push_str(&section_html(number, section, &mut left));
    }
    body.push_str(&foot(page));
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}\"/>\n<meta name=\"color-scheme\" content=\"light dark\"/>\n\
         <link rel=\"icon\" href=\"data:,\"/>\n<title>{title}</title>\n<style>\n{}</style>\n</head>\n<body>\n{body}</main>\n</body>\n</html>\n",
        style()
    )
}

/// The answer, a paragraph a sentence.
fn verdict_html(verdict: &str) -> String {
    let verdict = plain(verdict);
    let mut html = String::new();
    let mut rest = verdict.trim();
    while !rest.is_empty() {
        let begins = |at: &usize| rest[at + 2..].starts_with(|c: char| c.is_uppercase() || c == '"');
        let end = rest.match_indices(". ").map(|(at, _)| at).find(begins).map_or(rest.len(), |at| at + 1);
        html.push_str(&format!("<p>{}</p>\n", escape(rest[..end].trim())));
        rest = rest[end..].trim_start();
    }
    html
}

/// Titles of the sections after those of the page itself.
const FOOT: [(&str, &str); 3] =
    [("again", "To run it again"), ("study", "The study"), ("cautions", "Cautions")];

fn contents(page: &Page) -> String {
    let sections = page.sections.iter().enumerate();
    let sections = sections.map(|(number, of)| (format!("part-{number}"), escape(&plain(&of.title))));
    let foot = FOOT.iter().map(|(id, title)| ((*id).to_owned(), (*title).to_owned()));
    let items: String =
        sections.chain(foot).map(|(id, title)| format!("<li><a href=\"#{id}\">{title}</a></li>\n")).collect();
    format!("<nav aria-label=\"Contents\">\n<ul>\n{items}</ul>\n</nav>\n")
}

fn section_html(number: usize, section: &Section, left: &mut usize) -> String {
    let title = escape(&plain(&section.title));
    let mut out = format!("<section id=\"part-{number}\">\n<h2>{title}</h2>\n");
    let mut left_out = 0;
    let html = |part: &Part| match part {
        Part::Text(text) => format!("<p>{}</p>\n", escape(&plain(text))),
        Part::Table(table) => table_html(table, MOST_ROWS),
        Part::Chart(chart) => chart_html(chart, MOST_ROWS),
    };
    let parts: Vec<String> = section.parts.par_iter().map(html).collect();
    for html in parts {
        if html.len() <= *left {
            *left -= html.len();
            out.push_str(&html);
        } else {
            left_out += 1;
        }
    }
    if left_out > 0 {
        out.push_str("<p>More charts and tables belong here than a page can hold: --json and --csv have all of it.</p>\n");
    }
    out + "</section>\n"
}

fn chart_html(chart: &Chart, most_rows: usize) -> String {
    let title = escape(&capital(&plain(&chart.title)));
    format!(
        "<figure class=\"kind-{}\">\n<figcaption>{title}</figcaption>\n{}<details>\n<summary>The same in numbers</summary>\n{}</details>\n</figure>\n",
        chart.plot.kind(),
        chart.plot.svg(&plain(&format!("{}. {}", chart.title, chart.alt))),
        table_html(&chart.table, most_rows)
    )
}

fn table_html(table: &Table, most_rows: usize) -> String {
    let caption = escape(&capital(&plain(&table.caption)));
    let class = |column: usize| match table.header.get(column) {
        Some((_, Side::Right)) => " class=\"num\"",
        _ => "",
    };
    let short = if table.rows.len() <= SHORT { " short" } else { "" };
    let mut out = format!(
        "<div class=\"wide{short}\" role=\"region\" tabindex=\"0\" aria-label=\"{caption}\">\n<table>\n<caption>{caption}</caption>\n<thead><tr>"
    );
    for (column, (name, _)) in table.header.iter().enumerate() {
        // Writing to a string cannot fail.
        let _ = write!(out, "<th scope=\"col\"{}>{}</th>", class(column), escape(&plain(name)));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in table.rows.iter().take(most_rows) {
        out.push_str("<tr>");
        for (column, cell) in row.iter().enumerate() {
            let _ = write!(out, "<td{}>{}</td>", class(column), escape(&plain(cell)));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n</div>\n");
    if table.rows.len() > most_rows {
        let _ = writeln!(out, "<p>The first {most_rows} of {} rows; --json has all.</p>", table.rows.len());
    }
    out
}

/// Provenance, the whole studies, and the cautions.
fn foot(page: &Page) -> String {
    let [again, study, cautions] =
        FOOT.map(|(id, title)| format!("<section id=\"{id}\">\n<h2>{title}</h2>\n"));
    let provenance = page.provenance.iter();
    let provenance: String = provenance
        .map(|(name, value)| {
            format!("<dt>{}</dt>\n<dd><code>{}</code></dd>\n", escape(&plain(name)), escape(&plain(value)))
        })
        .collect();
    let each = MOST_STUDIES / page.studies.len().max(1);
    let studies: String = page.studies.iter().map(|(name, text)| study_html(name, text, each)).collect();
    let items: String = page.cautions.iter().map(|of| format!("<li>{}</li>\n", escape(&plain(of)))).collect();
    format!(
        "{again}<dl>\n{provenance}</dl>\n</section>\n{study}{studies}</section>\n{cautions}<ul>\n{items}</ul>\n</section>\n"
    )
}

/// A study's text as it was run, as far as a page can hold it.
fn study_html(name: &str, text: &str, most: usize) -> String {
    let name = escape(&plain(name));
    let mut written = escape(text);
    let mut cut = String::new();
    if written.len() > most {
        let end = (0..=most).rev().find(|end| written.is_char_boundary(*end)).unwrap_or(0);
        // Cut at a line end, so that no escaped character is cut.
        let end = written[..end].rfind('\n').unwrap_or(0);
        written.truncate(end);
        cut = "<p>The study is longer than a page can hold; its beginning is shown above.</p>\n".to_owned();
    }
    format!("<p>{name}</p>\n<pre tabindex=\"0\" aria-label=\"{name}\">{written}</pre>\n{cut}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_sentence_of_an_answer_is_a_paragraph() {
        let html =
            verdict_html("Of 1000 units 91.8 % pass. 0.2 mm meets it. \"fit\" is best, no. 2 is not. <b>.");
        let lines: Vec<&str> = html.lines().collect();
        assert_eq!(
            lines,
            [
                "<p>Of 1000 units 91.8 % pass. 0.2 mm meets it.</p>",
                "<p>&quot;fit&quot; is best, no. 2 is not. &lt;b&gt;.</p>"
            ]
        );
        assert_eq!(verdict_html(""), "");
    }
}
