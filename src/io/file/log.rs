//! A file that records are only added to.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use crate::error::{Error, Result};

/// The largest record, bytes: a longer one is no record.
const LARGEST: u32 = 1 << 30;

/// Adds records to a file.
pub(crate) struct Log {
    path: PathBuf,
    file: BufWriter<File>,
    bytes: u64,
}

impl Log {
    /// Opens a log, or makes it, and drops what is beyond its first `bytes`.
    ///
    /// # Errors
    /// [`Error::File`] when the machine fails; [`Error::Part`] when the log is shorter.
    pub(crate) fn open(path: &Path, bytes: u64) -> Result<Log> {
        let failed = |source| Error::File { path: path.to_owned(), doing: "write", source };
        let open = OpenOptions::new().write(true).create(true).truncate(false).open(path);
        let mut file = open.map_err(failed)?;
        // Held as long as it is open: a task that is started again may meet the one that it replaces. Not every file system has locks.
        if matches!(file.try_lock(), Err(TryLockError::WouldBlock)) {
            let reason = "another process is writing to it".to_owned();
            return Err(Error::Part { path: path.to_owned(), reason });
        }
        let there = file.metadata().map_err(failed)?.len();
        if there < bytes {
            let reason = format!("it has {there} bytes, and the part that it belongs to counts on {bytes}");
            return Err(Error::Part { path: path.to_owned(), reason });
        }
        file.set_len(bytes).map_err(failed)?;
        file.seek(SeekFrom::End(0)).map_err(failed)?;
        Ok(Log { path: path.to_owned(), file: BufWriter::new(file), bytes })
    }

    /// Adds a record.
    ///
    /// # Errors
    /// [`Error::File`].
    pub(crate) fn add(&mut self, record: &[u8]) -> Result<()> {
        let length = record.len() as u32;
        let mut write = |bytes: &[u8]| self.file.write_all(bytes);
        let written = write(&length.to_le_bytes()).and_then(|()| write(&hash(record).to_le_bytes()));
        written.and_then(|()| write(record)).map_err(|source| self.failure(source))?;
        self.bytes += 12 + u64::from(length);
        Ok(())
    }

    /// Waits until all records are on the disk; returns the bytes that they take.
    ///
    /// # Errors
    /// [`Error::File`].
    pub(crate) fn sync(&mut self) -> Result<u64> {
        let synced = self.file.flush().and_then(|()| self.file.get_ref().sync_data());
        synced.map_err(|source| self.failure(source))?;
        Ok(self.bytes)
    }

    /// The error of a record that cannot be added.
    pub(crate) fn failure(&self, source: io::Error) -> Error {
        Error::File { path: self.path.clone(), doing: "write", source }
    }
}

/// Hands the records among the first `bytes` of a log to `take`, in order.
///
/// # Errors
/// [`Error::File`] when the log cannot be read, [`Error::Part`] when it is damaged, those of `take`.
pub(crate) fn read_log(path: &Path, bytes: u64, mut take: impl FnMut(&[u8]) -> Result<()>) -> Result<()> {
    let failed = |source| Error::File { path: path.to_owned(), doing: "read", source };
    let damaged = || Error::Part { path: path.to_owned(), reason: "it is damaged".to_owned() };
    let mut file = BufReader::with_capacity(1 << 20, File::open(path).map_err(failed)?).take(bytes);
    let mut record = Vec::new();
    while file.limit() > 0 {
        let (mut length, mut expected) = ([0; 4], [0; 8]);
        file.read_exact(&mut length).and_then(|()| file.read_exact(&mut expected)).map_err(|_| damaged())?;
        let length = u32::from_le_bytes(length);
        if length > LARGEST {
            return Err(damaged());
        }
        record.clear();
        let read = (&mut file).take(length.into()).read_to_end(&mut record).map_err(failed)?;
        if read != length as usize || hash(&record) != u64::from_le_bytes(expected) {
            return Err(damaged());
        }
        take(&record)?;
    }
    Ok(())
}

/// FNV-1a over words of eight bytes, the last one filled up: damage shows, forgery does not.
pub(crate) fn hash(bytes: &[u8]) -> u64 {
    let start = 0xcbf2_9ce4_8422_2325 ^ bytes.len() as u64;
    bytes.chunks(8).fold(start, |hash, chunk| {
        let mut word = [0; 8];
        word[..chunk.len()].copy_from_slice(chunk);
        let mixed = (hash ^ u64::from_le_bytes(word)).wrapping_mul(0x0000_0100_0000_01b3);
        mixed ^ mixed >> 32
    })
}
