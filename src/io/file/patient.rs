//! Waiting for the other end of a stream, with an ear for the stop.

use std::fs::Metadata;
use std::io;
use std::os::fd::{AsFd, BorrowedFd};
use std::os::unix::fs::FileTypeExt;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::io::Errno;

use super::same::Identity;
use crate::io::stop;

/// How often a wait checks whether to stop.
const LOOK: Timespec = Timespec { tv_sec: 0, tv_nsec: 50_000_000 };

/// How long a reader that takes nothing is waited for after a stop.
const GRACE: Duration = Duration::from_millis(150);

/// A pipe that has room takes this much at once. Source: POSIX, `PIPE_BUF` of <limits.h>: 4,096 on Linux, 512 at least.
const ROOM: usize = if cfg!(target_os = "linux") { 4096 } else { 512 };

/// Whether something can make its writer wait.
pub(super) fn waits(is: &Metadata) -> bool {
    let is = is.file_type();
    is.is_fifo() || is.is_socket() || is.is_char_device()
}

/// Writes what is taken at once. One that waits gives up some time after a stop: [`io::ErrorKind::TimedOut`].
pub(super) fn write(to: impl AsFd, bytes: &[u8], waits: bool) -> io::Result<usize> {
    if !waits {
        return Ok(rustix::io::write(to, bytes)?);
    }
    let mut stopped: Option<Instant> = None;
    loop {
        if is_ready(to.as_fd(), PollFlags::OUT, &LOOK)? {
            match rustix::io::write(&to, &bytes[..bytes.len().min(ROOM)]) {
                Err(Errno::AGAIN) => {}
                written => return Ok(written?),
            }
        }
        if stop::switch().load(Ordering::Relaxed)
            && stopped.get_or_insert_with(Instant::now).elapsed() >= GRACE
        {
            return Err(io::ErrorKind::TimedOut.into());
        }
    }
}

/// Whether a stream is ready within some time.
pub(super) fn is_ready(stream: BorrowedFd, wanted: PollFlags, within: &Timespec) -> io::Result<bool> {
    match poll(&mut [PollFd::new(&stream, wanted)], Some(within)) {
        Ok(count) => Ok(count > 0),
        Err(Errno::INTR) => Ok(false),
        Err(error) => Err(error.into()),
    }
}

/// Whether a write would not have to wait.
pub(super) fn is_ready_now(stream: BorrowedFd) -> bool {
    is_ready(stream, PollFlags::OUT, &Timespec { tv_sec: 0, tv_nsec: 0 }).unwrap_or(false)
}

/// Waits until the reader of standard output goes away; where none can, answers false at once.
pub(crate) fn wait_for_reader_to_go() -> bool {
    let to = rustix::stdio::stdout();
    let can_go = |is: &Metadata| is.file_type().is_fifo() || is.file_type().is_socket();
    if !Identity::of_stream(to).is_some_and(|(_, is)| can_go(&is)) {
        return false;
    }
    // Nothing is asked for, so what comes is that the other end is gone.
    loop {
        match poll(&mut [PollFd::new(&to, PollFlags::empty())], None) {
            Ok(_) => return true,
            Err(Errno::INTR) => {}
            Err(_) => return false,
        }
    }
}
