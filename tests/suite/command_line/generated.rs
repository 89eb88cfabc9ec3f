//! Completions and manual pages, generated from the command line's definition.

use crate::program::Folder;
use crate::tools::tool;
use std::process::Command;

/// Every command that the help lists.
pub fn commands(folder: &Folder) -> Vec<String> {
    let help = folder.done(&["--help"]);
    let (_, list) = help.split_once("Commands:\n").expect("the commands");
    let names = list.lines().map_while(|line| line.strip_prefix("  "));
    // A line that goes on is indented further.
    let names = names.filter(|line| !line.starts_with(' ')).filter_map(|line| line.split(' ').next());
    let names: Vec<String> = names.map(str::to_owned).collect();
    assert!(names.len() >= 12 && names.contains(&"run".to_owned()), "{names:?}");
    names
}

/// A tool, of the package of the same name, finds nothing wrong with a file.
fn accepts(folder: &Folder, name: &'static str, arguments: &[&str]) {
    let Some(tool) = tool(&[name], name) else { return };
    let ended = Command::new(tool).args(arguments).current_dir(folder.path()).output().expect("it starts");
    let messages = String::from_utf8_lossy(&ended.stderr);
    assert!(ended.status.success() && messages.is_empty(), "{tool} {arguments:?}: {messages}");
}

#[test]
fn completions_name_every_command() {
    let folder = Folder::with("");
    let commands = commands(&folder);
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = folder.done(&["completions", shell]);
        for word in commands.iter().map(String::as_str).chain(["calibration", "set", "threads"]) {
            assert!(script.contains(word), "{shell}: {word}");
        }
        folder.put(shell, script);
    }
    accepts(&folder, "bash", &["-n", "bash"]);
    accepts(&folder, "zsh", &["-n", "zsh"]);
    accepts(&folder, "fish", &["--no-execute", "fish"]);
    assert!(folder.refused(&["completions", "abacus"]).contains("bash"));
}

/// Bash itself completes a command by its first letters, and an option of it.
#[test]
fn bash_completes() {
    let folder = Folder::with("");
    folder.put("script", folder.done(&["completions", "bash"]));
    let Some(bash) = tool(&["bash"], "bash") else { return };
    let completed = |words: &str, word: usize| {
        let ask = format!(
            "source ./script; COMP_WORDS=({words}); COMP_CWORD={word}; _beamyield beamyield \
             \"${{COMP_WORDS[{word}]}}\" \"${{COMP_WORDS[{}]}}\"; echo \"${{COMPREPLY[@]}}\"",
            word - 1
        );
        let mut bash = Command::new(bash);
        let ended = bash.args(["--norc", "-c", &ask]).current_dir(folder.path()).output().expect("it starts");
        String::from_utf8_lossy(&ended.stdout).trim().to_owned()
    };
    assert_eq!(completed("beamyield swe", 1), "sweep");
    assert_eq!(completed("beamyield run --require", 2), "--require-yield");
}

#[test]
fn a_manual_page_for_each_command() {
    let folder = Folder::with("");
    let commands = commands(&folder);
    let page = folder.done(&["man"]);
    for part in [".TH beamyield 1", "Exit codes", "Examples", "studies/quay\\-link\\-16.toml"] {
        assert!(page.contains(part), "{part}");
    }
    std::fs::create_dir(folder.path().join("man1")).expect("a folder");
    assert_eq!(folder.done(&["man", "man1"]), "");
    assert_eq!(std::fs::read_dir(folder.path().join("man1")).expect("the pages").count(), commands.len() + 1);
    assert_eq!(folder.read("man1/beamyield.1"), page);
    for command in &commands {
        assert!(page.contains(&format!("beamyield\\-{command}(1)")), "{command}");
        let name = format!("man1/beamyield-{command}.1");
        let of = folder.read(&name);
        assert!(of.contains(&format!(".TH beamyield-{command} 1")) && of.contains("SYNOPSIS"), "{of}");
        accepts(&folder, "groff", &["-man", "-Tutf8", "-ww", "-z", &name]);
    }
    assert!(folder.read("man1/beamyield-run.1").contains("\\-\\-require\\-yield"));
    assert!(folder.refused(&["man", "nowhere"]).contains("does not exist"));
}
