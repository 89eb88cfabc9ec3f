//! Job files: read by the tools that they are for, and run on a scheduler.

mod dask;
#[cfg(target_os = "linux")]
mod slurm;

use crate::program::{Folder, SMALL};
use crate::tools::{python, tool};
use serde_json::Value;
use std::path::Path;
use std::process::Command;

/// A study whose name each of the files has to quote, and words that each has to quote as well.
const STUDY: &str = "it's $HOME \"here\".toml";
const SET: [&str; 2] = ["--set", "shifter.bit_phase_error.sd=1.5 deg"];

const SCHEDULERS: [&str; 6] = ["slurm", "lsf", "grid-engine", "pbs", "kubernetes", "dask"];

/// A run whose shards, two of them, take some seconds each: it can be stopped on its way.
const LONG: [&str; 6] = ["run", "study.toml", "--calibration", "peak", "--trials", "1000000"];

/// A folder with the study of such a run.
fn long() -> Folder {
    let study = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies/line-64.toml");
    Folder::with(std::fs::read(study).expect("the study"))
}

/// The words of `jobs` for a folder `runs`, up to the command.
fn jobs<'a>(scheduler: &'a str, shards: &'a str, command: &[&'a str]) -> Vec<&'a str> {
    [&["jobs", scheduler, "--shards", shards, "--folder", "runs", "--"], command].concat()
}

/// A folder with the job files of a scheduler, and what was printed.
fn written(scheduler: &str) -> (Folder, String) {
    let folder = Folder::with("");
    folder.put(STUDY, SMALL);
    let printed =
        folder.done(&jobs(scheduler, "8", &[&["run", STUDY, "--json", "a 'b'.json"], &SET[..]].concat()));
    (folder, printed)
}

/// The commands that `jobs` prints, in groups.
fn commands(printed: &str) -> Vec<String> {
    let groups = printed.split("\n\n").map(|group| {
        let commands: Vec<&str> = group.lines().filter_map(|line| line.strip_prefix("  ")).collect();
        commands.join("\n")
    });
    groups.filter(|group| !group.is_empty()).collect()
}

/// The text of a run without the time that it took.
fn timeless(text: &str) -> String {
    let (before, after) = text.split_once(" built from seed ").expect("the number of units");
    let (seed, after) = after.split_once(" in ").expect("the time");
    let (_, after) = after.split_once(',').expect("what follows the time");
    format!("{before} built from seed {seed} in TIME,{after}")
}

/// The JSON of a run without the line of the time that it took.
fn json_without_time(folder: &Folder, name: &str) -> String {
    let text = folder.read(name);
    let is_time = |line: &&str| line.trim_start().starts_with("\"seconds\":");
    assert_eq!(text.lines().filter(is_time).count(), 1, "{text}");
    text.lines().filter(|line| !is_time(line)).collect::<Vec<_>>().join("\n")
}

/// The scripts and the printed commands have the grammar of a shell.
#[test]
fn a_shell_reads_scripts_and_commands() {
    let Some(bash) = tool(&["bash"], "bash") else { return };
    for scheduler in SCHEDULERS {
        let (folder, printed) = written(scheduler);
        let check = |script: &str| {
            let ended =
                Command::new(bash).args(["-n", script]).current_dir(folder.path()).output().expect("bash");
            assert!(ended.status.success(), "{scheduler}: {}", String::from_utf8_lossy(&ended.stderr));
        };
        assert_eq!(commands(&printed).len(), 2, "{printed}");
        folder.put("commands", commands(&printed).join("\n"));
        check("commands");
        let scripts =
            ["runs/shards.sh", "runs/merge.sh"].into_iter().filter(|name| folder.path().join(name).exists());
        let scripts: Vec<&str> = scripts.collect();
        scripts.iter().for_each(|script| check(script));
        assert_eq!(
            scripts.len(),
            if ["kubernetes", "dask"].contains(&scheduler) { 0 } else { 2 },
            "{scheduler}"
        );
    }
}

/// A stand-in for the program prints its words, as the task of each scheduler runs it.
#[test]
fn a_task_runs_its_shard_with_the_words_that_were_given() {
    let Some(bash) = tool(&["bash"], "bash") else { return };
    for (scheduler, index) in [
        ("slurm", "SLURM_ARRAY_TASK_ID"),
        ("lsf", "LSB_JOBINDEX"),
        ("grid-engine", "SGE_TASK_ID"),
        ("pbs", "PBS_ARRAY_INDEX"),
        ("pbs", "SHARD"),
    ] {
        let (folder, _) = written(scheduler);
        let script = folder.read("runs/shards.sh");
        let program = env!("CARGO_BIN_EXE_beamyield");
        assert!(script.contains(program), "{script}");
        folder.put("task.sh", script.replace(program, "./stand-in"));
        folder.put("stand-in", "#!/bin/sh\nprintf '%s\\n' \"$@\"\nexit 3\n");
        let mut task = Command::new(bash);
        let steps = "chmod +x stand-in; exec bash task.sh";
        task.args(["-c", steps])
            .current_dir(folder.path())
            .env(index, "3")
            .env("PBS_O_WORKDIR", folder.path());
        let ended = task.output().expect("bash");
        let words = String::from_utf8(ended.stdout).expect("text");
        let shard = ["--threads", "1", "--resume", "runs/3-of-8.part", "--shard", "3/8"];
        assert_eq!(
            words.lines().collect::<Vec<_>>(),
            [&["run", STUDY], &SET[..], &shard].concat(),
            "{scheduler}"
        );
        // How the program ends is how the task ends.
        assert_eq!(ended.status.code(), Some(3), "{scheduler}");
    }
}

/// Grid Engine warns by USR2, which the program does not hear: the task passes TERM on, and waits for the program's end.
#[test]
fn a_warning_of_grid_engine_stops_the_program_as_term_does() {
    let Some(bash) = tool(&["bash"], "bash") else { return };
    let (folder, _) = written("grid-engine");
    folder
        .put("task.sh", folder.read("runs/shards.sh").replace(env!("CARGO_BIN_EXE_beamyield"), "./stand-in"));
    // USR1 and USR2 would end it. It warns its whole group, as the scheduler does, when it is ready.
    let program = "#!/bin/bash\ntrap 'echo TERM; exit 3' TERM\nkill -USR1 0\nkill -USR2 0\nfor _ in $(seq 100); do sleep 0.1; done\n";
    folder.put("stand-in", program);
    let mut task = Command::new(bash);
    let steps = "chmod +x stand-in; exec bash task.sh";
    task.args(["-c", steps]).current_dir(folder.path()).env("SGE_TASK_ID", "3");
    std::os::unix::process::CommandExt::process_group(&mut task, 0);
    let ended = task.output().expect("bash");
    assert_eq!((ended.status.code(), ended.stdout.as_slice()), (Some(3), &b"TERM\n"[..]), "{ended:?}");
}

/// A parser of YAML finds the fields where the cluster looks for them, and a shell in them the words that were given.
#[test]
fn a_parser_of_yaml_reads_the_jobs_of_kubernetes() {
    let Some(mut python) = python("yaml", "pyyaml==6.0.*") else { return };
    let (folder, _) = written("kubernetes");
    let read = "import json, sys, yaml; print(json.dumps([yaml.safe_load(open('runs/' + name, encoding='utf-8')) \
                for name in ['shards.yaml', 'merge.yaml']]))";
    let ended = python.args(["-c", read]).current_dir(folder.path()).output().expect("python");
    assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
    let read: Value = serde_json::from_slice(&ended.stdout).expect("JSON");
    let spec = &read[0]["spec"];
    assert_eq!((&spec["completionMode"], &spec["completions"]), (&"Indexed".into(), &8.into()));
    let pod = &spec["template"]["spec"];
    assert_eq!((&pod["restartPolicy"], &pod["terminationGracePeriodSeconds"]), (&"Never".into(), &30.into()));
    let of = &pod["containers"][0];
    assert_eq!(
        (&of["image"], &of["workingDir"], &of["resources"]["limits"]["cpu"]),
        (&"IMAGE".into(), &"/work".into(), &1.into())
    );
    assert_eq!(pod["volumes"][0]["persistentVolumeClaim"]["claimName"], "CLAIM");
    assert_eq!(read[1]["spec"]["template"]["spec"]["containers"][0]["workingDir"], "/work");
    // The cluster makes one dollar sign of two; then the container's shell reads the words.
    let script = of["command"][2].as_str().expect("a script").replace("$$", "$");
    let print = script.replace("exec beamyield", "exec printf '%s\\n'");
    assert_ne!(print, script);
    let ended =
        Command::new("sh").args(["-c", &print]).env("JOB_COMPLETION_INDEX", "0").output().expect("a shell");
    let words = String::from_utf8(ended.stdout).expect("text");
    let shard = ["--threads", "1", "--resume", "runs/1-of-8.part", "--shard", "1/8"];
    assert_eq!(words.lines().collect::<Vec<_>>(), [&["run", STUDY], &SET[..], &shard].concat());
}

/// Wrong input is refused before anything is written, and files without the mark of a job file stay.
#[test]
fn refusals_leave_all_as_it_was() {
    let folder = Folder::with(SMALL);
    let run = ["run", "study.toml"];
    assert!(folder.refused(&jobs("slurm", "1", &run)).contains("2..=10000"));
    assert!(folder.refused(&jobs("abacus", "8", &run)).contains("grid-engine"));
    assert!(
        folder.refused(&jobs("slurm", "8", &["run", "study.toml", "--trails", "5"])).contains("--trials")
    );
    assert!(folder.refused(&jobs("slurm", "8", &["check", "study.toml"])).contains("only run and sweep"));
    assert!(
        folder
            .refused(&["jobs", "slurm", "--shards", "8", "--folder", "my runs", "--", "run", "study.toml"])
            .contains("letters")
    );
    let limited =
        ["jobs", "dask", "--shards", "8", "--folder", "runs", "--time", "2 h", "--", "run", "study.toml"];
    assert!(folder.refused(&limited).contains("leave out --time"));

    std::fs::create_dir(folder.path().join("runs")).expect("a folder");
    folder.put("runs/shards.sh", "echo mine\n");
    assert!(folder.refused(&jobs("slurm", "8", &run)).contains("no job file of this program"));
    assert_eq!(folder.read("runs/shards.sh"), "echo mine\n");
    std::fs::remove_file(folder.path().join("runs/shards.sh")).expect("the file");
    // Its own files are written again, with more shards as well unless parts of the fewer are there.
    folder.done(&jobs("slurm", "8", &run));
    folder.done(&jobs("slurm", "16", &run));
    assert!(folder.read("runs/shards.sh").contains("--array=1-16"));
    folder.put("runs/3-of-16.part", "");
    assert!(folder.refused(&jobs("slurm", "8", &run)).contains("it has 3-of-16.part"));
}
