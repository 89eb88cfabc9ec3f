//! The script of Dask on workers of this machine.

use super::{LONG, STUDY, jobs, json_without_time, long, timeless, written};
use crate::program::{Ended, Folder, SMALL, ended};
use crate::tools::python;
use std::process::Command;

/// Python with the library.
fn dask() -> Option<Command> {
    python("dask.distributed", "dask[distributed]==2026.*")
}

#[test]
fn python_compiles_the_script() {
    let (folder, _) = written("dask");
    let compiled = Command::new("python3")
        .args(["-m", "py_compile", "runs/shards.py"])
        .current_dir(folder.path())
        .output();
    let compiled = compiled.expect("python3 starts");
    assert!(compiled.status.success(), "{}", String::from_utf8_lossy(&compiled.stderr));
}

/// The workers' shards and the merge are one run, to the byte; a shard that fails is named, and the same call goes on.
#[test]
fn shards_on_workers_are_one_run() {
    let Some(_) = dask() else { return };
    let folder = Folder::with("");
    folder.put(STUDY, SMALL);
    let run = ["run", STUDY, "--trials", "4000", "--quiet"];
    let one = folder.done(&[&run[..], &["--json", "one.json", "--csv", "one.csv"]].concat());
    folder.done(&jobs("dask", "8", &[&run[..], &["--json", "all.json", "--csv", "all.csv"]].concat()));
    let start = || -> Ended {
        let mut python = dask().expect("it was there before");
        ended(python.arg("runs/shards.py").current_dir(folder.path()).output().expect("python3 starts"))
    };

    let taken = folder.path().join("runs/3-of-8.part");
    std::fs::create_dir(&taken).expect("a folder in the place of a part");
    let failed = start();
    assert_eq!((failed.code, failed.out.as_str()), (Some(1), ""), "{}", failed.err);
    assert!(failed.err.ends_with("error: shards failed, see their logs: 3\n"), "{}", failed.err);
    assert!(folder.read("runs/shard-3.log").contains("3-of-8.part"));
    std::fs::remove_dir(&taken).expect("the folder");

    let merged = start();
    assert_eq!(merged.code, Some(0), "{}", merged.err);
    assert_eq!(timeless(&merged.out), timeless(&one));
    assert_eq!(json_without_time(&folder, "all.json"), json_without_time(&folder, "one.json"));
    assert_eq!(folder.read("all.csv"), folder.read("one.csv"));
}

/// Runs the script's shards on two workers, one of which is killed when both have left a part on the disk, and prints what failed.
const LOSE: &str = r#"
import os, signal, threading, time
from dask.distributed import Client, LocalCluster

script = {"__name__": "shards"}
exec(open("runs/shards.py", encoding="utf-8").read(), script)

def lose(worker):
    while not all(os.path.exists(f"runs/{number}-of-2.part") for number in (1, 2)):
        time.sleep(0.05)
    os.kill(worker, signal.SIGKILL)

with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster, Client(cluster) as client:
    loss = threading.Thread(target=lose, args=[cluster.workers[0].pid])
    loss.start()
    failed = script["run"](client)
    loss.join()
print("failed", failed)
"#;

/// A worker is killed with its shard on its way: another worker goes on with it, and the bytes are those of one process.
#[test]
fn a_shard_outlives_its_worker() {
    let Some(mut python) = dask() else { return };
    let folder = long();
    let run = [&LONG[..], &["--quiet"]].concat();
    let one = folder.done(&[&run[..], &["--json", "one.json"]].concat());
    folder.done(&jobs("dask", "2", &[&run[..], &["--json", "all.json"]].concat()));
    let lost = ended(python.args(["-c", LOSE]).current_dir(folder.path()).output().expect("python3 starts"));
    assert_eq!((lost.code, lost.out.as_str()), (Some(0), "failed []\n"), "{}", lost.err);
    assert!(lost.err.contains("Restarting worker"), "{}", lost.err);
    assert_eq!(timeless(&folder.done(&["merge", "runs", "--json", "all.json"])), timeless(&one));
    assert_eq!(json_without_time(&folder, "all.json"), json_without_time(&folder, "one.json"));
}
