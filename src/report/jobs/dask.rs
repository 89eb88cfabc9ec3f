//! Dask: a script of Python that gives each shard to a worker, and then merges.
//!
//! Source: the API of `dask.distributed`.

use super::{Guide, JobFile, Jobs, MARK, Scheduler};
use serde_json::Value;

#[derive(Debug)]
pub(super) struct Dask;

/// The script after the values at its head.
const SCRIPT: &str = r#"

def shard(number, here):
    """Runs one shard to its end, on a worker."""
    words = [PROGRAM, *SHARD, "--resume", f"{FOLDER}/{number}-of-{SHARDS}.part", "--shard", f"{number}/{SHARDS}"]
    # Where the system can, a worker that is lost takes its shard along: another worker goes on with it.
    if shutil.which("setpriv"):
        words = ["setpriv", "--pdeathsig", "KILL", *words]
    with open(os.path.join(here, FOLDER, f"shard-{number}.log"), "a") as log:
        subprocess.run(words, cwd=here, stdin=subprocess.DEVNULL, stdout=log, stderr=log, check=True)


def run(client):
    # Not pure: a shard leaves a file, so no answer of an earlier call may stand in for it.
    numbers = range(1, SHARDS + 1)
    tasks = [client.submit(shard, number, os.getcwd(), retries=2, pure=False) for number in numbers]
    wait(tasks)
    return [str(number) for number, task in zip(numbers, tasks) if task.status != "finished"]


def main():
    if len(sys.argv) > 1:
        with Client(sys.argv[1]) as client:
            failed = run(client)
    else:
        workers = max(1, CPU_COUNT // CORES)
        with LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster:
            with Client(cluster) as client:
                failed = run(client)
    if failed:
        sys.exit(f"error: shards failed, see their logs: {', '.join(failed)}")
    sys.exit(subprocess.run([PROGRAM, *MERGE]).returncode)


if __name__ == "__main__":
    main()
"#;

impl Scheduler for Dask {
    fn word(&self) -> &'static str {
        "dask"
    }

    fn title(&self) -> &'static str {
        "Dask, by a script of Python"
    }

    fn has_limits(&self) -> bool {
        false
    }

    fn files(&self, jobs: &Jobs) -> Vec<JobFile> {
        let Jobs { shards, cores, .. } = jobs;
        // A text or a list of texts in JSON is the same in Python.
        let texts = |words: &[String]| Value::from(words).to_string();
        let text = |word: &str| Value::from(word).to_string();
        let (program, folder) = (text(&jobs.program), text(&jobs.folder));
        let (shard, merge) = (texts(&jobs.shard), texts(&jobs.merge));
        let head = format!(
            "\"\"\"{MARK}: {shards} shards on the workers of Dask, then their merge.

shards.py            on workers of this machine
shards.py ADDRESS    on the workers of a scheduler; give each worker one thread
\"\"\"
import os
import shutil
import subprocess
import sys

from dask.distributed import Client, LocalCluster, wait
from dask.system import CPU_COUNT

PROGRAM = {program}
FOLDER = {folder}
SHARDS = {shards}
CORES = {cores}
SHARD = {shard}
MERGE = {merge}
"
        );
        // Not dask.py: Python would import it for the library.
        vec![JobFile { name: "shards.py", text: head + SCRIPT }]
    }

    fn guide(&self, jobs: &Jobs) -> Guide {
        let Jobs { shards, folder, .. } = jobs;
        let here = format!("python3 {folder}/shards.py");
        let there = format!("python3 {folder}/shards.py tcp://SCHEDULER:8786");
        Guide {
            fill_in: "It needs dask[distributed]. All workers must see this folder; with a scheduler of your own give \
                      each worker one thread.",
            order: "The merge runs when every shard is done, and prints here. On workers of this machine, or on those \
                    of a scheduler:",
            submit: vec![here.clone(), there],
            failed: "A shard that fails runs twice more, and one whose worker is lost goes on with another. If it still \
                     fails, nothing is merged. Start the same again: shards that are done end at once, the others go \
                     on from their part files:"
                .to_owned(),
            again: vec![here],
            logs: format!("Logs: {folder}/shard-1.log to shard-{shards}.log."),
        }
    }
}
