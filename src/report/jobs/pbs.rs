//! PBS: an array job, and a merge that depends on it.
//!
//! Source: the manual page of `qsub`. An array has two tasks or more there, so a shard that is submitted alone is an ordinary job with
//! its number in a variable, and the range of the array stands in the command that submits it.

use super::script::{MERGE, array, merge, script, task};
use super::{Guide, JobFile, Jobs, Scheduler};

#[derive(Debug)]
pub(super) struct Pbs;

impl Scheduler for Pbs {
    fn word(&self) -> &'static str {
        "pbs"
    }

    fn title(&self) -> &'static str {
        "PBS, by qsub"
    }

    fn files(&self, jobs: &Jobs) -> Vec<JobFile> {
        let Jobs { cores, folder, .. } = jobs;
        let head = |name: &str, cores: u16, log: &str| {
            let memory = jobs.mebibytes().map_or(String::new(), |size| format!(":mem={size}mb"));
            vec![
                Some(format!("-N {name}")),
                Some("-j oe".to_owned()),
                Some(format!("-o {folder}/{log}.log")),
                Some(format!("-l select=1:ncpus={cores}{memory}")),
                jobs.clock().map(|time| format!("-l walltime={time}")),
                // After the loss of its host a job runs again.
                Some("-r y".to_owned()),
            ]
        };
        let tasks = head("beamyield", *cores, "shard-^array_index^");
        let here = "cd \"$PBS_O_WORKDIR\" || exit 3\n";
        let index = "${PBS_ARRAY_INDEX:-${SHARD:?submit this file with qsub}}";
        let task = here.to_owned() + &task(jobs, index);
        let merge = here.to_owned() + &merge(jobs);
        vec![
            script("shards.sh", &array(jobs), "#PBS", &tasks, &task),
            script("merge.sh", MERGE, "#PBS", &head("beamyield-merge", 1, "merge"), &merge),
        ]
    }

    fn guide(&self, jobs: &Jobs) -> Guide {
        let Jobs { shards, folder, .. } = jobs;
        let merge = |after: &str| format!("qsub -W depend=afterok:${after} {folder}/merge.sh");
        let alone = format!("-v SHARD={shards} -o {folder}/shard-{shards}.log");
        Guide {
            fill_in: "Add the lines #PBS that your site requires, such as account and queue.",
            order: "The merge starts when every shard is done:",
            submit: vec![format!("array=$(qsub -J 1-{shards} {folder}/shards.sh)"), merge("array")],
            failed: format!(
                "If a shard fails, the merge is deleted. Submit each failed shard alone (here {shards}) and the merge \
                 again; each goes on from its part file:"
            ),
            again: vec![format!("shard=$(qsub {alone} {folder}/shards.sh)"), merge("shard")],
            logs: jobs.log_files(),
        }
    }
}
