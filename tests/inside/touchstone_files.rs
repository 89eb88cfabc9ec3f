//! A flawed file of measured states never ends the reader.

fn part(degrees: f64) -> String {
    format!("! made up\n# GHz S MA R 50\n9.5 0 0 0.5 {degrees} 0 0 0 0\n10.5 0 0 0.5 {degrees} 0 0 0 0\n")
}

/// Whatever is done to a file, it is read or refused, and nothing breaks.
#[test]
fn files_cut_short_and_garbled() {
    use beamyield::io::{Findings, SourceText, TwoPort};
    use std::sync::Arc;
    let version_2 = "[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 2\n[Two-Port Data Order] 21_12\n\
                     [Number of Frequencies] 2\n[Reference] 50 50\n[Network Data]\n1 0 0 .5 0 .5 0 0 0\n\
                     2 0 0 .5 0 .5 0 0 0\n[Noise Data]\n1 1 .1 0 .2\n[End]\n";
    let mut refused = 0;
    for text in [part(10.0), version_2.to_owned()] {
        for at in 0..text.len() {
            for with in ["", "\u{e9}", "[", "]", "#", "!", "\n", "-", "9", "e999 ", " R ", "[End]\n"] {
                let (before, after) = text.split_at(at);
                for garbled in [format!("{before}{with}"), format!("{before}{with}{after}")] {
                    let findings = Findings::default();
                    let source = SourceText { name: "part.s2p".into(), text: garbled };
                    let found = TwoPort::read(&findings, Arc::new(source));
                    assert_eq!(found.is_none(), findings.has_errors(), "{at} {with:?}");
                    refused += u32::from(found.is_none());
                }
            }
        }
    }
    assert!(refused > 3000, "{refused}");
}
