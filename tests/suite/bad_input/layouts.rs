//! Layouts and tapers that cannot be, and the files that they come from.

use super::{case, check};
use crate::program::{Folder, SMALL, edited};

const LAYOUT: &str = "layout = { kind = \"linear\", count = 8, spacing = \"0.5 wavelength\" }";
const TAPER: &str = "taper = { kind = \"taylor\", side_lobe = \"20 dB\", nbar = 3 }";
const BOTH: &str = "layout = { kind = \"linear\", count = 8, spacing = \"0.5 wavelength\" }
taper = { kind = \"taylor\", side_lobe = \"20 dB\", nbar = 3 }";
const LISTED: &str = "layout = { kind = \"positions\", csv = \"places.csv\" }";
const OF_FILE: &str = "taper = { kind = \"csv\", csv = \"amplitudes.csv\" }";

#[test]
fn layouts_that_cannot_be() {
    check(&[
        case(
            LAYOUT,
            "layout = { kind = \"triangular\", columns = 100, rows = 100, column_spacing = \"15 mm\", row_spacing = \"13 mm\" }",
            "{ kind",
            &["100 by 100 elements are 10000 channels", "at most 4096 channels"],
        ),
        case(
            LAYOUT,
            "layout = { kind = \"triangular\", columns = 4, rows = 3, column_spacing = \"15 mm\", row_spacing = \"0.1 mm\" }",
            "{ kind",
            &["elements cannot stand 0.2 mm apart", "too dense a lattice"],
        ),
        case(
            BOTH,
            "layout = { kind = \"ring\", count = 100, radius = \"2 mm\" }",
            "{ kind",
            &["elements cannot stand 0.125643 mm apart", "too dense a lattice"],
        ),
        case(
            LAYOUT,
            "layout = { kind = \"ring\", count = 24, radius = \"60 mm\" }",
            "\"taylor\"",
            &["a taper along rows and columns where there are none", "\"uniform\", or \"csv\""],
        ),
        case(TAPER, "taper = { kind = \"cosine_pedestal\", pedestal = 1.5 }", "1.5", &["`pedestal`"]),
        case(
            TAPER,
            "taper = { kind = \"uniform\", set_by = \"dividers\" }",
            "\"dividers\"",
            &["unknown way to set a taper", "did you mean \"divider\"?"],
        ),
        case(LAYOUT, LISTED, "\"places.csv\"", &["places.csv", "names this file, relative to the study"]),
    ]);
}

/// Messages about the small study with files, and their places: a file and a line.
fn refused(edits: &[(&str, &str)], files: &[(&str, &str)]) -> String {
    let folder = Folder::with(edited(SMALL, edits));
    for (name, content) in files {
        folder.put(name, content);
    }
    folder.refused(&["check", "study.toml"])
}

#[test]
fn positions_that_cannot_be() {
    let cases: &[(&str, &[&str])] = &[
        ("x_mm,y_mm\n0,0\n", &["--> study.toml:", "1 rows", "2 to 4096 elements"]),
        (
            "# corners\nx_mm,y_mm\n0,0\n20,0\n0,20\n20.0,0.0\n",
            &["--> places.csv:6:1", "two elements stand at one place: rows 2 and 4"],
        ),
        ("x_mm,z_mm\n0,0\n20,0\n", &["--> places.csv:1", "no column `y`"]),
        ("x_mm,y_mm\n0,0\n20,here\n", &["--> places.csv:3:4", "`here` is no number"]),
        (
            "x_mm,y_mm\n0,0\n20,10\n40,20\n",
            &["--> study.toml:", "in a line askew to the x axis", "let a line run along x"],
        ),
        ("x_mm,y_mm\n0,0\n20,0\n0,20\n0.1,0\n", &["elements cannot stand 0.1 mm apart"]),
        ("x_m,y_m\n0,0\n200,0\n0,200\n", &["elements cannot stand 200 m apart"]),
        ("x_m,y_m\n0,0\n0.02,0\n0,9000\n8000,0\n", &["the far field of this array takes", "samples"]),
    ];
    for (places, says) in cases {
        let report = refused(
            &[(LAYOUT, LISTED), (TAPER, ""), ("chip = 2\n", ""), ("reference = 3", "reference = 0")],
            &[("places.csv", places)],
        );
        for words in *says {
            assert!(report.contains(words), "{words}\n{places}\n{report}");
        }
        assert!(report.contains("\n1 error in"), "{places}\n{report}");
    }
}

#[test]
fn amplitudes_that_cannot_be() {
    let seven = "1\n1\n1\n1\n1\n1\n1\n";
    let cases = [
        (format!("amplitude\n{seven}"), &["--> study.toml:", "7 amplitudes for 8 channels"]),
        (format!("amplitude\n{seven}0\n"), &["--> amplitudes.csv:9", "not above zero"]),
        (format!("amplitude\n{seven}0.0009\n"), &["--> amplitudes.csv:9", "more than 60 dB below"]),
        (format!("level\n{seven}1\n"), &["--> amplitudes.csv:1", "no column `amplitude`"]),
        ("amplitude,amplitude_db\n1,0\n".to_owned(), &["--> amplitudes.csv:2", "amplitudes twice"]),
    ];
    for (amplitudes, says) in cases {
        let report = refused(&[(TAPER, OF_FILE)], &[("amplitudes.csv", &amplitudes)]);
        for words in says {
            assert!(report.contains(words), "{words}\n{amplitudes}\n{report}");
        }
        assert!(report.contains("\n1 error in"), "{amplitudes}\n{report}");
    }
    // As many rows as channels and 60 dB exactly are borne.
    let folder = Folder::with(edited(SMALL, &[(TAPER, OF_FILE)]));
    folder.put("amplitudes.csv", format!("amplitude_db\n{seven}-59\n"));
    folder.done(&["check", "study.toml"]);
}
