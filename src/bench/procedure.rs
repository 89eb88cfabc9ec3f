//! A calibration plan: level, then align, then keep the offsets.

use crate::bench::{Align, Clock, CodeTable, Desk, Level, Offsets, SweepScratch};
use crate::io::{Span, Table};

/// One `[[calibration]]` of a study.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibration {
    /// Name, unique in the study.
    pub name: String,
    /// Its place in the study file.
    pub span: Span,
    /// Levelling, if any.
    pub level: Option<Level>,
    /// Phasing, if any.
    pub align: Option<Align>,
    /// How the phases are kept.
    pub offsets: Offsets,
    /// Readings averaged for each one used, where the plan differs from the receiver.
    pub averages: Option<u32>,
}

/// What a calibration has to know of the hardware.
#[derive(Clone, Debug, PartialEq)]
pub struct Hardware {
    /// Steps of the attenuator: dB each, and how many states; `None` without one.
    pub attenuator: Option<(f64, usize)>,
    /// Level each channel has by design, dB over a nominal channel, `[channel]`.
    pub nominal_db: Vec<f64>,
    /// Phase of the coupler's stepped arm over the reference arm, as certified, rad.
    pub known_imbalance: f64,
}

impl Calibration {
    /// Reads one `[[calibration]]` for a unit of `channels` and a shifter of `states`.
    pub fn read(table: &Table, channels: usize, states: usize) -> Calibration {
        let level = Level::read(table);
        let align = Align::read(table, channels, states);
        let averages = table.optional_count("averages", 1..=super::receiver::MOST_AVERAGES);
        Calibration {
            name: table.text("name"),
            span: table.span_of("name"),
            level,
            align,
            offsets: table.choice_or("offsets", "way to keep offsets", Offsets::KINDS, Offsets::Codes),
            averages: averages.map(|n| n as u32),
        }
    }

    /// True when the plan leaves the unit as it comes from assembly.
    pub fn is_none(&self) -> bool {
        self.level.is_none() && self.align.is_none()
    }

    /// Calibrates W units on a desk.
    pub fn run<const W: usize>(
        &self,
        desk: &mut impl Desk<W>,
        hardware: &Hardware,
        clock: &Clock,
        averages: u32,
        scratch: &mut SweepScratch<W>,
        table: &mut CodeTable<W>,
    ) {
        table.clear();
        table.offsets = self.offsets;
        if self.is_none() {
            return;
        }
        let channels = table.phase.len() as u32;
        if let (Some(level), Some((step_db, states))) = (&self.level, hardware.attenuator) {
            // The phases are not found yet, so their room holds the readings meanwhile.
            let readings = &mut table.phase;
            desk.read_alone(readings);
            for (reading, nominal) in readings.iter_mut().zip(&hardware.nominal_db) {
                reading.iter_mut().for_each(|r| *r -= *nominal as f32);
            }
            level.codes(readings, step_db, states, &mut table.attenuator);
            table.phase.fill([0.0; W]);
            table.work.reconnections += channels;
            table.work.readings.iter_mut().for_each(|n| *n += channels);
            table.work.settings.iter_mut().for_each(|n| *n += channels);
        }
        desk.set_attenuators(&table.attenuator);
        if let Some(align) = &self.align {
            align.run(desk, scratch, &mut table.work, &mut table.phase);
            for (channel, phase) in table.phase.iter_mut().enumerate() {
                if channel != align.reference {
                    phase.iter_mut().for_each(|p| *p += hardware.known_imbalance as f32);
                }
            }
        }
        table.seconds = clock.seconds(&table.work, averages);
    }
}
