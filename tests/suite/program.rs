//! The program itself, run in a folder of its own for each test.

pub(crate) use crate::folder::{Folder, SMALL, edited};
#[cfg(unix)]
use crate::watched::Watched;
use serde_json::Value;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};

/// How a run of the program ended.
pub struct Ended {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

impl Folder {
    pub fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path().join(name)).expect(name)
    }

    pub fn json(&self, name: &str) -> Value {
        serde_json::from_str(&self.read(name)).expect(name)
    }

    /// Names of all files in the folder, sorted.
    pub fn names(&self) -> Vec<PathBuf> {
        let entries = std::fs::read_dir(self.path()).expect("the folder");
        let mut names: Vec<PathBuf> = entries.map(|entry| entry.expect("an entry").path()).collect();
        names.sort();
        names
    }

    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_beamyield"));
        command.args(arguments).current_dir(self.path()).stdin(Stdio::null());
        command
    }

    /// The same, deaf to no signal to stop, even if the tests themselves ignore it.
    #[cfg(unix)]
    pub fn heeding(&self, arguments: &[&str]) -> Command {
        if !cfg!(target_os = "linux") {
            return self.command(arguments);
        }
        let mut command = Command::new("env");
        command.args(["--default-signal=INT,TERM,HUP", env!("CARGO_BIN_EXE_beamyield")]);
        command.args(arguments).current_dir(self.path()).stdin(Stdio::null());
        command
    }

    /// Runs the program to its end, which must not be a fault of its own.
    pub fn run(&self, arguments: &[&str]) -> Ended {
        ended(self.command(arguments).output().expect("the program starts"))
    }

    /// Runs the program, stops it by the signal of Ctrl-C once its progress is where it must be (as [`Watched::wait_for`] has it), and waits
    /// for its end, which must be that of a stopped one.
    #[cfg(unix)]
    pub fn stopped(&self, arguments: &[&str], is_there: impl Fn(&[u64]) -> bool) -> Ended {
        let mut launch = Watched::launch(self.heeding(arguments).stdout(Stdio::piped()));
        launch.wait_for(is_there);
        launch.signal(nix::sys::signal::Signal::SIGINT);
        let ended = launch.end_within(std::time::Duration::from_secs(60));
        assert_eq!(ended.code, Some(3), "{}", ended.err);
        ended
    }

    /// Runs the program, which must end well, and answers with its standard output.
    pub fn done(&self, arguments: &[&str]) -> String {
        let ended = self.run(arguments);
        assert_eq!(ended.code, Some(0), "{arguments:?}\n{}", ended.err);
        ended.out
    }

    /// Runs the program, which must refuse its input: exit code 2, nothing on standard output, the folder as it was.
    /// Returns its output.
    pub fn refused(&self, arguments: &[&str]) -> String {
        let before = self.names();
        let ended = self.run(arguments);
        assert_eq!(ended.code, Some(2), "{arguments:?}\n{}{}", ended.out, ended.err);
        assert_eq!(ended.out, "", "{arguments:?}");
        assert_eq!(self.names(), before, "{arguments:?}");
        ended.err
    }
}

/// The result of a finished process; it must not have been a fault.
pub fn ended(output: Output) -> Ended {
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text in UTF-8");
    let (out, err) = (text(output.stdout), text(output.stderr));
    for fault in ["panicked", "has a fault", "memory allocation"] {
        assert!(!err.contains(fault), "{err}");
    }
    Ended { code: output.status.code(), out, err }
}

/// Places of nulls, which no document holds: what is absent is an absent key, and no number is beyond JSON.
pub fn nulls(of: &Value) -> Vec<String> {
    match of {
        Value::Null => vec![String::new()],
        Value::Array(items) => {
            let places = items.iter().enumerate();
            places
                .flat_map(|(i, item)| nulls(item).into_iter().map(move |place| format!("/{i}{place}")))
                .collect()
        }
        Value::Object(entries) => {
            let places = entries.iter();
            places
                .flat_map(|(key, item)| nulls(item).into_iter().map(move |place| format!("/{key}{place}")))
                .collect()
        }
        _ => Vec::new(),
    }
}
