use super::*;
use crate::io::diagnostic::render;

/// Reads a text as a file of that name; what was found, and what is said.
fn read_as(name: &str, text: &str) -> (Option<TwoPort>, String) {
    let findings = Findings::default();
    let found = TwoPort::read(&findings, Arc::new(SourceText { name: name.into(), text: text.into() }));
    let study = SourceText { name: "study.toml".into(), text: String::new() };
    (found, render(&study, &findings.into_vec(), false))
}

fn read(text: &str) -> TwoPort {
    let (found, said) = read_as("part.s2p", text);
    assert_eq!(said, "", "{text}");
    found.unwrap()
}

const ROW: &str = "1 0 0 0.5 90 0.25 180 0 0";

#[test]
fn defaults_are_those_of_the_specification() {
    let bare = read(&format!("#\n{ROW}\n"));
    assert_eq!(bare.frequencies, [1e9]);
    let [Scattering { s21, s12, .. }] = bare.parameters[..] else { panic!("one row") };
    assert!((s21 - Complex64::new(0.0, 0.5)).norm() < 1e-15 && (s12 + 0.25).norm() < 1e-15, "{s21}, {s12}");
    for same in ["# GHz S MA R 50", "#ghz s ma r 50.0", "# r 75 MA s GHZ ! any order", "# R 50\t ma"] {
        assert_eq!(
            read(&format!("! a part\n\n{same}\r\n  {ROW}! here\r\n")).parameters,
            bare.parameters,
            "{same}"
        );
    }
}

#[test]
fn formats_say_the_same_thing() {
    let hertz = |unit: &str, frequency: &str, format: &str, pair: &str| {
        read(&format!("# {unit} {format}\n{frequency} 0 0 {pair} 0 0 0 0\n"))
    };
    // From memory: -6.0206 dB is a half; 60 deg is (1/2, sqrt(3)/2).
    let expected = Complex64::new(0.25, 0.25 * 3f64.sqrt());
    for (unit, frequency, format, pair) in [
        ("Hz", "2.5e9", "DB", "-6.020599913279624 60"),
        ("kHz", "2500000", "MA", "0.5 60"),
        ("MHz", "2500", "MA", "0.5 -300"),
        ("GHz", "2.5", "RI", "0.25 0.4330127018922193"),
    ] {
        let found = hertz(unit, frequency, format, pair);
        assert_eq!(found.frequencies, [2.5e9]);
        assert!((found.parameters[0].s21 - expected).norm() < 1e-15, "{unit} {format}: {found:?}");
    }
}

#[test]
fn noise_parameters_are_passed_over() {
    let found = read(&format!("# GHz\n{ROW}\n2{}\n1 1.1 0.3 20 0.2\n2 1.2 0.3 20 0.2\n", &ROW[1..]));
    assert_eq!(found.frequencies, [1e9, 2e9]);
}

const TWO: &str = "[Version] 2.0\n# GHz S RI\n[Number of Ports] 2\n[Two-Port Data Order] 21_12\n\
                   [Number of Frequencies] 2\n[Reference] 50\n75\n[Network Data]\n\
                   1 0 0 0.5 0.1 ! S11, S21\n 0.25 0 0 0\n2 0 0 0.5 0 0.25 0 0 0\n[End]\n";

#[test]
fn version_2_lets_rows_go_on_and_states_the_order() {
    let found = read(TWO);
    assert_eq!(found.frequencies, [1e9, 2e9]);
    assert_eq!(found.parameters[0].s21, Complex64::new(0.5, 0.1));
    let swapped = read(&TWO.replace("21_12", "12_21"));
    assert_eq!(swapped.parameters[0].s12, found.parameters[0].s21);
    assert_eq!(swapped.parameters[0].s21, found.parameters[0].s12);
    let more = TWO
        .replace(
            "[Network",
            "[Number of Noise Frequencies] 1\n[Begin Information]\nlot 7\n[End Information]\n[network",
        )
        .replace("[End]\n", "[Noise Data]\n1 1.1 0.3 20 0.2\n[END]\n")
        .replace("[Reference] 50\n75", "[Matrix Format] full");
    assert_eq!(read(&more).parameters, found.parameters);
}

/// Texts after an edit, where an error points, and a part of what it says.
#[test]
fn every_flaw_is_told_with_its_line() {
    let one = format!("# GHz S MA R 50\n{ROW}\n2{}\n", &ROW[1..]);
    for (from, to, line, said) in [
        ("# GHz", "\u{feff}# GHz", "1:1", "byte-order mark"),
        (&*one, "", "", "the file is empty"),
        (&one, "! nothing\n", "", "the file is empty"),
        (&one, "# GHz S MA R 50\n", "1:1", "no data"),
        ("# GHz S MA R 50\n", "", "1:1", "data without an option line"),
        ("50\n", "50\n# GHz\n", "2:1", "a second option line"),
        ("GHz", "THz", "1:3", "a unit is one of Hz, kHz, MHz, GHz"),
        ("GHz", "parsec", "1:3", "unknown word `parsec`"),
        ("GHz", "GHz Hz", "1:7", "a unit is stated twice"),
        (" S ", " Z ", "1:7", "Z-parameters"),
        ("MA", "MB", "1:9", "a format (DB, MA, RI)"),
        ("R 50", "R", "1:12", "`R` without a resistance"),
        ("R 50", "R -5", "1:14", "`R` without a resistance"),
        ("0.5 90", "0.5 x", "2:11", "`x` is no number"),
        ("0.5 90", "0,5 90", "2:7", "blanks between them"),
        ("0.5 90", "nan 90", "2:7", "`nan` is not finite"),
        ("0.5 90", "1e999 90", "2:7", "`1e999` is not finite"),
        ("0.5 90", "0.5", "2:1", "8 numbers in a row of a two-port"),
        ("0.5 90 0.25 180 0 0", "", "2:1", "a file of one port has three"),
        ("2 0 0", "1 0 0", "3:1", "the frequencies do not rise: 1 after 1"),
        ("1 0 0", "-1 0 0", "2:1", "a frequency below zero"),
        ("2 0 0 0.5 90 0.25 180 0 0", "1 0 0 0\n", "3:1", "4 numbers in a row of a two-port"),
        ("2 0 0 0.5 90 0.25 180 0 0", "1 0 0 0 0\n2 1", "4:1", "2 numbers in a row of noise parameters"),
        ("2 0 0 0.5 90 0.25 180 0 0", "1 0 0 0 0\n1 0 0 0 0", "4:1", "noise parameters do not rise"),
        ("# GHz", "[Number of Ports] 2\n# GHz", "1:1", "in a file without a version"),
        ("MA R 50\n1 0 0 0.5", "DB R 50\n1 0 0 1e5", "2:1", "a number too large"),
    ] {
        refuses("part.s2p", &one, from, to, line, said);
    }
    for (from, to, line, said) in [
        ("2.0", "3.0", "1:1", "version `3.0`"),
        ("# GHz S RI\n", "", "7:1", "data without an option line"),
        ("Ports] 2", "Ports] 4", "3:1", "a file of 4 ports"),
        ("Ports] 2", "Ports]", "3:1", "`[Number of Ports]` without a number"),
        ("[Number of Ports] 2\n", "", "11:1", "no `[Number of Ports]`"),
        ("21_12", "21", "4:1", "`21` is no order of data"),
        ("[Two-Port Data Order] 21_12\n", "", "11:1", "no `[Two-Port Data Order]`"),
        ("Frequencies] 2", "Frequencies] 3", "5:1", "2 frequencies where 3 are stated"),
        ("[Number of Frequencies] 2\n", "", "11:1", "no `[Number of Frequencies]`"),
        ("50\n75", "50", "6:1", "does not give a resistance for each port"),
        ("50\n75", "50 x", "6:16", "`x` is no number"),
        ("[Reference]", "[Matrix Format] Lower\n[Reference]", "6:1", "the matrix format `Lower`"),
        ("[Reference]", "[Mixed-Mode Order] D1,2\n[Reference]", "6:1", "mixed-mode data are not read"),
        ("[Reference]", "[Colour] red\n[Reference]", "6:1", "the keyword `[Colour]`"),
        ("[Reference]", "[Number of Ports] 2\n[Reference]", "6:1", "stands twice"),
        ("[Network Data]", "[Matrix Format] Full\nred", "9:1", "a line that says nothing"),
        (" 0.25 0 0 0\n", "", "10:1", "more than nine numbers"),
        ("2 0 0 0.5 0 0.25 0 0 0", "2 0", "11:1", "2 numbers for a frequency"),
        ("2 0 0 0.5", "1 0 0 0.5", "11:1", "the frequencies do not rise"),
        ("[End]\n", "", "11:1", "no `[End]`"),
        ("[End]\n", "[End]\n3\n", "13:1", "something after `[End]`"),
        ("[End]\n", "[Reference] 1 1\n[End]\n", "12:1", "`[Reference]` among the data"),
    ] {
        refuses("part.s2p", TWO, from, to, line, said);
    }
    refuses("part.s4p", &one, "", "", "", "a file of 4 ports");
}

fn refuses(name: &str, text: &str, from: &str, to: &str, line: &str, said: &str) {
    assert!(text.contains(from), "{from}");
    let (found, report) = read_as(name, &text.replacen(from, to, 1));
    assert_eq!(found, None, "{to:?}");
    let place = if line.is_empty() { format!("--> {name}\n") } else { format!("--> {name}:{line}\n") };
    assert!(report.contains(said) && report.contains(&place), "{to:?}: {report}");
}

#[test]
fn all_flaws_come_out_at_once_but_not_without_end() {
    let flawed = format!("# THz Y\n{ROW}\n1{0}\n3 x{0}\n", &ROW[1..]);
    let (_, said) = read_as("part.s2p", &flawed);
    for line in ["1:3", "1:7", "3:1", "4:3"] {
        assert!(said.contains(&format!("part.s2p:{line}\n")), "{line}: {said}");
    }
    let (_, said) = read_as("part.s2p", &format!("# GHz\n{ROW}\n{}", "0 x\n".repeat(500)));
    assert_eq!(said.matches("is no number").count(), MOST_FLAWS as usize);
}
