//! Studies in few words, and running them.

use crate::inside::support;
use beamyield::engine::{self, Control};
use beamyield::figure::Figure;
use beamyield::math::{PI, TAU, scalar};
use beamyield::model::Model;
use beamyield::stats::Moments;
use std::fmt::Write;
use std::sync::atomic::AtomicBool;

/// A study. Everything that a case leaves out is ideal: 16 elements in a line, half a wavelength apart, one beam at
/// broadside, an amplifier and a phase shifter of 12 bits (which command broadside without rounding), no
/// calibration.
#[derive(Clone, Debug)]
pub(crate) struct Case {
    pub seed: u64,
    pub trials: u64,
    pub figures: &'static [Figure],
    pub frequencies: String,
    /// Lines of `[array]`.
    pub array: String,
    pub beams: Vec<Beam>,
    /// Lines of the amplifier beside its gain.
    pub amplifier: String,
    /// The amplifier's gain.
    pub gain: String,
    pub bits: u32,
    /// Further blocks.
    pub blocks: String,
    /// Lines of `[bench]`.
    pub bench: String,
    /// Lines of the one `[[calibration]]`.
    pub calibration: String,
}

/// A beam and a direction where the level is looked at, as direction cosines.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Beam {
    pub u: f64,
    pub null: Option<f64>,
}

impl Default for Case {
    fn default() -> Case {
        Case {
            seed: 1,
            trials: 1,
            figures: &[Figure::EirpChange],
            frequencies: "\"28 GHz\"".into(),
            array: line(16),
            beams: vec![Beam::default()],
            amplifier: String::new(),
            gain: "\"0 dB\"".into(),
            bits: 12,
            blocks: String::new(),
            bench: String::new(),
            calibration: String::new(),
        }
    }
}

impl Case {
    /// The study compiled.
    pub(crate) fn model(&self) -> Model {
        support::model(&self.text())
    }

    /// The study as written.
    pub(crate) fn text(&self) -> String {
        let figures: Vec<String> = self.figures.iter().map(|figure| format!("{:?}", figure.name())).collect();
        let mut text = format!(
            "title = \"check\"\nseed = {}\ntrials = {}\nfrequencies = [{}]\ncommand_frequency = \"28 GHz\"\n\
             figures = [{}]\n[array]\n{}\n",
            self.seed,
            self.trials,
            self.frequencies,
            figures.join(", "),
            self.array
        );
        for (number, Beam { u, null }) in self.beams.iter().enumerate() {
            let angle = |u: f64| format!("\"{:.13} deg\"", scalar::asin(u).to_degrees());
            let _ = write!(text, "[[beam]]\nname = \"{number}\"\ntheta = {}\n", angle(*u));
            if let Some(null) = null {
                let _ = writeln!(text, "null_at = {}", angle(*null));
            }
        }
        let Case { amplifier, gain, bits, blocks, bench, calibration, .. } = self;
        let _ = write!(
            text,
            "[[block]]\nname = \"amplifier\"\nkind = \"amplifier\"\ngain = {gain}\n{amplifier}\n\
             [[block]]\nname = \"shifter\"\nkind = \"phase_shifter\"\nbits = {bits}\n{blocks}\n[bench]\n{bench}\n\
             [[calibration]]\nname = \"it\"\n{calibration}\n"
        );
        text
    }

    /// Runs the study; moments over its units of a number made from the columns (for each figure, every
    /// beam).
    pub(crate) fn average(&self, number: impl Fn(&[f64]) -> f64 + Sync) -> Moments {
        let mut moments = Moments::default();
        each_unit(&self.model(), |values| moments.push(number(values)));
        moments
    }

    /// Mean over the units and the beams of the squares of the one figure.
    pub(crate) fn mean_square(&self) -> Moments {
        self.average(|values| mean(values.iter().map(|value| value * value)))
    }
}

/// Runs a model and returns the columns of each unit, in order, after the first calibration plan.
pub(crate) fn each_unit(model: &Model, mut take: impl FnMut(&[f64]) + Send) {
    let control = Control { threads: 2, interrupt: &AtomicBool::new(false) };
    let watch = |outcomes: &engine::Outcomes| {
        let of = &outcomes.calibrations[0];
        for unit in 0..outcomes.trials as usize {
            take(&of.row(unit).collect::<Vec<f64>>());
        }
        Ok(())
    };
    engine::run(model, control, watch).expect("the run ends well");
}

/// Lines of `[array]` for a uniform line at half a wavelength.
pub(crate) fn line(count: usize) -> String {
    format!("layout = {{ kind = \"linear\", count = {count}, spacing = \"0.5 wavelength\" }}")
}

/// The same with a taper: the rest of its table.
pub(crate) fn tapered(count: usize, taper: &str) -> String {
    format!("{}\ntaper = {{ {taper} }}", line(count))
}

/// A normal spread.
pub(crate) fn normal(sd: f64, unit: &str) -> String {
    format!("{{ nominal = \"0 {unit}\", normal = {{ sd = \"{sd:.15} {unit}\" }} }}")
}

/// Insertion phases over the whole turn, a calibration that finds them exactly, and offsets kept as stated:
/// the rounding of each channel is then independent and uniform.
pub(crate) fn any_phase(case: Case, offsets: &str) -> Case {
    Case {
        amplifier: "phase = { nominal = \"0 deg\", uniform = { half_width = \"180 deg\" } }".into(),
        calibration: format!("align = {{ method = \"fit\" }}\noffsets = \"{offsets}\""),
        ..case
    }
}

/// Beams near broadside that command the end element of a line (half a wavelength) to phases spread evenly
/// over one code.
///
/// The reference of a star has no phase to be found, so its rounding is that of its command alone; over these
/// beams it is uniform like that of the others.
pub(crate) fn beams_over_one_code(count: usize, bits: u32, beams: usize) -> Vec<Beam> {
    let code = TAU / f64::from(1u32 << bits);
    let end = PI * (count as f64 - 1.0) / 2.0;
    let share = |i: usize| (i as f64 + 0.5) / beams as f64 - 0.5;
    (0..beams).map(|i| Beam { u: share(i) * code / end, null: None }).collect()
}

/// Error-free field of a line toward a direction cosine, the beam at broadside.
pub(crate) fn error_free_field(model: &Model, u: f64) -> f64 {
    let k = model.points[0].wavenumber;
    model.array.x.iter().zip(&model.array.amplitude).map(|(x, a)| a * scalar::cos(k * x * u)).sum()
}

/// Direction cosines, ascending from broadside, of the nulls of a line's error-free pattern.
pub(crate) fn nulls(model: &Model) -> Vec<f64> {
    const STEP: f64 = 1e-3;
    let field = |u: f64| error_free_field(model, u);
    let changes = (1..1000).map(|i| f64::from(i) * STEP).filter(|u| field(*u) * field(u - STEP) < 0.0);
    let bisect = |u: f64| {
        let (mut low, mut high) = (u - STEP, u);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if field(middle) * field(low) > 0.0 { low = middle } else { high = middle }
        }
        high
    };
    changes.map(bisect).collect()
}

/// The mean of some numbers.
pub(crate) fn mean(numbers: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = numbers.len() as f64;
    numbers.sum::<f64>() / count
}
