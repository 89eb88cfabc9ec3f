//! The summary on one page: question, recommendation, the figures behind it, assumptions, and what would change the answer.

use crate::model::Model;
use crate::report::PROGRAM;
use crate::report::grid::{Grid, numbers, paragraph, words};
use crate::report::json_parts::Head;
use crate::report::words::plain;
use crate::stats::Estimate;
use serde::Serialize;

/// A decision on one page.
#[derive(Clone, Debug, Default)]
pub(crate) struct Brief {
    /// What is to be decided, as a question.
    pub question: String,
    /// What to do, and why; says so where there is no answer.
    pub recommendation: String,
    /// The numbers behind it, most important first.
    pub figures: Vec<BriefFigure>,
    /// The assumptions, a sentence each.
    pub assumptions: Vec<String>,
    /// Changes that would change the answer, a sentence each.
    pub would_change: Vec<String>,
    /// The command that repeats it.
    pub again: String,
}

/// A number of a decision.
#[derive(Clone, Debug)]
pub(crate) struct BriefFigure {
    /// Its name: "yield after \"fit\"".
    pub name: String,
    /// Its value with its unit, rounded by its interval.
    pub value: String,
    /// Its interval; empty for what is exact.
    pub interval: String,
    /// The numbers themselves, where they are an estimate.
    pub estimate: Option<Estimate>,
}

/// The page for people.
pub(crate) fn brief_text(model: &Model, brief: &Brief) -> String {
    let mut grid = Grid::new(&[words("Figure"), numbers("value"), numbers("interval")]);
    for of in &brief.figures {
        grid.row([of.name.clone(), of.value.clone(), of.interval.clone()]);
    }
    let listed = |title: &str, all: &[String]| {
        let lines = all.iter().map(|line| paragraph(&format!("- {line}"), 2, 4)).collect::<String>();
        if lines.is_empty() { String::new() } else { format!("\n{title}\n{lines}") }
    };
    let mut text = paragraph(&plain(&model.title), 0, 0);
    text.push_str(&format!("\nQuestion\n{}", paragraph(&brief.question, 2, 2)));
    text.push_str(&format!("\nRecommendation\n{}", paragraph(&brief.recommendation, 2, 2)));
    if !brief.figures.is_empty() {
        text.push_str(&format!("\n{}", grid.text()));
    }
    text.push_str(&listed("Assumptions", &brief.assumptions));
    text.push_str(&listed("What would change the answer", &brief.would_change));
    let foot = format!(
        "Predicted from the study's tolerances and prices, not measured. {PROGRAM}, study {}, seed {}: {}",
        model.study_hash, model.seed, brief.again
    );
    text + "\n" + &paragraph(&foot, 0, 0)
}

/// The page for scripts.
pub(crate) fn brief_json<'a>(model: &'a Model, brief: &'a Brief) -> impl Serialize + use<'a> {
    Document {
        head: Head::of(model),
        question: &brief.question,
        recommendation: &brief.recommendation,
        figures: brief.figures.iter().map(figure).collect(),
        assumptions: &brief.assumptions,
        would_change: &brief.would_change,
        again: &brief.again,
    }
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    question: &'a str,
    recommendation: &'a str,
    figures: Vec<Figure<'a>>,
    assumptions: &'a [String],
    would_change: &'a [String],
    again: &'a str,
}

#[derive(Serialize)]
struct Figure<'a> {
    name: &'a str,
    text: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    value: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    low: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    high: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    confidence: Option<f64>,
}

fn figure(of: &BriefFigure) -> Figure<'_> {
    let number = |get: fn(&Estimate) -> f64| of.estimate.as_ref().map(get).filter(|value| value.is_finite());
    Figure {
        name: &of.name,
        text: &of.value,
        value: number(|of| of.value),
        low: number(|of| of.low),
        high: number(|of| of.high),
        confidence: number(|of| of.confidence),
    }
}
