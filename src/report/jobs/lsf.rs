//! LSF: an array job, and a merge that depends on it.
//!
//! Source: the manual page of `bsub`.

use super::script::{MERGE, array, merge, script, task};
use super::{Guide, JobFile, Jobs, Scheduler};

#[derive(Debug)]
pub(super) struct Lsf;

impl Scheduler for Lsf {
    fn word(&self) -> &'static str {
        "lsf"
    }

    fn title(&self) -> &'static str {
        "LSF, by bsub"
    }

    fn files(&self, jobs: &Jobs) -> Vec<JobFile> {
        let Jobs { shards, cores, folder, .. } = jobs;
        let head = |name: &str, cores: u16, log: &str| {
            vec![
                Some(format!("-J \"{name}\"")),
                // -o adds to a log that is there.
                Some(format!("-o {folder}/{log}.log")),
                Some(format!("-n {cores}")),
                Some("-R \"span[hosts=1]\"".to_owned()),
                jobs.mebibytes().map(|size| format!("-M {size}MB")),
                jobs.mebibytes().map(|size| format!("-R \"rusage[mem={size}MB]\"")),
                jobs.seconds.map(|all| format!("-W {}", all.div_ceil(60))),
            ]
        };
        let mut tasks = head(&format!("beamyield[1-{shards}]"), *cores, "shard-%I");
        // After the loss of its host a task runs again; a minute before the end of its time it is warned.
        tasks.extend(["-r", "-wa TERM -wt 1"].map(|word| Some(word.to_owned())));
        let index = "${LSB_JOBINDEX:?submit this file with bsub}";
        vec![
            script("shards.sh", &array(jobs), "#BSUB", &tasks, &task(jobs, index)),
            script("merge.sh", MERGE, "#BSUB", &head("beamyield-merge", 1, "merge"), &merge(jobs)),
        ]
    }

    fn guide(&self, jobs: &Jobs) -> Guide {
        let Jobs { shards, folder, .. } = jobs;
        let submit = |more: &str| {
            vec![
                format!("array=$(bsub {more}< {folder}/shards.sh | sed -n 's/^Job <\\([0-9]*\\)>.*/\\1/p')"),
                format!("bsub -w \"done($array)\" -ti < {folder}/merge.sh"),
            ]
        };
        Guide {
            fill_in: "Add the lines #BSUB that your site requires, such as project and queue.",
            order: "The merge starts when every shard is done:",
            submit: submit(""),
            failed: format!(
                "If a shard fails, the merge is terminated. Submit failed shards alone (here {shards}; several as \
                 3,5-7) and the merge again; each goes on from its part file:"
            ),
            again: submit(&format!("-J \"beamyield[{shards}]\" ")),
            logs: jobs.log_files(),
        }
    }
}
