//! Measured states, and the two ways to take them: one state of many channels, all states of one.

use super::*;
use crate::chain::{Attenuator, PhaseShifter, Roles};
use crate::io::{Document, SourceText, render};
use crate::random::Grouping;

const LANES: usize = 4;
const GHZ: f64 = 1e9;

/// A text read as a block in a folder with some files; the block, unless something is wrong, and what is said.
fn read<T>(keys: &str, files: &[(&str, &str)], read: impl FnOnce(&Table) -> T) -> (Option<T>, String) {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in files {
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    let name = folder.path().join("study.toml").display().to_string();
    let document = Document::parse(SourceText { name: name.into(), text: keys.into() });
    let findings = Findings::default();
    let block = read(&document.root(&findings));
    let is_sound = !findings.has_errors();
    let said = render(&document.source, &findings.into_vec(), false);
    (is_sound.then_some(block), said.replace(&format!("{}/", folder.path().display()), ""))
}

/// A shifter prepared for some frequencies.
fn shifter(
    keys: &str,
    files: &[(&str, &str)],
    frequencies: &[f64],
) -> (Option<PhaseShifter<Tolerance>>, String) {
    read(keys, files, |table| {
        let mut shifter = PhaseShifter::read(table);
        shifter.prepare(frequencies, table.findings());
        shifter
    })
}

fn sound(keys: &str, files: &[(&str, &str)], frequencies: &[f64]) -> PhaseShifter<Tolerance> {
    let (shifter, said) = shifter(keys, files, frequencies);
    shifter.unwrap_or_else(|| panic!("{said}"))
}

fn at(frequency: f64) -> Conditions {
    Conditions { frequency, command_frequency: 10.0 * GHZ, temperature: 300.0, reference_temperature: 300.0 }
}

/// A block that is bound, and draws of a few channels for it.
fn drawn<B>(bind: impl FnOnce(&mut Sources) -> B) -> (B, Sources, Draws<LANES>) {
    let mut sources = Sources::new(11, Grouping { channels: 8, chip: 2, board: None, lot: None });
    let block = bind(&mut sources);
    let mut draws = sources.buffer();
    sources.draw(0, &mut draws);
    (block, sources, draws)
}

fn bound(shifter: &PhaseShifter<Tolerance>) -> (PhaseShifter, Sources, Draws<LANES>) {
    drawn(|sources| shifter.map(&mut |of| of.bind("it", sources)))
}

/// How far the states of channel 5 are off nominal in lane 2: dB and deg, `[code]`.
fn off(shifter: &PhaseShifter, draws: &Draws<LANES>, frequency: f64) -> Vec<[f64; 2]> {
    let off = |code| {
        let (mut gain, mut phase) = ([[0.0; LANES]], [[0.0; LANES]]);
        shifter.add_states(&at(frequency), draws, 5, &[[code; LANES]], &mut gain, &mut phase);
        [f64::from(gain[0][2]) / NEPERS_A_DB, f64::from(phase[0][2]).to_degrees()]
    };
    (0..shifter.states() as Code).map(off).collect()
}

fn near(found: &[[f64; 2]], expected: &[[f64; 2]]) -> bool {
    let same = |(a, b): (&[f64; 2], &[f64; 2])| (a[0] - b[0]).abs() < 1e-5 && (a[1] - b[1]).abs() < 1e-4;
    found.len() == expected.len() && found.iter().zip(expected).all(same)
}

/// Two bits at two frequencies, the phase of state 0 beyond half a turn in between.
const CSV: &str = "frequency_ghz,code,gain_db,phase_deg\n\
    12,0,-8,-170\n12,1,-8.1,-75\n12,2,-8.4,12\n12,3,-7.8,100\n\
    10,3,-7.2,78\n10,2,-6.8,-10\n10,1,-7.5,-97\n10,0,-7,170\n";

#[test]
fn a_table_tells_how_far_each_state_is_off_nominal() {
    let files = [("parts.csv", CSV)];
    let frequencies = [10.0, 12.0, 11.0, 11.5].map(|ghz| ghz * GHZ);
    let shifter = sound("bits = 2\nstates = { csv = \"parts.csv\" }", &files, &frequencies);
    let (shifter, _, draws) = bound(&shifter);
    // Own derivation, by hand: 3, 0 and -2 deg at 10 GHz, 5, 2 and 0 deg at 12 GHz.
    let low = [[0.0, 0.0], [-0.5, 3.0], [0.2, 0.0], [-0.2, -2.0]];
    let high = [[0.0, 0.0], [-0.1, 5.0], [-0.4, 2.0], [0.2, 0.0]];
    let between = |weight: f64| -> Vec<[f64; 2]> {
        let mix = |(a, b): (&[f64; 2], &[f64; 2])| [0, 1].map(|i| (1.0 - weight) * a[i] + weight * b[i]);
        low.iter().zip(&high).map(mix).collect()
    };
    for (frequency, weight) in frequencies.into_iter().zip([0.0, 1.0, 0.5, 0.75]) {
        let found = off(&shifter, &draws, frequency);
        assert!(near(&found, &between(weight)), "{frequency}: {found:?}");
    }
    // At another frequency it is another table.
    assert!(!near(&off(&shifter, &draws, frequencies[0]), &between(0.1)));
    let (gain_db, phase) = shifter.stepped.measured.as_ref().unwrap().rms();
    assert!(gain_db > 0.1 && phase > 0.01, "{gain_db} dB, {phase} rad");
}

#[test]
fn one_file_a_state_has_frequencies_of_its_own() {
    let file = |rows: &[(f64, f64, f64)]| {
        let row = |(ghz, db, deg): &(f64, f64, f64)| format!("{ghz} -20 0 {db} {deg} -50 0 -20 0\n");
        format!("# GHz S DB R 50\n{}", rows.iter().map(row).collect::<String>())
    };
    let (zero, one) = (file(&[(9.0, -6.0, 20.0), (11.0, -6.0, 0.0)]), file(&[(10.0, -6.4, -168.0)]));
    let files = [("s-00.s2p", zero.as_str()), ("s-01.s2p", one.as_str())];
    let keys = "bits = 1\nstates = { touchstone = \"s-{code:2}.s2p\" }";
    let (shifter, _, draws) = bound(&sound(keys, &files, &[10.0 * GHZ]));
    let found = off(&shifter, &draws, 10.0 * GHZ);
    assert!(near(&found, &[[0.0, 0.0], [-0.4, 2.0]]), "{found:?}");
}

#[test]
fn a_table_without_frequencies_holds_at_each() {
    let files = [("a.csv", "code,phase_deg,gain_db\n0,10,-1\n1,13,-1.75\n")];
    let keys = "bits = 1\nstep = \"0.5 dB\"\nstates = { csv = \"a.csv\" }";
    let (attenuator, said) = read(keys, &files, |table| {
        let mut attenuator = Attenuator::read(table);
        attenuator.prepare(&[1e9, 9e9], table.findings());
        attenuator
    });
    let attenuator = attenuator.unwrap_or_else(|| panic!("{said}"));
    let (attenuator, _, draws) = drawn(|sources| attenuator.map(&mut |of| of.bind("it", sources)));
    for hertz in [1e9, 9e9] {
        let (mut gain, mut phase) = ([[0.0; LANES]], [[0.0; LANES]]);
        attenuator.set(&at(hertz), &draws, 0, &[[0, 1, 0, 1]], &mut gain, &mut phase);
        let (db, deg) = (f64::from(gain[0][1]) / NEPERS_A_DB, f64::from(phase[0][1]).to_degrees());
        assert!((db + 0.75).abs() < 1e-5 && (deg - 3.0).abs() < 1e-5, "{db} dB, {deg} deg");
        assert_eq!((gain[0][0], phase[0][0]), (0.0, 0.0));
    }
}

/// Both ways to take states agree, for every way that states can be given.
#[test]
fn all_states_of_a_channel_are_its_states_one_by_one() {
    let files = [("parts.csv", CSV)];
    let frequency = 10.5 * GHZ;
    let table = "states = { csv = \"parts.csv\" }\n";
    let bit = "bit_phase_error = { normal = { sd = \"3 deg\" } }\nbit_gain_error = { nominal = \"0.1 dB\", normal = { sd = \"0.2 dB\" } }\n";
    let state = bit.replace("bit_", "state_");
    let sum =
        "vector_sum = { dac_bits = 6, i_gain_error = { normal = { sd = \"0.5 dB\" } }, q_offset = 0.02 }\n";
    let ways = [table, bit, &state, &format!("{table}{bit}"), &format!("{table}{state}"), sum];
    let stuck = ways.map(|keys| format!("{keys}stuck_bit = 0.5\n"));
    for keys in ways.into_iter().chain(stuck.iter().map(String::as_str)) {
        let (shifter, _, draws) = bound(&sound(&format!("bits = 2\n{keys}"), &files, &[frequency]));
        let mut states = shifter.room::<LANES>();
        for channel in [0, 5] {
            shifter.states_of(&at(frequency), &draws, channel, &mut states);
        }
        for (code, [db, degrees]) in off(&shifter, &draws, frequency).into_iter().enumerate() {
            let (high, low) = (states.high[code / states.low.len()], states.low[code % states.low.len()]);
            let state = high * low;
            let size = (NEPERS_A_DB * db).exp();
            let (sine, cosine) = (degrees.to_radians() + code as f64 * shifter.step()).sin_cos();
            let (re, im) = (f64::from(state.re.0[2]), f64::from(state.im.0[2]));
            let error = (re - size * cosine).hypot(im - size * sine);
            // Roundings of single precision.
            assert!(error < 2e-6, "{keys}, code {code}: {error}");
        }
    }
}

#[test]
fn spread_comes_on_top_of_what_was_measured() {
    let files = [("parts.csv", CSV)];
    let frequency = 10.0 * GHZ;
    let keys =
        "bits = 2\nstates = { csv = \"parts.csv\" }\nstate_phase_error = { normal = { sd = \"1 deg\" } }";
    let (shifter, sources, draws) = bound(&sound(keys, &files, &[frequency]));
    for (code, [_, degrees]) in off(&shifter, &draws, frequency).into_iter().enumerate() {
        let drawn = draws.deviation(&sources.list()[0], code, 5, 2).to_degrees();
        assert!((degrees - [0.0, 3.0, 0.0, -2.0][code] - drawn).abs() < 1e-4, "{code}: {degrees}, {drawn}");
        assert!(drawn != 0.0);
    }
}

#[test]
fn every_flaw_of_a_table_is_told_at_its_place() {
    let touchstone = "states = { touchstone = \"s{code}.s2p\" }";
    for (keys, csv, place, said) in [
        ("states = {}", "", "study.toml:2:10", "states from nowhere"),
        ("states = { csv = \"p.csv\", touchstone = \"x\" }", "", "study.toml:2:10", "from two places"),
        ("states = \"p.csv\"", "", "study.toml:2:10", "`states` takes a table"),
        ("states = { csv = \"q.csv\" }", "", "study.toml:2:18", "`q.csv`: the file does not exist"),
        ("states = { touchstone = \"s.s2p\" }", "", "study.toml:2:25", "no place for the code"),
        ("states = { touchstone = \"s{code:x}.s2p\" }", "", "study.toml:2:25", "no place for the code"),
        (touchstone, "", "study.toml:2:25", "`s0.s2p`: the file does not exist"),
        ("", "0,0,0\n1,180,0\n2,0,0\n", "p.csv:4:1", "there is no code 2"),
        ("", "0,0,0\n0.5,180,0\n", "p.csv:3:1", "there is no code 0.5"),
        ("", "0,0,0\n0,180,0\n", "p.csv:3:1", "code 0 stands twice"),
        ("", "0,0,0\n", "p.csv:2:1", "no row for code 1"),
        ("", "0,0,0\n1,180,120\n", "p.csv\n", "more than 100 dB off nominal"),
        ("", "0,0,x\n1,180,120\n", "p.csv:2:5", "`x` is no number"),
    ] {
        let keys =
            format!("bits = 1\n{}", if keys.is_empty() { "states = { csv = \"p.csv\" }" } else { keys });
        let (found, report) =
            shifter(&keys, &[("p.csv", &format!("code,phase_deg,gain_db\n{csv}"))], &[1e10]);
        assert!(found.is_none(), "{keys} {csv}");
        assert!(report.contains(said) && report.contains(&format!("--> {place}")), "{keys} {csv}: {report}");
    }
    let zero = "# GHz S MA R 50\n10 0 0 0 0 0 0 0 0\n";
    let (_, report) =
        shifter(&format!("bits = 1\n{touchstone}"), &[("s0.s2p", zero), ("s1.s2p", zero)], &[1e10]);
    assert!(report.contains("S21 is zero") && report.contains("--> s1.s2p"), "{report}");
    // A file of another part says nothing about the number of states; where that is unknown, nothing is read.
    let (_, report) = shifter(&format!("bits = 0\n{touchstone}"), &[], &[1e10]);
    assert!(report.contains("1 error in "), "{report}");
}

#[test]
fn nothing_is_extrapolated() {
    let keys = "bits = 2\nstates = { csv = \"parts.csv\" }";
    let files = [("parts.csv", CSV)];
    for (ghz, words) in [(9.9, "9.9 GHz is in use"), (12.1, "12.1 GHz is in use")] {
        let (found, report) = shifter(keys, &files, &[10.0 * GHZ, ghz * GHZ]);
        assert!(found.is_none());
        for words in [words, "measured from 10 GHz to 12 GHz", "--> parts.csv\n", "1 error in "] {
            assert!(report.contains(words), "{words}: {report}");
        }
    }
    // Rounded differently, it is the same frequency.
    assert!(shifter(keys, &files, &[12.0 * GHZ * (1.0 + 1e-12)]).0.is_some());
    let one = CSV.lines().filter(|line| !line.starts_with("10,")).map(|line| format!("{line}\n"));
    let (found, report) = shifter(keys, &[("parts.csv", &one.collect::<String>())], &[11.9 * GHZ]);
    assert!(found.is_none() && report.contains("from 12 GHz to 12 GHz"), "{report}");
}

#[test]
fn a_stuck_bit_forces_the_code() {
    for (keys, stuck_at) in [("stuck_bit = 1.0\n", 1.0f64), ("stuck_bit = 0.3\n", 0.3)] {
        let shifter = sound(
            &format!("bits = 3\n{keys}state_gain_error = {{ normal = {{ sd = \"1 dB\" }} }}"),
            &[],
            &[],
        );
        let (shifter, sources, draws) = bound(&shifter);
        let [_, stuck] = sources.list() else { panic!("two sources") };
        assert_eq!((stuck.name.as_str(), stuck.slots, stuck.groups), ("it.stuck_bit", 3, 8));
        let (mut faults, mut sound) = (0, 0);
        for channel in 0..8 {
            for code in 0..8 {
                let (mut gain, mut phase) = ([[0.0; LANES]], [[0.0; LANES]]);
                shifter.add_states(&at(GHZ), &draws, channel, &[[code; LANES]], &mut gain, &mut phase);
                for l in 0..LANES {
                    let taken =
                        (0..3).fold(code, |code, bit| match draws.deviation(stuck, bit, channel, l) {
                            1.0 => code | 1 << bit,
                            -1.0 => code & !(1 << bit),
                            _ => code,
                        });
                    let away = (f64::from(taken) - f64::from(code)) * shifter.step();
                    assert!((f64::from(phase[0][l]) - away).abs() < 1e-6, "channel {channel}, code {code}");
                    // The error is that of the state that is taken.
                    let db = draws.deviation(&sources.list()[0], taken as usize, channel, l);
                    assert!((f64::from(gain[0][l]) - NEPERS_A_DB * db).abs() < 1e-6);
                    (faults, sound) = if taken == code { (faults, sound + 1) } else { (faults + 1, sound) };
                }
            }
        }
        // Every code but one of eight is another where all bits are stuck; else some are sound, at (1 - 0.3/2)^3 = 0.61 of
        // 256 places, which draws of 96 bits scatter by less than a third of.
        let expected = 256.0 * (1.0 - 0.5 * stuck_at).powi(3);
        assert!((f64::from(sound) / expected - 1.0).abs() < 1.0 / 3.0 && faults > 0, "{sound} of {expected}");
    }
    let shows_code_0 = |keys: &str| bound(&sound(keys, &[], &[])).0.shows_code_0();
    assert!(shows_code_0("bits = 3\nstuck_bit = 0.3"));
    assert!(!shows_code_0("bits = 3\nstuck_bit = 0.0"));
    let (_, report) = shifter("bits = 3\nstuck_bit = 1.5", &[], &[]);
    assert!(report.contains("`stuck_bit` is 1.5, but must be from 0 to 1"), "{report}");
}

/// An attenuator draws the errors of the states that are taken, not of those commanded.
#[test]
fn errors_of_taken_states_are_drawn() {
    for composition in ["state", "bit"] {
        let keys = format!(
            "bits = 3\nstep = \"0.5 dB\"\nstuck_bit = 1.0\n{composition}_gain_error = {{ normal = {{ sd = \"1 dB\" }} }}"
        );
        let (attenuator, said) = read(&keys, &[], Attenuator::read);
        let attenuator = attenuator.unwrap_or_else(|| panic!("{said}"));
        let (attenuator, sources, mut draws) =
            drawn(|sources| attenuator.map(&mut |of| of.bind("it", sources)));
        let codes = [[0; LANES]; 8];
        attenuator.need(&codes, &sources, &mut draws);
        let set = |draws: &Draws<LANES>| {
            let (mut gain, mut phase) = ([[0.0; LANES]; 8], [[0.0; LANES]; 8]);
            attenuator.set(&at(GHZ), draws, 0, &codes, &mut gain, &mut phase);
            gain
        };
        let gain = set(&draws);
        sources.draw_rest(&mut draws);
        assert_eq!(gain, set(&draws), "{composition}");
        assert!(gain.as_flattened().iter().any(|gain| *gain < -0.05), "stuck at 1 attenuates");
    }
}
