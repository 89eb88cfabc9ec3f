use super::*;
use crate::io::Key;
use crate::io::diagnostic::render;
use crate::io::table::Document;

/// Reads a file named in a document and takes a length and a plain number from it; answers with what was found and
/// what is said.
fn read(text: &str) -> (Option<[Vec<f64>; 2]>, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("parts.csv");
    // Nothing is at stake when a test's file is half written.
    #[allow(clippy::disallowed_methods)]
    std::fs::write(&path, text).unwrap();
    let name = folder.path().join("study.toml").display().to_string();
    let document = Document::parse(SourceText { name: name.into(), text: "csv = \"parts.csv\"".into() });
    let findings = Findings::default();
    let found = document.root(&findings).columns(&Key::text("csv", "parts.csv", "Measured parts")).and_then(
        |columns| {
            let lengths = columns.quantity("length", Dimension::Length);
            Some([lengths?, columns.quantity("code", Dimension::Ratio)?])
        },
    );
    let said = render(&document.source, &findings.into_vec(), false);
    (found, said.replace(&format!("{}/", folder.path().display()), ""))
}

#[test]
fn columns_are_read_in_si() {
    let (found, said) = read("# parts of May\ncode,length_MM\n 0, 1.5\n1,-2e0\n\n");
    assert_eq!(said, "");
    assert_eq!(found, Some([vec![0.0015, -0.002], vec![0.0, 1.0]]));
}

#[test]
fn every_flaw_is_told_with_its_line() {
    for (text, line, said) in [
        ("", "", "the file is empty"),
        ("# nothing\n", "", "the file is empty"),
        ("code,length_mm\n", "1:1", "no row under the header"),
        ("\u{feff}code,length_mm\n0,1\n", "1:1", "byte-order mark"),
        ("code;length_mm\n0;1\n", "1:1", "commas between cells"),
        ("code,length_mm\n0,1,5\n", "2:1", "write a point"),
        ("code,length_mm\n0,1\n1\n", "3:1", "1 cells under 2 names"),
        ("code,length_mm\n0,\"1,5\"\n", "2:1", "`1,5` is no number"),
        ("code,length_mm\n0,1\n1, x1\n", "3:4", "`x1` is no number"),
        ("code,length_mm\n0,\n", "2:3", "an empty cell"),
        ("code,length_mm\n0,inf\n", "2:3", "`inf` is not finite"),
        ("code,length_mm\n0,1e9\n", "2:3", "`1e9` is too large"),
        ("code,length\n0,1\n", "1:1", "no column `length` with its unit"),
        ("step,length_mm\n0,1\n", "1:1", "no column `code`"),
        ("code,code,length_mm\n0,0,1\n", "1:1", "two columns are named `code`"),
    ] {
        let (found, report) = read(text);
        assert_eq!(found, None, "{text:?}");
        assert!(report.contains(said), "{text:?}: {report}");
        assert!(
            report.contains(&format!(
                "parts.csv{}",
                if line.is_empty() { String::new() } else { format!(":{line}") }
            )),
            "{text:?}: {report}"
        );
    }
}

#[test]
fn a_missing_file_is_told_where_it_is_named() {
    let document =
        Document::parse(SourceText { name: "study.toml".into(), text: "csv = \"none.csv\"".into() });
    let findings = Findings::default();
    assert!(document.root(&findings).columns(&Key::text("csv", "parts.csv", "Measured parts")).is_none());
    let report = render(&document.source, &findings.into_vec(), false);
    assert!(
        report.contains("study.toml:1:7") && report.contains("`none.csv`: the file does not exist"),
        "{report}"
    );
}
