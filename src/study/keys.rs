//! The keys of a study.

use crate::array::{ELEMENT, LAYOUT, TAPER};
use crate::bench;
use crate::chain::Block;
use crate::figure::Figure;
use crate::io::{
    Accepts, Check, Count, Dimension, Key, List, Nested, Optional, Or, Quantity, Special, Text, keys,
};
use crate::random::{GROUPS, LOT};
use crate::study::beam::BEAM;
use crate::study::cost::COST;
use crate::study::dead::DEAD_CHANNEL;
use crate::study::limit::LIMITS;
use crate::study::offer::OFFERS;
use crate::study::temperature::{AT_BENCH, IN_USE, REFERENCE_TEMPERATURE};
use crate::study::trials::TRIALS;

/// From where a wavelength is a length on Earth up to where an array of phase shifters ends.
const FREQUENCY: Check = Check::Within(1.0, 1e13);

keys! {
    pub(super) STUDY: "A phased array, its hardware with tolerances, its calibration bench and its spec, in TOML.";
    pub(super) TITLE: Text = Key::text("title", "first article", "What the study is called");
    pub(super) SEED: Count =
        Key::count("seed", 0..=i64::MAX as u64, "1", "Seed of all draws: the same seed gives the same units");
    TRIAL: Special = TRIALS;
    pub(super) CONFIDENCE: Or<Quantity, f64> =
        Key::number("confidence", Check::Within(0.5, 0.9999), "0.95",
            "Confidence of every interval; 0.95 where it is left out").or(0.95);
    pub(super) FREQUENCIES: List<Quantity> =
        Key::quantity("frequencies", Dimension::Frequency, FREQUENCY, "[\"9.5 GHz\", \"10 GHz\"]", "Frequencies in use").list();
    pub(super) COMMAND_FREQUENCY: Optional<Quantity> =
        Key::quantity("command_frequency", Dimension::Frequency, FREQUENCY, "10 GHz",
            "Frequency that beams are commanded for and units are calibrated at; the middle one in use where it is left out").optional();
    TEMPERATURES: Optional<List<Quantity>> = IN_USE;
    REFERENCE: Or<Quantity, f64> = REFERENCE_TEMPERATURE;
    pub(super) FIGURES: Special =
        Key::special("figures", || Accepts::List(Box::new(Accepts::Word(Figure::ALL.iter().map(|figure| figure.name()).collect()))),
            "[\"array_gain_loss\"]",
            "Figures of merit to report, beside those with a limit; all but the pointing shifts where they are left out");
    LOTS: Optional<Count> = LOT;
    pub(super) ARRAY: Nested =
        Key::table("array", &OF_ARRAY, "{ layout = { kind = \"linear\", count = 16, spacing = \"5.77 mm\" } }").needed();
    pub(super) BEAMS: Nested = Key::tables("beam", &BEAM, "[{ name = \"ahead\", theta = \"10 deg\" }]").needed();
    pub(super) BLOCKS: Nested =
        Key::tables("block", &Block::KEYS, "[{ name = \"shifter\", kind = \"phase_shifter\", bits = 6 }]").needed();
    pub(super) BENCH: Nested = Key::table("bench", &OF_BENCH, "{ receiver = { noise = \"0.05 dB\" } }");
    pub(super) CALIBRATIONS: Nested =
        Key::tables("calibration", &bench::CALIBRATION, "[{ name = \"thorough\", align = { method = \"fit\" } }]").needed();
    LIMIT: Nested = LIMITS;
    PRICES: Nested = COST;
    OFFER: Nested = OFFERS;
}

keys! {
    OF_ARRAY: "The elements: where they stand, how they are fed, how they are grouped", with GROUPS;
    LAYOUTS: Nested = LAYOUT;
    TAPERS: Nested = TAPER;
    PATTERN: Nested = ELEMENT;
    DEAD: Nested = DEAD_CHANNEL;
    pub(super) DRIVE: Optional<Quantity> =
        Key::quantity("drive", Dimension::Power, Check::Within(-150.0, 150.0), "-12 dBm",
            "Power at the feed of a channel; required where an amplifier compresses").optional();
}

keys! {
    OF_BENCH: "The simulated calibration bench; ideal where it is left out", with bench::FIXTURE;
    TEMPERATURE: Optional<Quantity> = AT_BENCH;
    DEAD_BELOW: Or<Quantity, f64> = bench::DEAD_BELOW;
    pub(super) REFERENCE_PLANE: Nested = Key::table("reference_plane", &PLANE, "{ after = \"attenuator\" }");
    RECEIVER: Nested = bench::RECEIVER;
    TIME: Nested = bench::TIME;
}

keys! {
    PLANE: "Where the test cable is connected; behind the last block where it is left out";
    pub(super) AFTER: Text = Key::text("after", "attenuator", "The last block that the bench sees");
}
