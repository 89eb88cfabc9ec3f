//! Files in the making, which no reader sees before they are whole.
//!
//! Where the system can, such a file has no name until then, so that nothing is left of it whatever ends the process. Elsewhere it
//! has a hidden name, which holds the process's number; such files of processes that are gone are taken away when another is
//! made beside them.

use std::collections::BTreeSet;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::mem;
use std::path::{Path, PathBuf};
use std::process;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

const BEFORE: &str = ".beamyield-";
const BEHIND: &str = ".part";

/// Hidden names that stand on the disk. Who holds the lock may give a file a name or take one away.
static HIDDEN: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());

fn hidden() -> MutexGuard<'static, BTreeSet<PathBuf>> {
    HIDDEN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Takes away all that is hidden and unfinished, for a process that ends now: no file gets a name any more.
pub(crate) fn abandon() {
    let mut names = hidden();
    remove_all(&mut names);
    mem::forget(names);
}

fn remove_all(names: &mut BTreeSet<PathBuf>) {
    for name in mem::take(names) {
        // One that cannot be taken away is left to the next writer there.
        let _ = fs::remove_file(name);
    }
}

/// A file in the making, beside the place where it will stand.
#[derive(Debug)]
pub(super) struct Temporary {
    file: File,
    folder: PathBuf,
    /// `None` as long as it has no name.
    name: Option<PathBuf>,
}

impl Temporary {
    /// In a folder.
    pub(super) fn create(folder: &Path) -> io::Result<Temporary> {
        sweep(folder);
        match unnamed(folder) {
            Some(file) => Ok(Temporary { file, folder: folder.to_owned(), name: None }),
            None => Temporary::named(folder),
        }
    }

    /// With a hidden name.
    pub(super) fn named(folder: &Path) -> io::Result<Temporary> {
        let mut names = hidden();
        loop {
            let name = free_name(folder);
            match OpenOptions::new().write(true).create_new(true).open(&name) {
                Ok(file) => {
                    // Held as long as it is open, so that no other machine takes it for one that is left over.
                    let _ = file.try_lock();
                    names.insert(name.clone());
                    return Ok(Temporary { file, folder: folder.to_owned(), name: Some(name) });
                }
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(error),
            }
        }
    }

    /// Lets it stand at `target`, in place of what was there, whose mode and owner it gets as far as that is allowed.
    pub(super) fn keep(mut self, target: &Path) -> io::Result<()> {
        self.file.sync_all()?;
        let mut names = hidden();
        let is_new = !target.exists();
        if !is_new {
            take_after(&self.file, target);
        }
        let name = match self.name.take() {
            Some(name) => name,
            None if is_new && link(&self.file, target).is_ok() => return Ok(()),
            None => loop {
                let name = free_name(&self.folder);
                match link(&self.file, &name) {
                    Ok(()) => break name,
                    Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                    Err(error) => return Err(error),
                }
            },
        };
        let renamed = fs::rename(&name, target);
        if renamed.is_err() {
            let _ = fs::remove_file(&name);
        }
        names.remove(&name);
        renamed
    }
}

impl Write for Temporary {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Drop for Temporary {
    fn drop(&mut self) {
        if let Some(name) = self.name.take() {
            let mut names = hidden();
            let _ = fs::remove_file(&name);
            names.remove(&name);
        }
    }
}

/// A hidden name that this process has not used before.
fn free_name(folder: &Path) -> PathBuf {
    static NEXT: AtomicU64 = AtomicU64::new(0);
    let number = NEXT.fetch_add(1, Ordering::Relaxed);
    folder.join(format!("{BEFORE}{}-{number}{BEHIND}", process::id()))
}

/// The process that a hidden name is of.
fn process_of(name: &str) -> Option<i32> {
    let (process, _) = name.strip_prefix(BEFORE)?.strip_suffix(BEHIND)?.split_once('-')?;
    process.parse().ok().filter(|process| *process > 0)
}

/// Takes away the hidden files of processes that are gone.
fn sweep(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let process = entry.file_name().to_str().and_then(process_of);
        if process.is_some_and(is_gone) && is_free(&entry.path()) {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// Whether no process holds it: a process of another machine with this folder might.
fn is_free(path: &Path) -> bool {
    File::open(path).is_ok_and(|file| file.try_lock().is_ok())
}

#[cfg(unix)]
fn is_gone(process: i32) -> bool {
    use rustix::io::Errno;
    use rustix::process::{Pid, test_kill_process};
    let process = Pid::from_raw(process);
    process.is_some_and(|process| test_kill_process(process) == Err(Errno::SRCH))
}

#[cfg(not(unix))]
fn is_gone(_: i32) -> bool {
    false
}

/// A file without a name, where the folder's file system has such.
#[cfg(target_os = "linux")]
fn unnamed(folder: &Path) -> Option<File> {
    use rustix::fs::{Mode, OFlags, open};
    // It gets its name by way of this folder.
    if !Path::new(DESCRIPTORS).is_dir() {
        return None;
    }
    let flags = OFlags::TMPFILE | OFlags::WRONLY | OFlags::CLOEXEC;
    open(folder, flags, Mode::from_raw_mode(0o666)).ok().map(File::from)
}

#[cfg(not(target_os = "linux"))]
fn unnamed(_: &Path) -> Option<File> {
    None
}

#[cfg(target_os = "linux")]
const DESCRIPTORS: &str = "/proc/self/fd";

/// Gives a file that has none a name that is free.
#[cfg(target_os = "linux")]
fn link(file: &File, name: &Path) -> io::Result<()> {
    use rustix::fs::{AtFlags, CWD, linkat};
    use std::os::fd::AsRawFd;
    let own = format!("{DESCRIPTORS}/{}", file.as_raw_fd());
    Ok(linkat(CWD, own, CWD, name, AtFlags::SYMLINK_FOLLOW)?)
}

#[cfg(not(target_os = "linux"))]
fn link(_: &File, _: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

/// Gives a file the owner and the mode of another, as far as that is allowed.
#[cfg(unix)]
fn take_after(file: &File, other: &Path) {
    use std::os::unix::fs::{MetadataExt, fchown};
    let Ok(of) = other.metadata() else { return };
    // The owner first: a change of it takes bits of the mode away.
    if fchown(file, Some(of.uid()), Some(of.gid())).is_err() {
        let _ = fchown(file, None, Some(of.gid()));
    }
    let _ = file.set_permissions(of.permissions());
}

#[cfg(not(unix))]
fn take_after(_: &File, _: &Path) {}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
    }

    #[test]
    fn a_named_one_becomes_its_target_or_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("out");
        let mut file = Temporary::named(folder.path()).unwrap();
        file.write_all(b"whole").unwrap();
        assert!(names(folder.path()).iter().all(|name| process_of(name) == Some(process::id() as i32)));
        file.keep(&target).unwrap();
        assert_eq!(names(folder.path()), ["out"]);
        assert_eq!(fs::read(&target).unwrap(), b"whole");
        let file = Temporary::named(folder.path()).unwrap();
        assert_eq!(names(folder.path()).len(), 2);
        drop(file);
        assert_eq!(names(folder.path()), ["out"]);
    }

    #[test]
    fn what_is_registered_can_be_taken_away() {
        let folder = tempfile::tempdir().unwrap();
        let file = Temporary::named(folder.path()).unwrap();
        let name = file.name.clone().unwrap();
        assert!(hidden().contains(&name));
        remove_all(&mut BTreeSet::from([name]));
        assert!(names(folder.path()).is_empty());
    }

    /// No process has the largest number that there can be: Linux ends at 2^22.
    #[cfg(unix)]
    #[test]
    fn files_of_processes_that_are_gone_are_swept_away_and_no_others() {
        let folder = tempfile::tempdir().unwrap();
        let stale = format!("{BEFORE}{}-0{BEHIND}", i32::MAX);
        let kept =
            [format!("{BEFORE}{}-7{BEHIND}", process::id()), "own.part".into(), format!("{BEFORE}x{BEHIND}")];
        for name in kept.iter().chain([&stale]) {
            fs::write(folder.path().join(name), "").unwrap();
        }
        // One that somebody holds is in the making elsewhere.
        let held = folder.path().join(format!("{BEFORE}{}-1{BEHIND}", i32::MAX));
        let file = File::create(&held).unwrap();
        file.lock().unwrap();
        drop(Temporary::create(folder.path()).unwrap());
        let left = names(folder.path());
        assert!(kept.iter().all(|name| left.contains(name)) && !left.contains(&stale), "{left:?}");
        assert!(held.exists());
        drop(file);
        drop(Temporary::create(folder.path()).unwrap());
        assert!(!held.exists());
    }
}
