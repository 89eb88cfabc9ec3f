//! Slurm: an array job, and a merge that depends on it.
//!
//! Source: the manual page of `sbatch`.

use super::script::{MERGE, array, merge, script, task};
use super::{Guide, JobFile, Jobs, Scheduler};

#[derive(Debug)]
pub(super) struct Slurm;

impl Scheduler for Slurm {
    fn word(&self) -> &'static str {
        "slurm"
    }

    fn title(&self) -> &'static str {
        "Slurm, by sbatch"
    }

    fn files(&self, jobs: &Jobs) -> Vec<JobFile> {
        let Jobs { shards, cores, folder, .. } = jobs;
        let head = |cores: u16, log: &str, mode: &str| {
            vec![
                Some("--job-name=beamyield".to_owned()),
                Some(format!("--output={folder}/{log}.log")),
                Some(format!("--open-mode={mode}")),
                Some("--ntasks=1".to_owned()),
                Some(format!("--cpus-per-task={cores}")),
                jobs.mebibytes().map(|size| format!("--mem={size}M")),
                jobs.clock().map(|time| format!("--time={time}")),
            ]
        };
        // A task that runs again adds to its log.
        let mut tasks = head(*cores, "shard-%a", "append");
        tasks.push(Some(format!("--array=1-{shards}")));
        // After the loss of its node a task runs again; before the end of its time it is warned.
        tasks.extend(["--requeue", "--signal=B:TERM@30"].map(|word| Some(word.to_owned())));
        let mut end = head(1, "merge", "truncate");
        end.push(Some("--kill-on-invalid-dep=yes".to_owned()));
        let index = "${SLURM_ARRAY_TASK_ID:?submit this file with sbatch}";
        vec![
            script("shards.sh", &array(jobs), "#SBATCH", &tasks, &task(jobs, index)),
            script("merge.sh", MERGE, "#SBATCH", &end, &merge(jobs)),
        ]
    }

    fn guide(&self, jobs: &Jobs) -> Guide {
        let Jobs { shards, folder, .. } = jobs;
        let submit = |more: &str| {
            vec![
                format!("array=$(sbatch --parsable {more}{folder}/shards.sh)"),
                format!("sbatch --dependency=afterok:$array {folder}/merge.sh"),
            ]
        };
        Guide {
            fill_in: "Add the lines #SBATCH that your site requires, such as account and partition.",
            order: "The merge starts when every shard is done:",
            submit: submit(""),
            failed: format!(
                "If a shard fails, the merge is cancelled. Submit failed shards alone (here {shards}; several as \
                 3,5-7) and the merge again; each goes on from its part file:"
            ),
            again: submit(&format!("--array={shards} ")),
            logs: jobs.log_files(),
        }
    }
}
