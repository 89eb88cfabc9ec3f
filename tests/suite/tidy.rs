//! The code is formatted, free of lints, and its documentation builds. Tools that are not installed are passed over.

use crate::layering::sources;
use std::path::Path;
use std::process::Command;

/// Runs a cargo command in a target folder of its own (the test run holds the lock on the usual one).
fn cargo(arguments: &[&str]) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut command = Command::new(env!("CARGO"));
    command
        .current_dir(root)
        .env("CARGO_TARGET_DIR", root.join("target/tidy"))
        .env("RUSTDOCFLAGS", "-D warnings");
    let tool = arguments[0];
    let is_there =
        Command::new(env!("CARGO")).args([tool, "--version"]).output().is_ok_and(|o| o.status.success());
    if tool != "doc" && !is_there {
        eprintln!("cargo {tool} is not installed: passed over");
        return;
    }
    let output = command.args(arguments).output().expect("cargo starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        output.status.success(),
        "cargo {}:\n{}{said}",
        arguments.join(" "),
        String::from_utf8_lossy(&output.stdout)
    );
}

/// Every source file: `cargo fmt` by itself does not find those that a registry's macro declares.
fn all_sources() -> Vec<String> {
    let mut files = Vec::new();
    for folder in ["src", "tests", "benches"] {
        sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join(folder), &mut files);
    }
    files.into_iter().map(|path| path.display().to_string()).collect()
}

/// One test, so that the three do not wait for each other's lock.
#[test]
fn formatted_linted_documented() {
    let files = all_sources();
    let named: Vec<&str> = files.iter().map(String::as_str).collect();
    cargo(&[&["fmt", "--check", "--"][..], &named].concat());
    cargo(&["clippy", "--quiet", "--all-targets", "--", "-D", "warnings"]);
    cargo(&["doc", "--quiet", "--no-deps", "--lib"]);
}
