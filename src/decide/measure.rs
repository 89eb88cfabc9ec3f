//! Figures that several designs have in common.

use crate::model::Model;

/// A figure at a beam, a frequency and a temperature, and its column in each design.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Measure {
    /// `[design]`; `None` where a design has no such beam, frequency, temperature or figure.
    pub columns: Vec<Option<usize>>,
}

/// Relative tolerance for equal frequencies or temperatures: rounding between units of measure.
const SAME: f64 = 1e-12;

/// The figures that any design limits, each once; all computed figures where none has a limit.
pub(super) fn measures(models: &[Model]) -> Vec<Measure> {
    let is_limited = |model: &Model, column: usize| model.limits.iter().any(|limit| limit.column == column);
    let no_limits = models.iter().all(|model| model.limits.is_empty());
    let mut all: Vec<Measure> = Vec::new();
    for (design, model) in models.iter().enumerate() {
        for column in 0..model.columns.len() {
            let is_known = all.iter().any(|of| of.columns[design] == Some(column));
            if !is_known && (no_limits || is_limited(model, column)) {
                let columns = models.iter().map(|other| matching_column(other, model, column)).collect();
                all.push(Measure { columns });
            }
        }
    }
    all
}

/// The column of a design with the same figure, beam, frequency and temperature as a column of another.
fn matching_column(model: &Model, other: &Model, column: usize) -> Option<usize> {
    let place = |model: &Model, column: usize| {
        let point = model.columns[column].point;
        let temperature = model.conditions_of(point).temperature;
        (model.points[point].frequency, temperature)
    };
    let beam = |model: &Model, column: usize| model.points[model.columns[column].point].beam;
    let (frequency, temperature) = place(other, column);
    let is_same = |mine: f64, theirs: f64| (mine - theirs).abs() <= SAME * theirs.abs();
    (0..model.columns.len()).find(|mine| {
        let at = place(model, *mine);
        model.columns[*mine].figure == other.columns[column].figure
            && model.beams[beam(model, *mine)].name == other.beams[beam(other, column)].name
            && is_same(at.0, frequency)
            && is_same(at.1, temperature)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::Figure;
    use crate::io::SourceText;

    const STUDY: &str = r#"
title = "Pair"
seed = 3
trials = 10
frequencies = ["28 GHz", "29 GHz"]
figures = ["residual_phase_rms", "array_gain_loss"]
array = { layout = { kind = "linear", count = 2, spacing = "5 mm" } }
beam = [{ name = "ahead", theta = "0 deg" }, { name = "aside", theta = "20 deg" }]
block = [{ name = "shifter", kind = "phase_shifter", bits = 6 }]
calibration = [{ name = "none" }]
"#;

    fn model(text: &str) -> Model {
        let source = SourceText { name: "pair.toml".into(), text: text.into() };
        crate::model::compile(&crate::study::parse(&source).unwrap(), text)
    }

    #[test]
    fn columns_match_by_their_content_not_by_their_order() {
        let first = model(STUDY);
        // The second frequency first, in another unit, and another first beam.
        let turned = STUDY
            .replace("\"28 GHz\", \"29 GHz\"", "\"29000 MHz\", \"27 GHz\"")
            .replace("{ name = \"ahead\", theta = \"0 deg\" }, ", "");
        let second = model(&turned);
        let all = measures(&[first.clone(), second.clone()]);
        let shared: Vec<&Measure> = all.iter().filter(|of| of.columns.iter().all(Option::is_some)).collect();
        // 2 figures, 2 beams, 2 frequencies, and 2 figures of the second at 27 GHz; of them one beam and one frequency are shared.
        assert_eq!((all.len(), shared.len()), (10, 2));
        for of in shared {
            let [Some(mine), Some(theirs)] = of.columns[..] else { panic!("shared") };
            let (mine, theirs) = (first.columns[mine], second.columns[theirs]);
            assert_eq!(mine.figure, theirs.figure);
            assert_eq!(first.beams[first.points[mine.point].beam].name, "aside");
            assert!((first.points[mine.point].frequency - 29e9).abs() < 1.0);
            assert!((second.points[theirs.point].frequency - 29e9).abs() < 1.0);
        }
    }

    #[test]
    fn limits_select_the_measures() {
        let limit = "limit = [{ figure = \"array_gain_loss\", at_most = \"0.1 dB\", beam = \"aside\" }]\n";
        let limited = model(&format!("{STUDY}{limit}"));
        let all = measures(&[model(STUDY), limited.clone()]);
        assert_eq!(all.len(), 2);
        for of in all {
            let column = limited.columns[of.columns[1].unwrap()];
            assert_eq!(column.figure, Figure::ArrayGainLoss);
            assert_eq!(of.columns[0], of.columns[1]);
        }
    }
}
