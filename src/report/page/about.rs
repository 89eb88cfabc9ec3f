//! The parts of every page besides its charts: provenance and cautions.

use crate::model::Model;
use crate::report::PROGRAM;
use crate::report::number::{confidence, duration};
use crate::report::page::{Page, Section};

/// Facts about a page that only the command line knows.
#[derive(Clone, Debug)]
pub(crate) struct Origin {
    /// The command as it was typed.
    pub command: String,
    /// The studies as they were run, with changed values, each with its file's name.
    pub studies: Vec<(String, String)>,
}

/// The cautions at the end of every page.
const CAUTIONS: [&str; 3] = [
    "A prediction is no measurement. The yield is as good as the tolerances that went in; verify on hardware.",
    "Radiated power, exposure limits and licences are a matter of local codes and of licensed practice. Nothing here says that a \
     transmitter may be switched on, or how near one may stand to it.",
    "Signals combined in phase add up to more than one channel's power: know what a receiver and a coupler can take before channels \
     are joined on a real bench.",
];

/// The parts that differ from page to page, besides the sections.
#[derive(Clone, Debug)]
pub(super) struct About<'a> {
    /// The study.
    pub model: &'a Model,
    /// A sentence on the run.
    pub lead: String,
    /// The answer.
    pub verdict: String,
    /// "20000 units"
    pub units: String,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Time it took, s.
    pub seconds: f64,
    /// Warnings about the studies.
    pub warnings: usize,
}

impl About<'_> {
    /// The page with its sections.
    pub(super) fn page(self, sections: impl IntoIterator<Item = Option<Section>>, origin: &Origin) -> Page {
        let mut provenance = vec![
            ("program", PROGRAM.to_owned()),
            ("command", origin.command.clone()),
            ("study", self.model.study_hash.clone()),
            ("seed", self.model.seed.to_string()),
            ("units", self.units),
            ("confidence", confidence(self.confidence)),
            ("took", duration(self.seconds)),
        ];
        if self.warnings > 0 {
            provenance.push(("warnings", format!("{}; beamyield check shows them", self.warnings)));
        }
        Page {
            title: self.model.title.clone(),
            lead: self.lead,
            verdict: self.verdict,
            sections: sections.into_iter().flatten().collect(),
            studies: origin.studies.clone(),
            provenance: provenance.into_iter().map(|(name, value)| (name.to_owned(), value)).collect(),
            cautions: CAUTIONS.map(str::to_owned).to_vec(),
        }
    }
}
