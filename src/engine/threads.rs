//! Threads to work on.

use crate::error::Error;
use rayon::{ThreadPool, ThreadPoolBuilder};

/// A pool of so many threads, 0 for one a core.
///
/// Errors: a pool that cannot be made.
pub fn pool(threads: usize) -> Result<ThreadPool, Error> {
    ThreadPoolBuilder::new().num_threads(threads).build().map_err(|error| Error::Threads(error.to_string()))
}
