//! The units of a run as Parquet, read by a data library of another language.

use crate::program::{Folder, SMALL};
use crate::tools::python;

/// Compares a Parquet file with the CSV of the same run, cell by cell, and prints what its metadata tell.
const COMPARE: &str = r#"
import csv, json, sys
import pyarrow.parquet as parquet

table = parquet.read_table("units.parquet")
rows = list(csv.reader(open("units.csv", newline="")))
assert table.column_names == rows[0], table.column_names
assert table.num_rows == len(rows) - 1, table.num_rows

def cell(value):
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return value

for column, name in enumerate(rows[0]):
    for row, value in enumerate(table.column(column).to_pylist()):
        expected, value = rows[row + 1][column], cell(value)
        if isinstance(value, (int, float)):
            same = type(value)(expected) == value
        else:
            # The CSV marks what a spreadsheet would take for a formula.
            same = value == expected or "'" + value == expected
        assert same, (name, row, value, expected)
types = {field.name: str(field.type) for field in table.schema}
metadata = {key.decode(): value.decode() for key, value in table.schema.metadata.items()}
json.dump({"types": types, "metadata": metadata}, sys.stdout)
"#;

#[test]
fn another_library_reads_the_rows_of_the_csv() {
    let folder = Folder::with(SMALL);
    let run = ["run", "study.toml", "--trials", "300", "--quiet"];
    folder.done(
        &[&run[..], &["--csv", "units.csv", "--trials-out", "units.parquet", "--json", "run.json"]].concat(),
    );
    let Some(mut python) = python("pyarrow.parquet", "pyarrow==26.0.*") else { return };
    let ended = python.args(["-c", COMPARE]).current_dir(folder.path()).output();
    let ended = ended.expect("python starts");
    assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
    let told: serde_json::Value = serde_json::from_slice(&ended.stdout).expect("a document");
    let (types, metadata, run) = (&told["types"], &told["metadata"], folder.json("run.json"));
    assert_eq!((&types["trial"], &types["passed"]), (&"int64".into(), &"bool".into()));
    assert_eq!((&types["calibration"], &types["bench_minutes"]), (&"string".into(), &"double".into()));
    for key in ["study", "study_hash", "program"] {
        assert_eq!(metadata[key], run[key], "{key}");
    }
    assert_eq!((&metadata["seed"], &metadata["trials"]), (&run["seed"].to_string().into(), &"300".into()));
    let units: serde_json::Value =
        serde_json::from_str(metadata["units"].as_str().expect("a text")).expect("units");
    let units = units.as_object().expect("units");
    assert_eq!((&units["first_missed_frequency_hz"], &units["bench_minutes"]), (&"Hz".into(), &"min".into()));
    let figures = types.as_object().expect("types").keys().filter(|name| name.contains('['));
    for name in figures {
        let unit = name.split(['[', ']']).nth(1).expect("a unit");
        assert_eq!(units[name], unit);
    }
}

#[test]
fn the_same_run_writes_the_same_bytes() {
    let folder = Folder::with(SMALL);
    let of = |name: &str, threads: &str| {
        folder.done(&[
            "run",
            "study.toml",
            "--trials",
            "200",
            "--quiet",
            "--threads",
            threads,
            "--trials-out",
            name,
        ]);
        std::fs::read(folder.path().join(name)).expect("the file")
    };
    assert!(of("one.parquet", "1") == of("two.parquet", "2"));
}

#[test]
fn where_parquet_cannot_go() {
    let folder = Folder::with(SMALL);
    let refused =
        |arguments: &[&str]| folder.refused(&[&["run", "study.toml", "--quiet"][..], arguments].concat());
    assert!(refused(&["--trials-out", "units.csv"]).contains("let the name end in .parquet"));
    assert!(refused(&["--trials-out", "-"]).contains("let the name end in .parquet"));
    assert!(refused(&["--trials-out", "none/units.parquet"]).contains("does not exist"));
    assert!(
        refused(&["--csv", "a.parquet", "--trials-out", "a.parquet"])
            .contains("the CSV and the Parquet would both go there")
    );
}
