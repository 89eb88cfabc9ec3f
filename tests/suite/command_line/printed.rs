//! The text of a run, letter by letter, and its changes on a terminal.

use crate::program::{Folder, SMALL, edited};
#[cfg(target_os = "linux")]
use crate::tools::tool;

#[test]
fn a_run_piped_to_a_file() {
    let folder = Folder::with(SMALL);
    let text = folder.done(&["run", "study.toml", "--quiet"]);
    let start = "130 units built from seed 3 in ";
    let (before, after) = text.split_once(start).expect("how long it took");
    let (_, after) = after.split_once(',').expect("what follows");
    let text = format!("{before}{start}TIME,{after}");
    snapbox::assert_data_eq!(text, snapbox::file!["../../data/printed-run.txt"].raw());
}

/// On a terminal of 120 columns, which `script` of Debian's essential bsdutils stands in for.
#[cfg(target_os = "linux")]
#[test]
fn a_run_on_a_terminal_is_as_wide_as_it_and_drawn_in_blocks() {
    let name = "a fit whose name needs room";
    let folder = Folder::with(edited(SMALL, &[("name = \"fit\"", &format!("name = \"{name}\""))]));
    let piped = folder.done(&["run", "study.toml", "--quiet"]);
    let run = format!("stty cols 120; {} run study.toml --quiet", env!("CARGO_BIN_EXE_beamyield"));
    let Some(script) = tool(&["script"], "bsdutils") else { return };
    let on_terminal = |locale: &str, term: &str| {
        let mut script = std::process::Command::new(script);
        script
            .args(["-qec", &run, "/dev/null"])
            .current_dir(folder.path())
            .stdin(std::process::Stdio::null());
        script.env("LC_ALL", locale).env("TERM", term);
        let output = script.output().expect("a terminal");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).expect("text in UTF-8").replace('\r', "")
    };
    let text = on_terminal("C.UTF-8", "xterm");
    let widest = |text: &str| text.lines().map(|line| line.chars().count()).max();
    assert!(widest(&text) > Some(80) && widest(&text) <= Some(120), "{text}");
    assert!(text.contains('█') && !text.contains('\u{1b}'), "{text}");
    let rows = |text: &str| text.lines().filter(|line| line.starts_with(&format!("  {name}"))).count();
    assert!(rows(&text) > rows(&piped), "names are whole where there is room\n{text}");
    assert!(!piped.contains('█') && widest(&piped) <= Some(80), "{piped}");
    for (locale, term) in [("C", "xterm"), ("C.UTF-8", "dumb")] {
        let plain = on_terminal(locale, term);
        assert!(plain.is_ascii() && widest(&plain) > Some(80), "{plain}");
    }
}
