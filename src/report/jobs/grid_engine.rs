//! Grid Engine: an array job, and a merge that waits for its end.
//!
//! Source: the manual pages `submit` and `queue_conf`.

use super::script::{MERGE, array, merge, script};
use super::{Guide, JobFile, Jobs, Scheduler};

#[derive(Debug)]
pub(super) struct GridEngine;

/// The body of a task. With `-notify` the signal before the end of a job is USR2, and the one before a suspension USR1; the program
/// hears neither, and either would end it at once. So it ignores both, and the shell passes TERM on in the place of USR2.
fn task(jobs: &Jobs) -> String {
    format!(
        "shard=$SGE_TASK_ID
trap '' USR1
trap 'kill -TERM $!' USR2
(
trap '' USR2
exec {}
) &
wait $!
ended=$?
# A signal ends the first wait, and not the program.
if [ $ended -gt 128 ]; then wait $!; ended=$?; fi
exit $ended",
        jobs.shard_line()
    )
}

impl Scheduler for GridEngine {
    fn word(&self) -> &'static str {
        "grid-engine"
    }

    fn title(&self) -> &'static str {
        "Grid Engine, by qsub"
    }

    fn files(&self, jobs: &Jobs) -> Vec<JobFile> {
        let Jobs { shards, cores, folder, .. } = jobs;
        let head = |name: &str, cores: u16, log: &str| {
            vec![
                Some(format!("-N {name}")),
                Some("-S /bin/bash".to_owned()),
                Some("-cwd".to_owned()),
                Some("-j y".to_owned()),
                Some(format!("-o {folder}/{log}.log")),
                (cores > 1).then(|| format!("-pe smp {cores}")),
                // This limit is for a slot, which is a core.
                jobs.mebibytes().map(|size| format!("-l h_vmem={}M", size.div_ceil(cores.into()))),
                jobs.seconds.map(|all| format!("-l h_rt={all}")),
            ]
        };
        let mut tasks = head("beamyield", *cores, "shard-$TASK_ID");
        tasks.push(Some(format!("-t 1-{shards}")));
        // After the loss of its host a task runs again; before its end it is warned.
        tasks.extend(["-r y", "-notify"].map(|word| Some(word.to_owned())));
        vec![
            script("shards.sh", &array(jobs), "#$", &tasks, &task(jobs)),
            script("merge.sh", MERGE, "#$", &head("beamyield-merge", 1, "merge"), &merge(jobs)),
        ]
    }

    fn guide(&self, jobs: &Jobs) -> Guide {
        let Jobs { shards, folder, .. } = jobs;
        let submit = |more: &str| {
            vec![
                format!("array=$(qsub -terse {more}{folder}/shards.sh)"),
                format!("qsub -hold_jid ${{array%%.*}} {folder}/merge.sh"),
            ]
        };
        Guide {
            fill_in: "Add the lines #$ that your site requires, such as project and queue; several cores use the \
                      parallel environment smp, which may have another name at your site.",
            order: "The merge starts when every shard has ended, done or not:",
            submit: submit(""),
            failed: format!(
                "If a shard fails, the merge refuses, and its log names the shard. Submit failed shards alone (here \
                 {shards}; a range as 3-5) and the merge again; each goes on from its part file:"
            ),
            again: submit(&format!("-t {shards} ")),
            logs: jobs.log_files(),
        }
    }
}
