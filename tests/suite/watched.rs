//! A launch whose messages go to a terminal, where the program draws its progress, so that a test sees how far it is.

use crate::campaign::launch::wait;
use crate::program::{Ended, ended};

use nix::pty::{Winsize, openpty};
use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use rustix::io::{FdFlags, fcntl_setfd};
use std::fs::File;
use std::io::{BufRead, BufReader, ErrorKind, Read};
use std::process::{Child, ChildStdout, Command, ExitStatus, Output, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Within this a launch has begun its work, however slow the machine.
const TO_BEGIN: Duration = Duration::from_secs(60);

/// Wide enough for a whole line of progress.
const TERMINAL: Winsize = Winsize { ws_row: 24, ws_col: 120, ws_xpixel: 0, ws_ypixel: 0 };

pub struct Watched {
    pub child: Child,
    drawn: Receiver<Vec<u8>>,
    /// All that was drawn so far.
    text: Vec<u8>,
}

impl Watched {
    /// Launches a command, its standard error a terminal of its own.
    pub fn launch(command: &mut Command) -> Watched {
        let terminal = openpty(&TERMINAL, None).expect("a terminal");
        // Launches of other tests at the same time do not take it with them.
        for end in [&terminal.master, &terminal.slave] {
            fcntl_setfd(end, FdFlags::CLOEXEC).expect("a terminal of this launch alone");
        }
        let child = command.stderr(terminal.slave).spawn().expect("the program starts");
        // While the command holds the program's end of the terminal, nothing ends it.
        command.stderr(Stdio::null());
        let mut screen = File::from(terminal.master);
        let (sender, drawn) = channel();
        // Read all the time, so that the program never waits for its terminal.
        std::thread::spawn(move || {
            let mut buffer = [0; 4096];
            loop {
                match screen.read(&mut buffer) {
                    Err(error) if error.kind() == ErrorKind::Interrupted => {}
                    // Linux reports an error when the last program has closed its end.
                    Ok(0) | Err(_) => return,
                    Ok(count) if sender.send(buffer[..count].to_vec()).is_err() => return,
                    Ok(_) => {}
                }
            }
        });
        Watched { child, drawn, text: Vec::new() }
    }

    /// Waits until the progress shows the first units done.
    pub fn wait_for_work(&mut self) {
        self.wait_for(|done| !done.is_empty());
    }

    /// Waits until the progress is where it must be, by the units done that it showed so far; the program is then still at work.
    pub fn wait_for(&mut self, is_there: impl Fn(&[u64]) -> bool) {
        let until = Instant::now() + TO_BEGIN;
        while !is_there(&done(&self.text())) {
            match self.drawn.recv_timeout(until.saturating_duration_since(Instant::now())) {
                Ok(more) => self.text.extend(more),
                Err(RecvTimeoutError::Timeout) => {
                    self.child.kill().expect("its end");
                    panic!("not the progress within {TO_BEGIN:?}: {}", self.text());
                }
                Err(RecvTimeoutError::Disconnected) => panic!("it has ended: {}", self.text()),
            }
        }
        assert!(self.child.try_wait().expect("its state").is_none(), "still at work");
    }

    /// Waits until the program takes a signal itself. Source: proc(5), `SigCgt`, signal n in bit n - 1.
    #[cfg(target_os = "linux")]
    pub fn wait_until_it_hears(&self, signal: Signal) {
        let until = Instant::now() + TO_BEGIN;
        let hears = || {
            let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).ok()?;
            let mask = status.lines().find_map(|line| line.strip_prefix("SigCgt:"))?;
            Some(u64::from_str_radix(mask.trim(), 16).ok()? >> (signal as i32 - 1) & 1 == 1)
        };
        while hears() != Some(true) {
            assert!(Instant::now() < until, "it does not hear {signal} within {TO_BEGIN:?}");
            std::thread::yield_now();
        }
    }

    /// Sends a signal; the launch may have ended but was not waited for, so that its number is no other's.
    pub fn signal(&self, signal: Signal) {
        kill(Pid::from_raw(self.child.id() as i32), signal).expect("a signal");
    }

    /// Waits for the first line of a standard output that is a pipe: the first units are done.
    pub fn read_a_line(&mut self) -> BufReader<ChildStdout> {
        let mut reader = BufReader::new(self.take_stdout());
        let mut line = String::new();
        reader.read_line(&mut line).expect("its output");
        assert!(line.ends_with('\n'), "it has ended: {line}");
        reader
    }

    pub fn take_stdout(&mut self) -> ChildStdout {
        self.child.stdout.take().expect("its output")
    }

    /// Its end, which must come within a time.
    pub fn end_within(mut self, within: Duration) -> Ended {
        assert!(self.wait(within).is_some(), "still at work after {within:?}: {}", self.text());
        let stderr = self.messages().into_bytes();
        ended(Output { stderr, ..self.child.wait_with_output().expect("its end") })
    }

    /// How it ended; `None` when it did not within a time and was killed.
    pub fn wait(&mut self, within: Duration) -> Option<ExitStatus> {
        wait(&mut self.child, Instant::now() + within)
    }

    /// What it said beside its progress, once it has ended.
    pub fn messages(&mut self) -> String {
        self.text.extend(self.drawn.iter().flatten());
        messages(&self.text())
    }

    fn text(&self) -> String {
        String::from_utf8_lossy(&self.text).into_owned()
    }
}

/// The units done that each line of progress shows, in their order.
fn done(text: &str) -> Vec<u64> {
    let mut before: Vec<&str> = text.split(" units, ").collect();
    before.pop();
    let number = |before: &str| before.rsplit_once(" of ")?.0.rsplit([' ', '\r']).next()?.parse().ok();
    before.into_iter().filter_map(number).collect()
}

/// What was said beside the progress, line by line, without colours and moves of the cursor.
fn messages(text: &str) -> String {
    let mut parts = text.split('\u{1b}');
    let mut plain = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        // A sequence ends with its first letter.
        plain += part.split_once(|c: char| c.is_ascii_alphabetic()).map_or("", |(_, after)| after);
    }
    // A line of progress is filled up with spaces, and what is said next follows them.
    let lines = plain.split(['\r', '\n']).map(|line| match line.split_once(" units, ") {
        Some((before, after)) if before.contains(" of ") => {
            after.split_once(" left").map_or("", |(_, said)| said.trim())
        }
        _ => line,
    });
    lines.filter(|line| !line.is_empty()).map(|line| format!("{line}\n")).collect()
}

#[test]
fn progress_and_messages_are_told_apart() {
    let bar = "\r\u{1b}[2K=>      128 of 6000 units, 900 a second, 6s left     ";
    assert_eq!(done(bar), [128]);
    assert_eq!(done(&format!("{bar}{}", bar.replace("128", "192"))), [128, 192]);
    assert_eq!(done("stopped after 3 of 5 units\n"), [0; 0]);
    let said = format!(
        "{bar}stopping; finishing at most 128 units\r\n{bar}\r\u{1b}[2K\u{1b}[1merror\u{1b}[0m: stopped after 3 of 5 trials\r\n"
    );
    assert_eq!(
        messages(&said),
        "stopping; finishing at most 128 units\nerror: stopped after 3 of 5 trials\n"
    );
    assert_eq!(
        messages("stopped after 128 of 900 trials, 3 units of 7\n"),
        "stopped after 128 of 900 trials, 3 units of 7\n"
    );
}
