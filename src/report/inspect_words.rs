//! An inspection in words: windows, sizes, shares, suppliers and gauges.

use crate::decide::inspect::{Form, GaugeAs, Parts, Question, Setting, SettingResult};
use crate::inspection;
use crate::io::{Amount, Diagnostic, Dimension, Span};
use crate::model::Model;
use crate::random::{Inspection, Source, Window};
use crate::report::number::{ABSENT, significant};
use crate::report::words::plain;
use crate::study::Cost;

/// An inspection to report.
#[derive(Clone, Debug)]
pub(crate) struct InspectRun<'a> {
    /// The model, with one calibration plan.
    pub model: &'a Model,
    /// Name of the source that is inspected.
    pub source: &'a str,
    /// The place of its inspection in the study.
    pub place: Option<Span>,
    /// The kind of its deviations.
    pub dimension: Dimension,
    /// What stays fixed when an acceptance is made wider.
    pub form: Form,
    /// The unit of all deviations shown.
    pub unit: &'a str,
    /// One of that unit in SI.
    pub one: f64,
    /// The question.
    pub question: Question,
    /// The answers: the study's own parts by its own gauge first.
    pub answers: &'a [SettingResult],
    /// Prices, where they are stated.
    pub cost: Option<&'a Cost>,
    /// Time it took, s.
    pub seconds: f64,
    /// Whether it was stopped early.
    pub is_partial: bool,
    /// Warnings about the study.
    pub warnings: &'a [Diagnostic],
    /// Differences of the offers from the study, other than hardware.
    pub of_offers: &'a [String],
    /// The command that repeats it.
    pub again: &'a str,
}

impl<'a> InspectRun<'a> {
    /// The calibration plan.
    pub(super) fn calibration(&self) -> String {
        self.model.calibrations.first().map_or(String::new(), |of| plain(&of.name))
    }

    /// The answer for the study's own parts by its own gauge.
    pub(super) fn own(&self) -> &'a SettingResult {
        &self.answers[0]
    }

    /// The source that is inspected.
    pub(super) fn source_of(&self) -> Option<&'a Source> {
        self.model.sources.list().iter().find(|source| source.name == self.source)
    }

    /// The unit of a column, behind its name: ", mm".
    pub(super) fn unit_behind(&self) -> String {
        if self.unit.is_empty() { String::new() } else { format!(", {}", self.unit) }
    }

    /// An acceptance of a size without its unit, for a column that has it: "+/-0.36".
    pub(super) fn bare_limit(&self, size: f64) -> String {
        self.limit(size).replace(&format!(" {}", self.unit), "")
    }

    /// A deviation in the run's unit.
    pub(super) fn in_unit(&self, si: f64) -> f64 {
        // Conversion to SI and back leaves rounding errors: 0.36 mm stays 0.36.
        format!("{:.11e}", si / self.one).parse().unwrap_or(si / self.one)
    }

    /// A deviation that was stated, in the run's unit.
    pub(super) fn stated(&self, si: f64) -> String {
        self.size(self.in_unit(si))
    }

    /// A number of the run's unit, behind it.
    pub(super) fn size(&self, number: f64) -> String {
        Amount { number, unit: self.unit.to_owned() }.to_string()
    }

    /// A computed deviation, three digits, without its unit.
    pub(super) fn bare(&self, si: f64) -> String {
        match significant(si / self.one, 3) {
            text if text.contains('e') => "0".to_owned(),
            text => text,
        }
    }

    /// A window in words: "within +/-0.36 mm", "up to 0.3 mm".
    pub(super) fn window(&self, of: Window) -> String {
        match (of.low.is_finite(), of.high.is_finite()) {
            (true, true) if of.low == -of.high => format!("within +/-{}", self.stated(of.high)),
            (true, true) => format!("from {} to {}", self.stated(of.low), self.stated(of.high)),
            (false, true) => format!("up to {}", self.stated(of.high)),
            (true, false) => format!("from {} on", self.stated(of.low)),
            (false, false) => "without a limit".to_owned(),
        }
    }

    /// An acceptance of a size, short: "+/-0.36 mm", "up to 0.3 mm".
    pub(super) fn limit(&self, size: f64) -> String {
        let window = self.window(self.form.window(size, self.one));
        window.strip_prefix("within ").map_or(window.clone(), str::to_owned)
    }

    /// The acceptance of an inspection, short.
    pub(super) fn acceptance(&self, parts: &Parts) -> String {
        let window = parts.inspected.inspection.accept.map_or(ABSENT.to_owned(), |of| self.window(of));
        window.strip_prefix("within ").map_or(window.clone(), str::to_owned)
    }

    /// Warnings about the inspection itself.
    pub(super) fn cautions(&self) -> impl Iterator<Item = &'a Diagnostic> + use<'a> {
        let span = self.place.clone();
        let inside = move |of: &&Diagnostic| match (&of.span, &span) {
            (Some(at), Some(span)) => span.start <= at.start && at.end <= span.end,
            _ => false,
        };
        self.warnings.iter().filter(inside)
    }

    /// The line that puts the inspection into the study.
    pub(super) fn line(&self, inspection: &Inspection) -> String {
        format!("{} = {{ {} }}", inspection::KEY, self.keys(inspection).join(", "))
    }

    /// The inspection as keys of the study.
    pub(super) fn keys(&self, inspection: &Inspection) -> Vec<String> {
        let quoted = |si: f64| format!("\"{}\"", self.stated(si));
        let window = |of: Window| match (of.low.is_finite(), of.high.is_finite()) {
            (true, true) if of.low == -of.high => quoted(of.high),
            (true, true) => format!("{{ from = {}, to = {} }}", quoted(of.low), quoted(of.high)),
            (true, false) => format!("{{ from = {} }}", quoted(of.low)),
            _ => format!("{{ to = {} }}", quoted(of.high)),
        };
        let mut keys = Vec::new();
        if let Some(conforming) = inspection.tolerance.filter(|of| Some(*of) != inspection.accept) {
            keys.push(format!("tolerance = {}", window(conforming)));
        }
        keys.extend(inspection.accept.map(|of| format!("accept = {}", window(of))));
        let gauge = inspection.gauge;
        let bias = (gauge.bias != 0.0).then(|| format!("bias = {}, ", quoted(gauge.bias)));
        if !gauge.is_exact() || gauge.bias != 0.0 {
            keys.push(format!("gauge = {{ {}sd = {} }}", bias.unwrap_or_default(), quoted(gauge.sd)));
        }
        if let Some(sample) = inspection.sampling {
            let lot = format!("lot = {}, ", sample.lot);
            keys.push(format!("sample = {{ {lot}parts = {}, allowed = {} }}", sample.parts, sample.allowed));
        }
        if inspection.seconds > 0.0 {
            keys.push(format!("time = \"{} s\"", significant(inspection.seconds, 6)));
        }
        keys
    }
}

/// A setting by its change: "as stated", "exact gauge", the name of an offer.
pub(super) fn setting(of: &Setting) -> String {
    match (of.gauge, &of.supplier) {
        (GaugeAs::Stated, None) => "as stated".to_owned(),
        (GaugeAs::Stated, Some(name)) => plain(name),
        (GaugeAs::Exact, _) => "exact gauge".to_owned(),
        (GaugeAs::TwiceAsBad, _) => "gauge twice as bad".to_owned(),
    }
}

/// A computed share, in percent: "11 %", "0.0123 %".
pub(super) fn percent_of(share: f64) -> String {
    /// The accuracy of the integrals.
    const RIGHT_TO: f64 = 1e-6;
    match share {
        share if share.abs() <= 1e-12 => "0 %".to_owned(),
        share if share < RIGHT_TO => "under 0.0001 %".to_owned(),
        share if share < 1.0 && share > 1.0 - RIGHT_TO => "over 99.9999 %".to_owned(),
        share => format!("{} %", significant(100.0 * share, 3)),
    }
}

/// The answer for a gauge, if any.
pub(super) fn answer_of<'a>(run: &InspectRun<'a>, gauge: GaugeAs) -> Option<&'a SettingResult> {
    let is_it = |of: &&SettingResult| of.setting.supplier.is_none() && of.setting.gauge == gauge;
    run.answers.iter().find(is_it)
}

/// The answers for other suppliers.
pub(super) fn offers<'a>(run: &InspectRun<'a>) -> impl Iterator<Item = &'a SettingResult> + use<'a> {
    run.answers.iter().filter(|of| of.setting.supplier.is_some())
}
