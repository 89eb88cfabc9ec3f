//! Every refusal of the reader and the writer, and what is left on the disk.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::*;

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
        assert_eq!(source.name, path.display().to_string());
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
    assert_eq!(names(dir.path()).len(), 1);
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
    assert!(matches!(output.sink.get_ref(), Sink::Stream(Some(_))));
    output.finish().unwrap();
}

/// Takes one write, then fails in the given way. Counts the writes.
struct Fails(io::ErrorKind, Arc<AtomicUsize>);

impl Write for Fails {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.1.fetch_add(1, Ordering::Relaxed);
        match self.1.load(Ordering::Relaxed) {
            1 => Ok(bytes.len()),
            _ => Err(self.0.into()),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_broken_pipe_ends_quietly_and_other_failures_do_not() {
    let large = "x".repeat(100_000);
    let through = |kind| {
        let writes = Arc::new(AtomicUsize::new(0));
        let stream: Box<dyn Write + Send> = Box::new(Fails(kind, writes.clone()));
        let mut output = Output::new(Path::new("-"), Sink::Stream(Some(stream)));
        let result = (0..5).try_for_each(|_| output.write_text(&large));
        let result = result.and_then(|()| output.finish());
        (result.map_err(|error| error.exit_code()), writes.load(Ordering::Relaxed))
    };
    assert_eq!(through(io::ErrorKind::BrokenPipe), (Ok(()), 2));
    assert_eq!(through(io::ErrorKind::StorageFull).0, Err(3));
}
