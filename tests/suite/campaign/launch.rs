//! A launch of the program as a child under limits of time and of memory.

use std::path::Path;
use std::process::{Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

/// Limits of a launch: far more than any needs on a slow machine, far less than a hang or a leak.
const MOST: Duration = Duration::from_secs(120);
const MOST_KIB: u64 = 3 << 20;

/// How a launch ended.
pub struct Ended {
    /// `None` when a signal ended it.
    pub code: Option<i32>,
    /// It was ended because it took longer than any launch may.
    pub is_hung: bool,
    pub out: Vec<u8>,
    pub err: Vec<u8>,
    pub took: Duration,
}

/// Runs the program in a folder to its end. Its output goes to two files in `said`, so that no pipe fills up.
#[allow(clippy::disallowed_methods, reason = "what a child says is kept in files that only this test reads")]
pub fn launch(folder: &Path, said: &Path, arguments: &[String]) -> Ended {
    let [out, err] = ["out", "err"].map(|name| said.join(name));
    let start = Instant::now();
    let mut child = command(arguments)
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(std::fs::File::create(&out).expect("a file for its output"))
        .stderr(std::fs::File::create(&err).expect("a file for its messages"))
        .spawn()
        .expect("the program starts");
    let status = wait(&mut child, start + MOST);
    let took = start.elapsed();
    let read = |path: &Path| std::fs::read(path).expect("what it said");
    Ended {
        code: status.and_then(|status| status.code()),
        is_hung: status.is_none(),
        out: read(&out),
        err: read(&err),
        took,
    }
}

/// The program with these arguments, its address space limited where there is a shell that can.
fn command(arguments: &[String]) -> Command {
    let program = env!("CARGO_BIN_EXE_beamyield");
    if cfg!(not(unix)) {
        let mut command = Command::new(program);
        command.args(arguments);
        return command;
    }
    let mut command = Command::new("sh");
    let limited = format!("ulimit -v {MOST_KIB} 2> /dev/null; exec \"$@\"");
    command.args(["-c", &limited, "sh", program]).args(arguments);
    command
}

/// Waits for a child until a moment; one that is not done by then is ended, which is `None`.
pub fn wait(child: &mut std::process::Child, until: Instant) -> Option<ExitStatus> {
    let mut pause = Duration::from_millis(1);
    loop {
        if let Some(status) = child.try_wait().expect("the state of a child") {
            return Some(status);
        }
        if Instant::now() > until {
            child.kill().expect("a child that is ended");
            child.wait().expect("its end");
            return None;
        }
        std::thread::sleep(pause);
        pause = (2 * pause).min(Duration::from_millis(20));
    }
}
