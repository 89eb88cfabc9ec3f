//! Job scripts of the schedulers whose tasks are shell scripts with directives at their head.

use super::{JobFile, Jobs, MARK};

/// A script of the shell, from its directives (each after `sign`) and its body.
pub(super) fn script(
    name: &'static str,
    what: &str,
    sign: &str,
    directives: &[Option<String>],
    body: &str,
) -> JobFile {
    let head = directives.iter().flatten().map(|directive| format!("{sign} {directive}\n"));
    let head: String = head.collect();
    JobFile { name, text: format!("#!/bin/bash\n# {MARK}: {what}.\n{head}\n{body}\n") }
}

/// The purpose of the shards' file.
pub(super) fn array(jobs: &Jobs) -> String {
    format!("a task for each of {} shards", jobs.shards)
}

/// The purpose of the merge's file.
pub(super) const MERGE: &str = "the merge of all shards";

/// The body of a task, whose number is the value of a variable. The program takes the place of the shell, so that it gets the signals
/// that warn of the end of the job; a shell does not pass them on.
pub(super) fn task(jobs: &Jobs, index: &str) -> String {
    format!("shard={index}\nexec {}", jobs.shard_line())
}

/// The body of the merge.
pub(super) fn merge(jobs: &Jobs) -> String {
    format!("exec {}", jobs.merge_line())
}
