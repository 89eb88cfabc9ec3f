//! The errors that end a run, and the exit code of each.

use std::io;
use std::path::PathBuf;

/// The result of work that can fail.
pub(crate) type Result<T> = std::result::Result<T, Error>;

/// An error that ends a run.
///
/// [`Error::Input`] displays as a finished report; the others display as one sentence without a leading "error: ".
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The input is wrong or cannot be read. Holds the rendered diagnostics.
    #[error("{0}")]
    Input(String),

    /// Reading or writing a file failed.
    #[error("cannot {doing} {}: {source}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// The action that failed, as a verb: "write", "rename the finished file to".
        doing: &'static str,
        /// The error of the system.
        source: io::Error,
    },

    /// An output cannot be written at its path.
    #[error("cannot write to {}: {reason}", path.display())]
    Output {
        /// The path.
        path: PathBuf,
        /// Why not.
        reason: String,
    },

    /// A file with a part of the work cannot be used.
    #[error("cannot use {}: {reason}", path.display())]
    Part {
        /// The file.
        path: PathBuf,
        /// Why not.
        reason: String,
    },

    /// A run needs more memory than is free.
    #[error("{}", too_large(*.needed, *.free, *.columns, *.verdicts))]
    Memory {
        /// Memory that it needs, bytes.
        needed: u64,
        /// Free memory, bytes.
        free: u64,
        /// Columns of figures of all calibration plans.
        columns: usize,
        /// The part of it for the verdicts of each unit, bytes.
        verdicts: u64,
    },

    /// The system started no threads.
    #[error("cannot start threads: {0}")]
    Threads(#[source] Box<dyn std::error::Error + Send + Sync>),

    /// Several errors, in order, none of which stopped the other work.
    #[error("{}", .0.iter().map(Error::to_string).collect::<Vec<_>>().join("\nerror: "))]
    Several(Vec<Error>),

    /// The run was stopped before its end.
    #[error("{0}")]
    Interrupted(String),

    /// The run is complete, and a required limit is not met.
    #[error("{0}")]
    LimitMissed(String),
}

impl Error {
    /// The exit code of the program: 1 for a required limit that is not met, 2 for bad input or usage, 3 for a
    /// failure of the machine or an interrupted run. (0 is a run without an error.)
    pub fn exit_code(&self) -> u8 {
        match self {
            Error::LimitMissed(_) => 1,
            Error::Input(_) | Error::Output { .. } | Error::Part { .. } | Error::Memory { .. } => 2,
            Error::File { .. } | Error::Threads(_) | Error::Interrupted(_) => 3,
            Error::Several(all) => all.iter().map(Error::exit_code).max().unwrap_or(3),
        }
    }

    /// Collects the errors of several results, in order.
    ///
    /// # Errors
    /// The one error, or [`Error::Several`].
    pub fn of_all(results: impl IntoIterator<Item = Result<()>>) -> Result<()> {
        let mut all = Vec::new();
        for error in results.into_iter().filter_map(Result::err) {
            match error {
                Error::Several(more) => all.extend(more),
                error => all.push(error),
            }
        }
        match all.pop() {
            None => Ok(()),
            Some(only) if all.is_empty() => Err(only),
            Some(last) => {
                all.push(last);
                Err(Error::Several(all))
            }
        }
    }
}

/// The memory that a run needs, and what makes it smaller.
fn too_large(needed: u64, free: u64, columns: usize, verdicts: u64) -> String {
    let megabytes = |bytes: u64| bytes.div_ceil(1_000_000);
    let why = if verdicts > needed / 2 {
        "most of it a bit for each unit and calibration plan: build fewer units".to_owned()
    } else {
        format!(
            "most of it for {columns} columns of figures, one for each figure, beam, frequency, temperature and calibration plan: \
             ask for fewer of them, such as one plan by --calibration"
        )
    };
    format!("this takes {} MB of memory, but {} MB are free; {why}", megabytes(needed), megabytes(free))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cause_has_its_text_and_exit_code() {
        let path = PathBuf::from("out.csv");
        let cases = [
            (Error::Input("error: no".into()), 2, "error: no"),
            (
                Error::File { path: path.clone(), doing: "write", source: io::Error::other("disk on fire") },
                3,
                "cannot write out.csv: disk on fire",
            ),
            (
                Error::Output { path, reason: "it is a folder".into() },
                2,
                "cannot write to out.csv: it is a folder",
            ),
            (
                Error::Memory { needed: 9_000_000_000, free: 500_000_000, columns: 70_000, verdicts: 1 },
                2,
                "this takes 9000 MB of memory, but 500 MB are free; most of it for 70000 columns of figures, one for each figure, beam, \
                 frequency, temperature and calibration plan: ask for fewer of them, such as one plan by --calibration",
            ),
            (Error::Interrupted("stopped after 5 trials".into()), 3, "stopped after 5 trials"),
            (Error::LimitMissed("the yield is below 0.95".into()), 1, "the yield is below 0.95"),
            (
                Error::Several(vec![
                    Error::LimitMissed("below".into()),
                    Error::Interrupted("stopped".into()),
                ]),
                3,
                "below\nerror: stopped",
            ),
        ];
        for (error, code, text) in cases {
            assert_eq!(error.exit_code(), code, "{error}");
            assert_eq!(error.to_string(), text);
        }
    }

    #[test]
    fn all_errors_of_several_results_are_kept() {
        let failed = |text: &str| Err(Error::Interrupted(text.into()));
        assert!(Error::of_all([Ok(()), Ok(())]).is_ok());
        assert!(matches!(Error::of_all([Ok(()), failed("one")]), Err(Error::Interrupted(_))));
        let several = Error::of_all([failed("one"), Ok(()), Error::of_all([failed("two"), failed("three")])]);
        assert_eq!(several.unwrap_err().to_string(), "one\nerror: two\nerror: three");
    }
}
