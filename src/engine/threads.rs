//! Threads to work on.

use crate::error::Error;
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::env;
use std::thread::available_parallelism;

/// Most threads that can be asked for.
pub const MOST_THREADS: usize = 1024;

/// What asks for threads where the command line does not.
const VARIABLE: &str = "RAYON_NUM_THREADS";

/// How many threads so many are: 0 is as many as the environment asks for, else one a core.
///
/// # Errors
/// [`Error::Input`] when the environment asks for no number up to [`MOST_THREADS`].
pub fn threads(asked: usize) -> Result<usize, Error> {
    of(asked, env::var_os(VARIABLE).map(|text| text.to_string_lossy().into_owned()).as_deref())
}

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

/// A pool of so many threads, as [`threads`] has it.
///
/// Errors: a pool that cannot be made.
pub fn pool(asked: usize) -> Result<ThreadPool, Error> {
    let pool = ThreadPoolBuilder::new().num_threads(threads(asked)?).build();
    pool.map_err(|error| Error::Threads(error.to_string()))
}

#[cfg(test)]
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
