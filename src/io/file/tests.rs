//! Every refusal of the reader and the writer, and what is left on the disk.

use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use super::read::LARGEST;
use super::*;
use crate::error::Result;

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// The error without the folder's own name, which changes from run to run.
fn said<T>(result: Result<T>, folder: &Path) -> (u8, String) {
    let error = result.err().unwrap();
    let text = error.to_string();
    let text = text.replace(&folder.canonicalize().unwrap().display().to_string(), "DIR");
    (error.exit_code(), text.replace(&folder.display().to_string(), "DIR"))
}

fn read_said(content: &[u8]) -> String {
    let dir = folder();
    let path = dir.path().join("a.toml");
    fs::write(&path, content).unwrap();
    let (code, text) = said(read_text(&path), dir.path());
    assert_eq!(code, 2);
    text
}

#[test]
fn a_text_is_read_without_its_byte_order_mark() {
    let dir = folder();
    let path = dir.path().join("a.toml");
    for (content, text) in [("\u{feff}é = 1\r\n", "é = 1\r\n"), ("", "")] {
        fs::write(&path, content).unwrap();
        let source = read_text(&path).unwrap();
        assert_eq!(source.text, text);
        assert_eq!(source.name, path);
    }
}

#[test]
fn a_missing_file_and_a_folder_are_bad_input() {
    let dir = folder();
    let missing = said(read_text(&dir.path().join("none.toml")), dir.path());
    assert_eq!(missing.0, 2);
    snapbox::assert_data_eq!(
        missing.1,
        snapbox::str![[r#"
error: the file does not exist
--> DIR/none.toml
 = help: check its path

1 error in DIR/none.toml

"#]]
    );
    let inside = said(read_text(dir.path()), dir.path());
    assert_eq!(inside.0, 2);
    snapbox::assert_data_eq!(
        inside.1,
        snapbox::str![[r#"
error: this is a folder
--> DIR
 = help: name a file in it

1 error in DIR

"#]]
    );
}

#[test]
fn what_is_not_utf_8_is_reported_with_its_place() {
    snapbox::assert_data_eq!(
        read_said(b"a = 1\nb = \"\xff\"\n"),
        snapbox::str![[r#"
error: the file is not UTF-8 text: line 2, byte 11 of the file
--> DIR/a.toml
 = help: save the file in the encoding UTF-8

1 error in DIR/a.toml

"#]]
    );
}

#[test]
fn an_oversized_file_is_refused_and_the_largest_is_read() {
    snapbox::assert_data_eq!(
        read_said(&vec![b' '; LARGEST as usize + 1]),
        snapbox::str![[r#"
error: the file is larger than 16 MiB
--> DIR/a.toml
 = help: name a text file of a smaller size

1 error in DIR/a.toml

"#]]
    );
    let dir = folder();
    let path = dir.path().join("a.toml");
    fs::write(&path, vec![b' '; LARGEST as usize]).unwrap();
    assert!(read_text(&path).is_ok());
    let endless = Path::new("/dev/zero");
    if endless.exists() {
        assert_eq!(read_text(endless).unwrap_err().exit_code(), 2);
    }
}

#[test]
fn an_output_appears_when_it_is_finished() {
    let dir = folder();
    let path = dir.path().join("out.csv");
    fs::write(&path, "old").unwrap();
    let mut output = Output::create(&path, &[]).unwrap();
    output.write_text("new ").unwrap();
    write!(output, "{}", 5).unwrap();
    output.flush().unwrap();
    assert_eq!(fs::read_to_string(&path).unwrap(), "old");
    output.finish().unwrap();
    assert_eq!(fs::read_to_string(&path).unwrap(), "new 5");
    assert_eq!(names(dir.path()), ["out.csv"]);
}

#[test]
fn an_unfinished_output_leaves_nothing() {
    let dir = folder();
    let mut output = Output::create(&dir.path().join("out.csv"), &[]).unwrap();
    output.write_text("half").unwrap();
    assert!(names(dir.path()).iter().all(|name| name.starts_with('.')));
    drop(output);
    assert!(names(dir.path()).is_empty());
}

#[test]
fn refused_outputs_say_why_and_touch_nothing() {
    let dir = folder();
    let input = dir.path().join("input.toml");
    fs::write(&input, "kept").unwrap();
    let refused = |path: &Path| said(Output::create(path, &[&input]), dir.path());
    let roundabout = dir.path().join(".").join("input.toml");
    let cases = [
        (
            dir.path().join("none/out.csv"),
            "cannot write to DIR/none/out.csv: the folder DIR/none does not exist",
        ),
        (dir.path().to_owned(), "cannot write to DIR: it is a folder"),
        (dir.path().join("new/"), "cannot write to DIR/new/: it is a folder"),
        (PathBuf::new(), "cannot write to : it names no file"),
        (
            input.join("out.csv"),
            "cannot write to DIR/input.toml/out.csv: the folder DIR/input.toml does not exist",
        ),
        (roundabout, "cannot write to DIR/./input.toml: it is an input of this very run"),
    ];
    for (path, text) in cases {
        assert_eq!(refused(&path), (2, text.to_owned()));
    }
    assert_eq!(names(dir.path()), ["input.toml"]);
    assert_eq!(fs::read_to_string(&input).unwrap(), "kept");
}

#[cfg(unix)]
#[test]
fn a_link_is_followed() {
    let dir = folder();
    let (real, link) = (dir.path().join("real"), dir.path().join("link"));
    fs::write(&real, "old").unwrap();
    std::os::unix::fs::symlink(&real, &link).unwrap();
    let (code, _) = said(Output::create(&link, &[&real]), dir.path());
    assert_eq!(code, 2);
    let mut output = Output::create(&link, &[]).unwrap();
    output.write_text("new").unwrap();
    output.finish().unwrap();
    assert!(link.is_symlink());
    assert_eq!(fs::read_to_string(&real).unwrap(), "new");
}

#[cfg(unix)]
#[test]
fn a_finished_file_has_the_permissions_of_a_fresh_one() {
    use std::os::unix::fs::PermissionsExt;
    let dir = folder();
    let (fresh, path) = (dir.path().join("fresh"), dir.path().join("out"));
    File::create(&fresh).unwrap();
    Output::create(&path, &[]).unwrap().finish().unwrap();
    let mode = |path: &Path| path.metadata().unwrap().permissions().mode();
    assert_eq!(mode(&path), mode(&fresh));
}

#[cfg(unix)]
#[test]
fn a_protected_place_is_a_bad_request() {
    use std::os::unix::fs::PermissionsExt;
    let dir = folder();
    let path = dir.path().join("out");
    File::create(&path).unwrap();
    fs::set_permissions(&path, fs::Permissions::from_mode(0o444)).unwrap();
    // An administrator may write everywhere; there is nothing to see then.
    if OpenOptions::new().write(true).open(&path).is_err() {
        assert_eq!(said(Output::create(&path, &[]), dir.path()).0, 2);
    }
}

#[test]
fn a_full_disk_is_a_failure_of_the_machine() {
    let path = Path::new("/dev/full");
    if path.exists() {
        let mut output = Output::create(path, &[]).unwrap();
        output.write_text("small, so that it waits in the buffer").unwrap();
        let error = output.finish().unwrap_err();
        assert_eq!(error.exit_code(), 3);
        assert!(error.to_string().starts_with("cannot write /dev/full: "));

        let mut output = Output::create(path, &[]).unwrap();
        let large = "x".repeat(100_000);
        assert_eq!(output.write_text(&large).unwrap_err().exit_code(), 3);
    }
}

#[test]
fn a_dash_is_standard_output() {
    let output = Output::create(Path::new("-"), &[]).unwrap();
    assert!(output.is_standard_output());
    output.finish().unwrap();
}

#[test]
fn an_output_is_no_input_whatever_it_is_called() {
    let dir = folder();
    let (input, hard) = (dir.path().join("input"), dir.path().join("hard"));
    fs::write(&input, "kept").unwrap();
    fs::hard_link(&input, &hard).unwrap();
    let refused = |path: &Path| Destination::at(path).unwrap().keep_off(&[&input]).is_err();
    assert!(refused(&hard));
    assert!(refused(&dir.path().join(".").join("hard")));
    // As much of a file, but another.
    fs::copy(&input, dir.path().join("copy")).unwrap();
    assert!(!refused(&dir.path().join("copy")) && !refused(&dir.path().join("new")));
}

#[test]
fn two_spellings_of_one_place_are_one_place() {
    let dir = folder();
    fs::create_dir(dir.path().join("below")).unwrap();
    let at = |name: &str| Destination::at(&dir.path().join(name)).unwrap();
    assert!(at("new").is_same(&at("below/../new")));
    assert!(!at("new").is_same(&at("below/new")));
    fs::write(dir.path().join("old"), "").unwrap();
    fs::hard_link(dir.path().join("old"), dir.path().join("hard")).unwrap();
    assert!(at("old").is_same(&at("./hard")) && !at("old").is_same(&at("new")));
    let (old, hard) = (at("old"), at("hard"));
    let error = refuse_same(&[("one", &old), ("other", &hard)]).unwrap_err();
    assert!(error.to_string().contains("the one and the other would both go there"), "{error}");
    // A device keeps nothing.
    #[cfg(unix)]
    assert!(
        !Destination::at(Path::new("/dev/null"))
            .unwrap()
            .is_same(&Destination::at(Path::new("/dev/null")).unwrap())
    );
}

#[cfg(unix)]
#[test]
fn a_link_that_leads_nowhere_is_refused() {
    let dir = folder();
    for (name, to) in [("dangling", "gone"), ("looping", "looping")] {
        let link = dir.path().join(name);
        std::os::unix::fs::symlink(dir.path().join(to), &link).unwrap();
        let (code, text) = said(Output::create(&link, &[]), dir.path());
        assert_eq!((code, text), (2, format!("cannot write to DIR/{name}: it is a link that leads nowhere")));
        assert!(link.is_symlink());
    }
}

#[cfg(unix)]
#[test]
fn a_replaced_file_keeps_its_mode() {
    use std::os::unix::fs::PermissionsExt;
    let dir = folder();
    let path = dir.path().join("out");
    for mode in [0o600, 0o664, 0o750] {
        fs::write(&path, "old").unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(mode)).unwrap();
        Output::create(&path, &[]).unwrap().finish().unwrap();
        assert_eq!(path.metadata().unwrap().permissions().mode() & 0o7777, mode);
        assert_eq!(fs::read_to_string(&path).unwrap(), "");
    }
}
