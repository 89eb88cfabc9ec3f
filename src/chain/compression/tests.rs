use super::*;
use crate::chain::Block;
use crate::io::{Document, Findings, Key, SourceText};
use crate::math::scalar;
use crate::random::{Grouping, Sources};

const AT: Conditions = Conditions {
    frequency: 10e9,
    command_frequency: 10e9,
    temperature: 298.15,
    reference_temperature: 298.15,
};

/// A chain of the blocks of a text, without places in it, driven with a power.
fn chain(text: &str, drive: f64) -> Chain {
    let document = Document::parse(SourceText { name: "chain.toml".into(), text: text.into() });
    let findings = Findings::default();
    let root = document.root(&findings);
    let tables = root.tables("block");
    let named = tables.iter().map(|table| Named {
        name: table.read(&Key::text("name", "...", "")),
        block: Block::read(table).unwrap(),
        correlations: Vec::new(),
    });
    let blocks: Vec<Named<Tolerance>> = named.collect();
    let plane = blocks.len();
    let shifter = blocks.iter().position(|named| named.block.stepped_in_phase().is_some()).unwrap();
    let chain = Chain::new(blocks, plane, shifter, None).unwrap().driven_with(drive);
    chain.bind(&mut Sources::new(1, Grouping::of_chips(1, 1)))
}

fn amplifier(rest: &str) -> String {
    format!("[[block]]\nname = \"amplifier\"\nkind = \"amplifier\"\ngain = \"20 dB\"\n{rest}\n")
}

const SHIFTER: &str = "[[block]]\nname = \"shifter\"\nkind = \"phase_shifter\"\nbits = 4\nloss = \"6 dB\"\n";

/// What is added at an input over what is added far below: dB, deg.
fn law(rest: &str, input_dbm: f32) -> (f64, f64) {
    // Driven so weakly that the drawing compresses by nothing.
    let chain = chain(&(amplifier(rest) + SHIFTER), -120.0);
    let draws = Sources::new(1, Grouping::of_chips(1, 1)).buffer::<1>();
    let (_, compression) = chain.compressing(&AT).next().unwrap();
    let (mut gain, mut phase) = ([0.0], [0.0]);
    compression.add(&draws, 0, &[input_dbm], &mut gain, &mut phase);
    (f64::from(gain[0]) / NEPERS_A_DB, f64::from(phase[0]).to_degrees())
}

#[test]
fn where_the_small_signal_would_saturate_it_compresses_by_3_db_over_p() {
    // 3.0103/p dB, and a back-off of 1.1646 dB from there to 1 dB of compression at p = 2: Rapp 1991 (from memory),
    // last digits. The output saturates at 23 dBm, so at an input of 3 dBm.
    let at = |p: u32, input| {
        law(&format!("compression = {{ saturation = \"23 dBm\", smoothness = {p} }}"), input).0
    };
    assert!((at(2, 3.0) + 1.5051).abs() < 6e-5, "{}", at(2, 3.0));
    assert!((at(3, 3.0) + 1.0034).abs() < 6e-5, "{}", at(3, 3.0));
    assert!((at(2, 3.0 - 1.1646) + 1.0).abs() < 6e-5, "{}", at(2, 3.0 - 1.1646));
    assert!((at(3, 3.0 - 1.1646) + 1.0).abs() > 0.1, "another smoothness misses");
    // Far above, the output stays at saturation, whatever the smoothness.
    for p in [1, 2, 20] {
        assert!((at(p, 43.0) + 40.0).abs() < 1e-3, "{p}: {}", at(p, 43.0));
    }
    assert_eq!(at(20, -60.0), 0.0);
}

#[test]
fn the_closed_form_holds_from_linear_to_saturated() {
    let mut most = 0.0f64;
    for step in -60..=60 {
        let input = 0.5 * f64::from(step);
        let (gain, phase) = law(
            "compression = { saturation = \"23 dBm\", smoothness = 1.6, phase = \"12 deg\", knee = \"-2 dB\", exponent = 3 }",
            input as f32,
        );
        let r = scalar::exp10((input + 20.0 - 23.0) / 20.0);
        let x = scalar::pow(r / scalar::exp10(-2.0 / 20.0), 3.0);
        let expected = -20.0 / 3.2 * scalar::log10(1.0 + scalar::pow(r, 3.2));
        most = most.max((gain - expected).abs()).max((phase - 12.0 * x / (1.0 + x)).abs());
    }
    assert!(most < 2e-5, "{most}");
}

#[test]
fn half_of_the_phase_is_reached_at_the_knee() {
    let text = "compression = { saturation = \"23 dBm\", phase = \"12 deg\", knee = \"-3 dB\" }";
    assert!((law(text, 0.0).1 - 6.0).abs() < 1e-5);
    assert!((law(text, 3.0).1 - 6.0).abs() > 1.0);
    assert!((law(text, 60.0).1 - 12.0).abs() < 1e-4);
}

#[test]
fn nominal_drive_adds_exactly_nothing() {
    // In the middle of the bend, off the command frequency; a second amplifier behind the first.
    let text = "slope = \"0.3 dB/GHz\"\ncompression = { saturation = \"23 dBm\", phase = \"9 deg\" }";
    let chain = chain(&(amplifier(text) + SHIFTER + &amplifier(text)), 2.7);
    let draws = Sources::new(1, Grouping::of_chips(1, 1)).buffer::<16>();
    let at = Conditions { frequency: 10.7e9, ..AT };
    let places: Vec<usize> = chain.compressing(&at).map(|(place, _)| place).collect();
    assert_eq!(places, [0, 2]);
    for (_, compression) in chain.compressing(&at) {
        let (mut gain, mut phase) = ([0.0; 16], [0.0; 16]);
        compression.add(&draws, 0, &[compression.nominal_input_dbm(); 16], &mut gain, &mut phase);
        assert_eq!((gain, phase), ([0.0; 16], [0.0; 16]));
        compression.add(&draws, 0, &[compression.nominal_input_dbm() + 1.0; 16], &mut gain, &mut phase);
        assert!(gain[0] < -0.01 && phase[0] > 0.001);
    }
}

#[test]
fn levels_add_up_along_the_chain() {
    let text = "compression = { saturation = \"23 dBm\" }";
    let cable = "[[block]]\nname = \"cable\"\nkind = \"cable\"\nlength = \"2 m\"\nvelocity_factor = 0.7\n\
                 attenuation = \"1 dB/m\"\ndielectric_attenuation = \"0.5 dB/m\"\n";
    let chain = chain(&(cable.to_owned() + &amplifier(text) + SHIFTER + &amplifier(text)), 6.0);
    let input = |block| chain.nominal_input_dbm(block, &AT).unwrap();
    assert_eq!(input(0), 6.0);
    assert!((input(1) - 3.0).abs() < 1e-12);
    // The first amplifier stands where its small signal would saturate it: 1.5051 dB down; 6 dB in the shifter.
    assert!((input(3) - (3.0 + 20.0 - 1.505_15 - 6.0)).abs() < 1e-4, "{}", input(3));
    // At a quarter of the frequency: half of the conductors' loss, a quarter of the dielectric's.
    let low = Conditions { frequency: 2.5e9, ..AT };
    assert!((chain.nominal_input_dbm(1, &low).unwrap() - (6.0 - 1.0 - 0.25)).abs() < 1e-12);
}

#[test]
fn what_varies_in_the_amplifier_moves_its_compression() {
    // A hot amplifier has less gain and so compresses less.
    let text = "gain_temperature = \"-0.1 dB/K\"\ncompression = { saturation = \"23 dBm\" }";
    let chain = chain(&(amplifier(text) + SHIFTER), 3.0);
    let draws = Sources::new(1, Grouping::of_chips(1, 1)).buffer::<1>();
    let hot = Conditions { temperature: AT.temperature + 20.0, ..AT };
    let (_, compression) = chain.compressing(&hot).next().unwrap();
    let (mut gain, mut phase) = ([0.0], [0.0]);
    compression.add(&draws, 0, &[3.0], &mut gain, &mut phase);
    // 2 dB below: -2.5 log10(1 + 10^(-0.4)) dB after 1.5051 dB at nominal.
    let expected = 1.505_15 - 5.0 * scalar::log10(1.0 + scalar::exp10(-0.4));
    assert!((f64::from(gain[0]) / NEPERS_A_DB - expected).abs() < 1e-4, "{gain:?}");
}
