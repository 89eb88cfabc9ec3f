//! Job files: a command in shards as the jobs of a scheduler, and how to submit them. One scheduler a file; register it in the list below.

mod script;
#[cfg(test)]
mod tests;

use crate::io::typed;
use crate::report::grid::paragraph;
use std::fmt::{self, Write};

/// A command in shards, and the merge of its parts.
#[derive(Clone, Debug)]
pub(crate) struct Jobs {
    /// Number of shards. It is written into the files: the number of tasks that a scheduler states is smaller when a few are submitted again.
    pub shards: u32,
    /// Threads of a shard.
    pub cores: u16,
    /// Limit of the time of a job, s.
    pub seconds: Option<u64>,
    /// Limit of the memory of a job, bytes.
    pub memory: Option<u64>,
    /// The file of the program.
    pub program: String,
    /// Words of a shard's command after the program, but for its part file and its number.
    pub shard: Vec<String>,
    /// Words of the merge's command after the program.
    pub merge: Vec<String>,
    /// The folder of job files, parts and logs; [`is_plain`].
    pub folder: String,
}

/// A file to write into the folder of the jobs.
#[derive(Clone, Debug)]
pub(crate) struct JobFile {
    /// Its name.
    pub name: &'static str,
    /// Its content.
    pub text: String,
}

/// Directions for the job files of a scheduler, in sentences and commands.
#[derive(Clone, Debug)]
pub(crate) struct Guide {
    /// Lines or values that the user adds to the files.
    fill_in: &'static str,
    /// When the merge starts.
    order: &'static str,
    /// Commands that submit shards and merge.
    submit: Vec<String>,
    /// The merge if a shard fails, and the purpose of the commands below.
    failed: String,
    /// Commands that submit failed shards again.
    again: Vec<String>,
    /// Where the logs are.
    logs: String,
}

/// A scheduler with job files.
pub(crate) trait Scheduler: fmt::Debug + Sync {
    /// Its word on the command line.
    fn word(&self) -> &'static str;

    /// Its name, and the tool that submits its jobs.
    fn title(&self) -> &'static str;

    /// Whether it can limit the time and the memory of a job.
    fn has_limits(&self) -> bool {
        true
    }

    /// The files of its jobs.
    fn files(&self, jobs: &Jobs) -> Vec<JobFile>;

    /// Directions for them.
    fn guide(&self, jobs: &Jobs) -> Guide;
}

macro_rules! schedulers {
    ($($module:ident::$Type:ident),* $(,)?) => {
        $(mod $module; use $module::$Type;)*

        /// The schedulers that have job files.
        pub(crate) const SCHEDULERS: &[&dyn Scheduler] = &[$(&$Type),*];
    };
}

schedulers! {
    slurm::Slurm,
    lsf::Lsf,
    grid_engine::GridEngine,
    pbs::Pbs,
    kubernetes::Kubernetes,
    dask::Dask,
}

/// Part of every job file: a file without it is not replaced.
pub(crate) const MARK: &str = "Written by `beamyield jobs`";

/// Whether a folder's name means itself in every job file: schedulers read their directives with rules of their own for blanks,
/// quotes and percent signs.
pub(crate) fn is_plain(folder: &str) -> bool {
    let is_plain = |c: char| c.is_alphanumeric() || "/._-+".contains(c);
    !folder.is_empty() && !folder.starts_with('-') && folder.chars().all(is_plain)
}

/// The number of shards that the name of a part file states, if it has the form of these jobs.
pub(crate) fn shards_of_part(name: &str) -> Option<u32> {
    let (number, shards) = name.strip_suffix(".part")?.split_once("-of-")?;
    number.parse::<u32>().ok()?;
    shards.parse().ok()
}

impl Jobs {
    /// Words of a shard's command from its part file on; `number` stands for its number.
    fn numbered(&self, number: &str) -> [String; 4] {
        let Jobs { shards, folder, .. } = self;
        let part = format!("{folder}/{number}-of-{shards}.part");
        ["--resume".into(), part, "--shard".into(), format!("{number}/{shards}")]
    }

    /// The command of the shard whose number a shell's variable `shard` holds.
    fn shard_line(&self) -> String {
        let numbered = self.numbered("\"$shard\"").join(" ");
        format!("{} \\\n    {numbered}", self.line(&self.shard))
    }

    /// The command of the merge.
    fn merge_line(&self) -> String {
        self.line(&self.merge)
    }

    fn line(&self, words: &[String]) -> String {
        let words = std::iter::once(&self.program).chain(words);
        words.map(|word| typed(word)).collect::<Vec<_>>().join(" ")
    }

    /// The limit of the memory in units of 1,048,576 bytes, rounded up.
    fn mebibytes(&self) -> Option<u64> {
        self.memory.map(|bytes| bytes.div_ceil(1 << 20))
    }

    /// The limit of the time as "hours:minutes:seconds".
    fn clock(&self) -> Option<String> {
        self.seconds.map(|all| format!("{:02}:{:02}:{:02}", all / 3600, all / 60 % 60, all % 60))
    }

    /// The sentence on logs that are files in the folder.
    fn log_files(&self) -> String {
        let Jobs { shards, folder, .. } = self;
        format!("Logs: {folder}/shard-1.log to shard-{shards}.log, {folder}/merge.log.")
    }
}

/// How to submit the jobs, to submit failed ones again, and where the logs are.
pub(crate) fn jobs_text(scheduler: &dyn Scheduler, jobs: &Jobs) -> String {
    let Jobs { shards, folder, .. } = jobs;
    let names: Vec<String> =
        scheduler.files(jobs).iter().map(|file| format!("{folder}/{}", file.name)).collect();
    let guide = scheduler.guide(jobs);
    let mut text = paragraph(&format!("{shards} shards: {}. {}", names.join(" and "), guide.fill_in), 0, 0);
    let mut part = |words: &str, commands: &[String]| {
        let _ = write!(text, "\n{}", paragraph(words, 0, 0));
        commands.iter().for_each(|command| {
            let _ = writeln!(text, "  {command}");
        });
    };
    part(&format!("Submit from this folder. {}", guide.order), &guide.submit);
    part(&guide.failed, &guide.again);
    part(
        &format!("{} `beamyield merge {folder}` names shards that are missing or not done.", guide.logs),
        &[],
    );
    text
}
