//! The job files of Slurm on a Slurm of one node, started by `slurm-one-node.sh`. The tests run the commands that `jobs` prints.

use super::{LONG, commands, jobs, json_without_time, long, timeless};
use crate::program::{Ended, Folder, SMALL, ended};
use crate::tools::{skipped, tool};
use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use std::net::TcpListener;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

/// Within this a state is there, however slow the machine.
const MOST: Duration = Duration::from_secs(180);

/// A Slurm of one node; its daemons end with it.
struct Cluster(tempfile::TempDir);

impl Cluster {
    /// `None`, and a reason, where there can be none.
    fn start() -> Option<Cluster> {
        if std::fs::metadata("/proc/self").expect("this process").uid() != 0 {
            skipped("a Slurm of one node is started by root alone");
            return None;
        }
        tool(&["munged"], "munge")?;
        tool(&["slurmd"], "slurm-wlm")?;
        let cluster = Cluster(tempfile::tempdir().expect("a temporary folder"));
        let listeners = [(); 2].map(|()| TcpListener::bind("127.0.0.1:0").expect("a port"));
        let ports = listeners.map(|of| of.local_addr().expect("an address").port().to_string());
        let started = cluster.script("start").args(ports).output().expect("bash");
        assert!(started.status.success(), "{}", String::from_utf8_lossy(&started.stderr));
        Some(cluster)
    }

    fn script(&self, what: &str) -> Command {
        let mut bash = Command::new("bash");
        bash.arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/suite/jobs/slurm-one-node.sh"));
        bash.arg(what).arg(self.0.path());
        bash
    }

    /// Runs commands in a folder, which must succeed; their output.
    fn run(&self, folder: &Folder, commands: &str) -> String {
        let mut bash = Command::new("bash");
        bash.args(["-ec", commands])
            .current_dir(folder.path())
            .env("SLURM_CONF", self.0.path().join("slurm.conf"));
        let Ended { code, out, err } = ended(bash.output().expect("bash"));
        assert_eq!(code, Some(0), "{commands}\n{out}{err}");
        out
    }

    /// Submits shards and merge by printed commands; their numbers.
    fn submit(&self, folder: &Folder, commands: &str) -> (String, String) {
        let out = self.run(folder, &format!("{commands}\necho $array"));
        let words: Vec<&str> = out.split_whitespace().collect();
        let [.., merge, array] = words.as_slice() else { panic!("{out}") };
        ((*array).to_owned(), (*merge).to_owned())
    }

    /// States of the tasks of a job.
    fn states(&self, folder: &Folder, job: &str) -> Vec<String> {
        let out =
            self.run(folder, &format!("squeue --noheader --array --states=all --jobs={job} --format=%T"));
        out.lines().map(|line| line.trim().to_owned()).collect()
    }

    /// Waits until all tasks of a job have one state.
    fn wait(&self, folder: &Folder, job: &str, state: &str) {
        let states = || self.states(folder, job);
        until(
            &format!("{job} {state}"),
            || states().iter().all(|of| of == state),
            || {
                let logs =
                    folder.names().into_iter().filter(|name| name.extension().is_some_and(|of| of == "log"));
                format!("{:?} {:?}", states(), logs.map(std::fs::read_to_string).collect::<Vec<_>>())
            },
        );
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        let _ = self.script("stop").status();
    }
}

/// Waits for a state.
fn until(what: &str, is_there: impl Fn() -> bool, instead: impl Fn() -> String) {
    let start = Instant::now();
    while !is_there() {
        assert!(start.elapsed() < MOST, "{what}: {}", instead());
        std::thread::sleep(Duration::from_millis(100));
    }
}

/// A run in one process, and its job files: the text of the run, and the printed commands.
fn prepared(folder: &Folder, run: &[&str], shards: &str) -> (String, Vec<String>) {
    let run = [run, &["--quiet"]].concat();
    let one = folder.done(&[&run[..], &["--json", "one.json"]].concat());
    let printed = folder.done(&jobs("slurm", shards, &[&run[..], &["--json", "all.json"]].concat()));
    (one, commands(&printed))
}

/// The merge wrote the bytes of one process.
fn same(folder: &Folder, one: &str) {
    assert_eq!(timeless(&folder.read("runs/merge.log")), timeless(one));
    assert_eq!(json_without_time(folder, "all.json"), json_without_time(folder, "one.json"));
}

/// The part files of both shards of a long run, once they are on the disk.
fn parts(folder: &Folder) -> [PathBuf; 2] {
    let parts = ["1-of-2", "2-of-2"].map(|name| folder.path().join(format!("runs/{name}.part")));
    until("parts", || parts.iter().all(|part| part.exists()), String::new);
    parts
}

#[test]
fn shards_of_slurm_are_one_run() {
    let Some(cluster) = Cluster::start() else { return };
    as_one(&cluster);
    a_failed_shard(&cluster);
    a_requeued_shard(&cluster);
}

/// An array of 8 and the merge that waits for it are one process.
fn as_one(cluster: &Cluster) {
    let folder = Folder::with(SMALL);
    let (one, commands) = prepared(&folder, &["run", "study.toml", "--trials", "4000"], "8");
    let (_, merge) = cluster.submit(&folder, &commands[0]);
    cluster.wait(&folder, &merge, "COMPLETED");
    same(&folder, &one);
}

/// A shard fails: the merge is cancelled, by hand it is refused, and that shard alone makes the run whole.
fn a_failed_shard(cluster: &Cluster) {
    let folder = Folder::with(SMALL);
    let (one, commands) = prepared(&folder, &["run", "study.toml", "--trials", "4000"], "8");
    let taken = folder.path().join("runs/8-of-8.part");
    std::fs::create_dir(&taken).expect("a folder in the place of a part");
    let (array, merge) = cluster.submit(&folder, &commands[0]);
    cluster.wait(&folder, &merge, "CANCELLED");
    let states = cluster.states(&folder, &array);
    let count = |state: &str| states.iter().filter(|of| *of == state).count();
    assert_eq!((count("COMPLETED"), count("FAILED")), (7, 1), "{states:?}");
    assert!(folder.read("runs/shard-8.log").contains("8-of-8.part"));
    std::fs::remove_dir(&taken).expect("the folder");

    let by_hand = folder.refused(&["merge", "runs"]);
    assert!(
        by_hand.contains("shard 8") || by_hand.contains("8 of 8") || by_hand.contains("8/8"),
        "{by_hand}"
    );
    assert!(!folder.path().join("all.json").exists());

    let (array, merge) = cluster.submit(&folder, &commands[1]);
    cluster.wait(&folder, &merge, "COMPLETED");
    assert_eq!(cluster.states(&folder, &array), ["COMPLETED"]);
    same(&folder, &one);
}

/// A shard that is stopped and requeued on its way goes on from its part.
fn a_requeued_shard(cluster: &Cluster) {
    let folder = long();
    let (one, commands) = prepared(&folder, &LONG, "2");
    let (array, merge) = cluster.submit(&folder, &commands[0]);
    parts(&folder);
    cluster.run(&folder, &format!("scontrol requeue {array}_1"));
    cluster.wait(&folder, &merge, "COMPLETED");
    let shown = cluster.run(&folder, &format!("scontrol show job {array}_1"));
    assert!(shown.contains("Restarts=1"), "{shown}");
    // TERM stopped the program on its way: the task had not ended before.
    assert!(folder.read("runs/shard-1.log").contains("stopping; finishing at most"));
    same(&folder, &one);
}

/// The node is lost with its daemon and all tasks, none of which is warned, and comes back: the shards go on from their parts.
///
/// It takes a minute of waiting: it runs if `BEAMYIELD_LOSE_A_NODE` is set.
#[test]
fn shards_of_a_lost_node_go_on() {
    if std::env::var_os("BEAMYIELD_LOSE_A_NODE").is_none() {
        return;
    }
    let Some(cluster) = Cluster::start() else { return };
    let folder = long();
    let (one, commands) = prepared(&folder, &LONG, "2");
    let (array, merge) = cluster.submit(&folder, &commands[0]);
    let parts = parts(&folder);
    lose(&cluster, &folder, &array);
    let state = || cluster.run(&folder, "sinfo --noheader --format=%t");
    until("the node is down", || state().starts_with("down"), state);
    let before = parts.map(|part| std::fs::metadata(part).expect("a part that outlives its node").len());
    assert!(before.iter().all(|size| *size > 0), "{before:?}");
    assert!(cluster.script("node").status().expect("bash").success());
    cluster.wait(&folder, &merge, "COMPLETED");
    let shown = cluster.run(&folder, &format!("scontrol show job {array}"));
    assert_eq!(shown.matches("Restarts=1").count(), 2, "{shown}");
    same(&folder, &one);
}

/// Kills the node's daemon, and each task with the daemon that watches it.
fn lose(cluster: &Cluster, folder: &Folder, array: &str) {
    let daemon = std::fs::read_to_string(cluster.0.path().join("slurmd.pid")).expect("the daemon");
    let mut lost = vec![daemon.trim().to_owned()];
    let running =
        cluster.run(folder, &format!("squeue --noheader --states=RUNNING --jobs={array} --format=%A"));
    assert_eq!(running.lines().count(), 2, "{running}");
    for job in running.lines() {
        let listed = cluster.run(folder, &format!("scontrol listpids {job}"));
        let tasks: Vec<&str> =
            listed.lines().skip(1).filter_map(|line| line.split_whitespace().next()).collect();
        let status = std::fs::read_to_string(format!("/proc/{}/status", tasks[0])).expect("a task that runs");
        let watcher = status.lines().find_map(|line| line.strip_prefix("PPid:")).expect("its parent");
        lost.push(watcher.trim().to_owned());
        lost.extend(tasks.into_iter().map(str::to_owned));
    }
    for process in lost {
        // A task may have gone with the daemon that watched it.
        let _ = kill(Pid::from_raw(process.parse().expect("a number")), Signal::SIGKILL);
    }
}
