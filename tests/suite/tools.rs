//! Tools of the machine that some checks need, installed where they are missing and that is possible.

use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::sync::{Mutex, PoisonError};

/// The first of these names that starts a tool here. Where none does, its package of Debian is installed; `None`, and [`skipped`], where
/// that is not possible.
pub fn tool(names: &[&'static str], package: &str) -> Option<&'static str> {
    // Two installations at a time would lock each other out.
    static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
    let _turn = ONE_AT_A_TIME.lock().unwrap_or_else(PoisonError::into_inner);
    let starts =
        |name: &&str| Command::new(name).arg("--version").output().is_ok_and(|of| of.status.success());
    let find = || names.iter().copied().find(starts);
    let found = find().or_else(|| {
        for words in [&["update"][..], &["install", "--yes", "--no-install-recommends", package]] {
            // Whether it worked is seen by what is there then.
            let _ = Command::new("apt-get").args(words).env("DEBIAN_FRONTEND", "noninteractive").output();
        }
        find()
    });
    if found.is_none() {
        skipped(&format!("`{}` is not installed, and apt-get cannot install {package}", names[0]));
    }
    found
}

/// Python with a library, imported by a name, which pip installs into the folder for temporary files of tests where it is missing;
/// `None`, and [`skipped`], where that is not possible.
pub fn python(library: &str, package: &str) -> Option<Command> {
    static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
    let _turn = ONE_AT_A_TIME.lock().unwrap_or_else(PoisonError::into_inner);
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("python");
    let python = || {
        let mut python = Command::new("python3");
        python.env("PYTHONPATH", &folder).env("PYTHONUTF8", "1");
        python
    };
    let has = || {
        python().args(["-c", &format!("import {library}")]).output().is_ok_and(|ended| ended.status.success())
    };
    if !has() {
        // Whether it worked is seen by what is there then.
        let _ =
            python().args(["-m", "pip", "install", "--quiet", "--target"]).arg(&folder).arg(package).output();
        if !has() {
            skipped(&format!("python3 has no {library}, and pip cannot install {package}"));
            return None;
        }
    }
    Some(python())
}

/// Says, past the capture of a test's output, that a check is skipped and why. With `CI` set nothing may be skipped: the test fails.
pub fn skipped(why: &str) {
    assert!(std::env::var_os("CI").is_none(), "CI is set, and a check cannot run: {why}");
    let _ = writeln!(std::io::stderr(), "SKIPPED: {why}");
}
