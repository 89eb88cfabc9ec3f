//! The campaign's own parts: the faults that the judge detects, and the places of changes.

use super::changes::{Change, numbers, spans_of, tables, values, values_of};
use super::judge::{faults_of, faults_of_document};
use super::launch::Ended;
use std::time::Duration;

fn ended(code: Option<i32>, out: &str, err: &str) -> Ended {
    let [out, err] = [out, err].map(|text| text.as_bytes().to_vec());
    Ended { code, is_hung: false, out, err, took: Duration::ZERO }
}

/// The judge detects each of these faults, and passes the correct case beside it.
#[test]
fn the_judge_sees_each_fault() {
    let fine = |code, out, err| assert_eq!(faults_of(&ended(code, out, err), ""), Vec::<String>::new());
    let bad = |code, out, err| {
        assert_ne!(faults_of(&ended(code, out, err), ""), Vec::<String>::new(), "{out} {err}")
    };
    fine(Some(0), "yield 0.9\n", "warning: none\n");
    fine(Some(2), "", "error: no such key\n");
    fine(Some(1), "", "error: below\n");
    bad(None, "", "");
    bad(Some(101), "", "error: x\n");
    bad(Some(2), "", "");
    bad(Some(3), "", "oops\n");
    bad(Some(2), "", "error:  \n");
    bad(Some(0), "", "error: but done\n");
    bad(Some(2), "", "error: the program has a fault\n");
    bad(Some(0), "mean NaN dB\n", "");
    bad(Some(0), "mean -inf dB\n", "");
    assert!(faults_of(&ended(Some(0), "nan block\n", ""), "name = \"nan block\"").is_empty());
    let hung = Ended { is_hung: true, ..ended(None, "", "") };
    assert!(!faults_of(&hung, "").is_empty());

    let whole = |name, text: &str| faults_of_document(name, text.as_bytes(), "").is_empty();
    assert!(
        whole("a.json", "{\"x\": 1}\n")
            && !whole("a.json", "{\"x\": 1")
            && !whole("a.json", "{\"x\": null}\n")
    );
    assert!(whole("a.csv", "a,b\n1,2\n") && !whole("a.csv", "a,b\n1,2") && !whole("a.csv", "a,b\n1\n"));
    assert!(!whole("a.csv", "a,b\n1,NaN\n"));
    assert!(whole("a.html", "<html></html>\n") && !whole("a.html", "<html><p>"));
    assert!(whole("a.parquet", "PAR1xxxxPAR1") && !whole("a.parquet", "PAR1xxxx"));
    assert!(whole("a.txt", "a\n") && !whole("a.txt", "a"));
}

#[test]
fn changes_are_made_where_they_are_said_to() {
    let text = "title = \"a 5\"\n\n[array]\nbits = 6\n\n[[block]]\ngain = { normal = { sd = \"1 dB\" } }\n";
    assert_eq!(numbers(text).iter().map(|span| &text[span.clone()]).collect::<Vec<_>>(), ["5", "6", "1"]);
    assert_eq!(tables(text).len(), 3);
    assert_eq!(tables(text).concat(), text);
    assert_eq!(values(text).len(), 3);
    assert_eq!(&text[values_of(text, &["bits"])[0].clone()], "6");
    assert_eq!(&text[spans_of(text, "normal = { sd = ", " }")[0].clone()], "normal = { sd = \"1 dB\" }");
    let added = Change::Add { behind: "[array]", text: "chip = 3" };
    assert!(
        String::from_utf8(added.made(text.as_bytes())).expect("text").contains("[array]\nchip = 3\nbits")
    );
    assert_eq!(Change::ByteOrderMark.made(b"x"), b"\xef\xbb\xbfx");
    assert_eq!(Change::CarriageReturns.made(b"a\nb\n"), b"a\r\nb\r\n");
}
