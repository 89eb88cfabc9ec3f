//! Threads to work on.

use crate::error::Error;
#[cfg(feature = "threads")]
use std::{env, thread::available_parallelism};

/// Most threads that can be asked for.
pub(crate) const MOST_THREADS: usize = 1024;

/// The variable of the environment that gives the number of threads where the command line does not.
#[cfg(feature = "threads")]
const VARIABLE: &str = "RAYON_NUM_THREADS";

/// The number of threads for a number that is asked for: 0 stands for as many as the environment asks for, else one a core. Without the
/// feature `threads` it is 1.
///
/// # Errors
/// [`Error::Input`] when the environment asks for no number up to [`MOST_THREADS`].
pub(crate) fn threads(asked: usize) -> Result<usize, Error> {
    #[cfg(not(feature = "threads"))]
    return Ok(asked.clamp(1, 1));
    #[cfg(feature = "threads")]
    of(asked, env::var_os(VARIABLE).map(|text| text.to_string_lossy().into_owned()).as_deref())
}

#[cfg(feature = "threads")]
fn of(asked: usize, variable: Option<&str>) -> Result<usize, Error> {
    let cores = || available_parallelism().map_or(1, usize::from).min(MOST_THREADS);
    match (asked, variable.map(str::trim)) {
        (0, None | Some("")) => Ok(cores()),
        (0, Some(text)) => match text.parse() {
            Ok(0) => Ok(cores()),
            Ok(count) if count <= MOST_THREADS => Ok(count),
            _ => Err(Error::Input(format!(
                "error: the environment asks for `{VARIABLE}={}` threads: a whole number from 0 to {MOST_THREADS} is \
                 needed, 0 for one a core\n",
                text.escape_debug()
            ))),
        },
        (count, _) => Ok(count),
    }
}

/// The threads that a run works on: without the feature `threads`, the calling thread alone.
#[derive(Debug)]
pub(crate) struct Pool {
    #[cfg(feature = "threads")]
    pool: rayon::ThreadPool,
}

impl Pool {
    /// A pool of so many threads, as [`threads`] counts them.
    ///
    /// # Errors
    /// As [`threads`]; [`Error::Threads`] when the system starts none.
    #[cfg(feature = "threads")]
    pub(crate) fn new(asked: usize) -> Result<Pool, Error> {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads(asked)?).build();
        pool.map(|pool| Pool { pool }).map_err(|error| Error::Threads(error.into()))
    }

    /// The calling thread.
    ///
    /// # Errors
    /// As [`threads`].
    #[cfg(not(feature = "threads"))]
    pub fn new(asked: usize) -> Result<Pool, Error> {
        threads(asked).map(|_| Pool {})
    }

    /// How many threads there are.
    pub(crate) fn size(&self) -> usize {
        #[cfg(feature = "threads")]
        return self.pool.current_num_threads();
        #[cfg(not(feature = "threads"))]
        1
    }

    /// Does work in which [`in_parallel`] uses the threads of this pool.
    pub(crate) fn install<T: Send>(&self, work: impl FnOnce() -> T + Send) -> T {
        #[cfg(feature = "threads")]
        return self.pool.install(work);
        #[cfg(not(feature = "threads"))]
        work()
    }

    /// Does the same work on `count` threads at once, and returns when all are done.
    pub(super) fn on_each(&self, count: usize, work: impl Fn() + Sync) {
        #[cfg(feature = "threads")]
        self.pool.in_place_scope(|scope| (0..count).for_each(|_| scope.spawn(|_| work())));
        #[cfg(not(feature = "threads"))]
        (0..count.min(1)).for_each(|_| work());
    }
}

/// Maps all items, on the threads of the pool that this is called in; the results are in the order of the items.
pub(crate) fn in_parallel<T: Send, U: Send>(items: Vec<T>, map: impl Fn(T) -> U + Send + Sync) -> Vec<U> {
    in_parallel_with(|| (), items, |(), item| map(item))
}

/// The same, with buffers that are made once for several items.
pub(super) fn in_parallel_with<B, T: Send, U: Send>(
    buffers: impl Fn() -> B + Send + Sync,
    items: Vec<T>,
    map: impl Fn(&mut B, T) -> U + Send + Sync,
) -> Vec<U> {
    #[cfg(feature = "threads")]
    return rayon::prelude::ParallelIterator::collect(rayon::prelude::ParallelIterator::map_init(
        rayon::prelude::IntoParallelIterator::into_par_iter(items),
        buffers,
        map,
    ));
    #[cfg(not(feature = "threads"))]
    {
        let mut buffers = buffers();
        items.into_iter().map(|item| map(&mut buffers, item)).collect()
    }
}

#[cfg(all(test, feature = "threads"))]
mod tests {
    use super::*;

    #[test]
    fn the_environment_asks_within_the_bounds_of_the_command_line() {
        assert_eq!((of(3, Some("7")).unwrap(), of(0, Some("7")).unwrap()), (3, 7));
        assert_eq!(of(0, Some(" 1024 ")).unwrap(), 1024);
        let cores = of(0, None).unwrap();
        assert!(cores >= 1 && of(0, Some("0")).unwrap() == cores && of(0, Some("")).unwrap() == cores);
        for text in ["1025", "100000", "-1", "1.5", "many"] {
            let refused = of(0, Some(text)).unwrap_err();
            assert_eq!(refused.exit_code(), 2);
            assert!(refused.to_string().contains("from 0 to 1024"), "{refused}");
            // What the command line says goes before.
            assert_eq!(of(2, Some(text)).unwrap(), 2);
        }
    }
}
