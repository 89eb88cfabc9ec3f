//! Every unit, every refusal, and the way back.

use std::f64::consts::PI;

use proptest::prelude::*;

use super::*;
use Dimension::*;

const ALL: [Dimension; 8] = [Length, Frequency, Angle, Level, LevelPerLength, LevelPerFrequency, Time, Ratio];

#[test]
fn every_unit_gives_its_si_value() {
    // By the definitions of the prefixes; the inch is 25.4 mm, the foot 0.3048 m.
    let cases = [
        ("1 m", Length, 1.0),
        ("38 cm", Length, 0.38),
        ("5.77 mm", Length, 0.00577),
        ("18 um", Length, 18e-6),
        ("18 \u{b5}m", Length, 18e-6),
        ("18 \u{3bc}m", Length, 18e-6),
        ("3 nm", Length, 3e-9),
        ("1 in", Length, 0.0254),
        ("5 mil", Length, 0.000127),
        ("1 ft", Length, 0.3048),
        ("50 Hz", Frequency, 50.0),
        ("3 kHz", Frequency, 3e3),
        ("100 MHz", Frequency, 1e8),
        ("26 GHz", Frequency, 26e9),
        ("0.3 THz", Frequency, 3e11),
        ("180 deg", Angle, PI),
        ("-90\u{b0}", Angle, -PI / 2.0),
        ("2 rad", Angle, 2.0),
        ("2 mrad", Angle, 2e-3),
        ("0.5 dB", Level, 0.5),
        ("2 dB/m", LevelPerLength, 2.0),
        ("0.5 dB/cm", LevelPerLength, 50.0),
        ("0.5 dB/mm", LevelPerLength, 500.0),
        ("0.254 dB/in", LevelPerLength, 10.0),
        ("0.3048 dB/ft", LevelPerLength, 1.0),
        ("30.48 dB/100 ft", LevelPerLength, 1.0),
        ("30.48 dB / 100ft", LevelPerLength, 1.0),
        ("2 dB/GHz", LevelPerFrequency, 2e-9),
        ("2 dB/MHz", LevelPerFrequency, 2e-6),
        ("-0.02 dB/K", LevelPerTemperature, -0.02),
        ("-0.02 dB/degC", LevelPerTemperature, -0.02),
        ("-10 dBm", Power, -10.0),
        ("180 deg/K", AnglePerTemperature, PI),
        ("25 degC", Temperature, 298.15),
        ("-40\u{b0}C", Temperature, 233.15),
        ("300 K", Temperature, 300.0),
        ("-80 ppm/K", RatioPerTemperature, -80e-6),
        ("5 S/m", Conductivity, 5.0),
        ("58 MS/m", Conductivity, 58e6),
        ("250 ppm", Ratio, 250e-6),
        ("2 s", Time, 2.0),
        ("2 ms", Time, 2e-3),
        ("2 us", Time, 2e-6),
        ("2 \u{b5}s", Time, 2e-6),
        ("2 ns", Time, 2e-9),
        ("12 ps", Time, 12e-12),
        ("12 min", Time, 720.0),
        ("1.5 h", Time, 5400.0),
        ("5 %", Ratio, 0.05),
        ("5%", Ratio, 0.05),
        ("0.05", Ratio, 0.05),
    ];
    for (text, dimension, si) in cases {
        let read = parse(text, dimension).unwrap();
        // One rounding in the product and one in the quotient.
        assert!((read - si).abs() <= 2.0 * f64::EPSILON * si.abs(), "{text}: {read}");
    }
    for unit in UNITS {
        let tried = cases.iter().any(|(text, ..)| text.ends_with(unit.name));
        assert!(tried, "no case for {}", unit.name);
    }
}

#[test]
fn numbers_come_in_every_common_form() {
    for text in ["38mm", " 38 mm ", "+38 mm", "38. mm", "3.8e1 mm", "380E-1 mm", "38\tmm"] {
        assert_eq!(parse(text, Length), Ok(0.038), "{text}");
    }
    assert_eq!(parse(".5 dB", Level), Ok(0.5));
    assert_eq!(parse("-1.5 dB", Level), Ok(-1.5));
    assert_eq!(parse("\u{2212}1.5 dB", Level), Ok(-1.5));
}

#[test]
fn refusals_say_what_is_wrong_and_what_would_be_right() {
    let length = "write a length with its unit, such as \"38 mm\"";
    let units = "a length can be in m, cm, mm, um, nm, in, mil, ft";
    let thousands = "use a point for decimals, and nothing between thousands";
    let one = "write one number, with nothing between thousands";
    let plain = "write a number, such as 0.05 or \"5 %\"";
    let cases = [
        ("38", Length, "a unit is expected after 38", length),
        ("", Length, "the text is empty, a length is expected", length),
        ("  ", Length, "the text is empty, a length is expected", length),
        ("mm", Length, "`mm` does not begin with a number", length),
        ("nan mm", Length, "`nan mm` does not begin with a number", length),
        ("inf mm", Length, "`inf mm` does not begin with a number", length),
        ("- 3 mm", Length, "`- 3 mm` does not begin with a number", length),
        ("38 parsec", Length, "unknown unit `parsec`", units),
        ("38 mm 3", Length, "unknown unit `mm 3`", units),
        ("1e mm", Length, "unknown unit `e mm`", units),
        ("26 GHz", Length, "`26 GHz` is a frequency, a length is expected here", length),
        ("5 %", Length, "`5 %` is a number, a length is expected here", length),
        ("1e999 mm", Length, "`1e999 mm` is too large", "a length is at most 10000 m here"),
        ("1,5 mm", Length, "`1,5 mm` has a comma in the number", thousands),
        ("1,000.5 mm", Length, "`1,000.5 mm` has a comma in the number", thousands),
        ("1.000,5 mm", Length, "`1.000,5 mm` has a comma in the number", thousands),
        ("1 000 mm", Length, "`1 000 mm` has more than one number", one),
        ("1\u{202f}000 mm", Length, "`1\u{202f}000 mm` has more than one number", one),
        ("1_000 mm", Length, "`1_000 mm` has more than one number", one),
        ("1'000 mm", Length, "`1'000 mm` has more than one number", one),
        ("1.2.3 mm", Length, "`1.2.3 mm` has more than one number", one),
        ("26 GHZ", Frequency, "unknown unit `GHZ`", "upper and lower case matter, write `GHz`"),
        ("26 khz", Frequency, "unknown unit `khz`", "upper and lower case matter, write `kHz`"),
        ("26 GHz", Ratio, "`26 GHz` is a frequency, a number is expected here", plain),
        ("some", Ratio, "`some` does not begin with a number", plain),
    ];
    for (text, dimension, wrong, right) in cases {
        let error = parse(text, dimension).unwrap_err();
        assert_eq!((error.wrong.as_str(), error.right.as_str()), (wrong, right));
        assert_eq!(error.to_string(), format!("{wrong}; {right}"));
    }
}

#[test]
fn a_person_would_choose_this_unit() {
    let cases = [
        (0.00577, Length, "5.77 mm"),
        (0.0, Length, "0 mm"),
        (127e-6, Length, "0.127 mm"),
        (18e-6, Length, "18 um"),
        (-3e-9, Length, "-3 nm"),
        (2.5, Length, "2.5 m"),
        (26e9, Frequency, "26 GHz"),
        (0.0, Frequency, "0 GHz"),
        (50.0, Frequency, "50 Hz"),
        (3e3, Frequency, "3 kHz"),
        (25.5e6, Frequency, "25.5 MHz"),
        (1.5e12, Frequency, "1.5 THz"),
        (1.5 * PI / 180.0, Angle, "1.5 deg"),
        (0.5, Level, "0.5 dB"),
        (1.0 / 3.0, Level, "0.333333 dB"),
        (-0.0, Level, "0 dB"),
        (50.0, LevelPerLength, "50 dB/m"),
        (2e-10, LevelPerFrequency, "0.2 dB/GHz"),
        (0.0, Time, "0 s"),
        (12e-12, Time, "12 ps"),
        (3e-9, Time, "3 ns"),
        (4e-6, Time, "4 us"),
        (0.005, Time, "5 ms"),
        (90.0, Time, "90 s"),
        (720.0, Time, "12 min"),
        (9000.0, Time, "2.5 h"),
        (0.05, Ratio, "0.05"),
        (1e-20, Length, "1e-11 nm"),
        (1e30, Length, "1e30 m"),
        (123456789.0, Ratio, "123457000"),
    ];
    for (si, dimension, text) in cases {
        assert_eq!(format(si, dimension), text);
    }
}

#[test]
fn every_example_is_read_and_written_back() {
    for dimension in ALL {
        let si = parse(dimension.example(), dimension).unwrap();
        if dimension != Ratio {
            assert_eq!(format(si, dimension), dimension.example());
        }
        assert!(dimension.advice().contains(dimension.example()));
    }
}

proptest! {
    #[test]
    fn what_is_written_is_read_back(
        mantissa in -9.999_999..9.999_999_f64,
        exponent in -20..20_i32,
        which in 0..ALL.len(),
    ) {
        let value: f64 = format!("{mantissa}e{exponent}").parse().unwrap();
        prop_assume!(value.abs() <= ALL[which].most());
        let text = format(value, ALL[which]);
        let back = parse(&text, ALL[which]).unwrap();
        // Six digits leave half a unit in the sixth: 5e-6 of the number at most.
        prop_assert!((back - value).abs() <= 5.001e-6 * value.abs(), "{} {}", value, text);
        prop_assert_eq!(format(back, ALL[which]), text);
    }

    #[test]
    fn no_text_is_a_panic(text in "\\PC{0,12}|[-+.,eE0-9 mdBGHz/%\u{b0}\u{b5}_']{0,12}") {
        for dimension in ALL {
            if let Ok(si) = parse(&text, dimension) {
                prop_assert!(si.is_finite());
            }
        }
    }
}
