use super::*;

fn jobs() -> Jobs {
    let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect();
    Jobs {
        shards: 8,
        cores: 2,
        seconds: Some(7200),
        memory: Some(500_000_000),
        program: "/opt/a b/beamyield".into(),
        shard: words(&["run", "it's $HOME.toml", "--set", "jumper.length.sd=0.1 mm", "--threads", "2"]),
        merge: words(&["merge", "runs", "--json", "all.json"]),
        folder: "runs".into(),
    }
}

fn files(word: &str) -> Vec<String> {
    let of = SCHEDULERS.iter().find(|of| of.word() == word).unwrap();
    of.files(&jobs()).into_iter().map(|file| file.text).collect()
}

const WORDS: &str =
    r"exec '/opt/a b/beamyield' run 'it'\''s $HOME.toml' --set 'jumper.length.sd=0.1 mm' --threads 2 \";
const NUMBERED: &str = r#"    --resume runs/"$shard"-of-8.part --shard "$shard"/8"#;

#[test]
fn every_script_runs_one_shard_of_as_many_as_asked() {
    for (word, index, head) in [
        (
            "slurm",
            "shard=${SLURM_ARRAY_TASK_ID:?submit this file with sbatch}",
            &[
                "#SBATCH --array=1-8",
                "#SBATCH --cpus-per-task=2",
                "#SBATCH --mem=477M",
                "#SBATCH --time=02:00:00",
                "#SBATCH --requeue",
                "#SBATCH --open-mode=append",
                "#SBATCH --signal=B:TERM@30",
                "#SBATCH --output=runs/shard-%a.log",
            ][..],
        ),
        (
            "lsf",
            "shard=${LSB_JOBINDEX:?submit this file with bsub}",
            &[
                "#BSUB -J \"beamyield[1-8]\"",
                "#BSUB -n 2",
                "#BSUB -M 477MB",
                "#BSUB -W 120",
                "#BSUB -r",
                "#BSUB -wa TERM -wt 1",
                "#BSUB -o runs/shard-%I.log",
            ],
        ),
        (
            "grid-engine",
            "shard=$SGE_TASK_ID",
            &[
                "#$ -t 1-8",
                "#$ -pe smp 2",
                "#$ -l h_vmem=239M",
                "#$ -l h_rt=7200",
                "#$ -r y",
                "#$ -notify",
                "#$ -o runs/shard-$TASK_ID.log",
            ],
        ),
        (
            "pbs",
            "shard=${PBS_ARRAY_INDEX:-${SHARD:?submit this file with qsub}}",
            &[
                "#PBS -l select=1:ncpus=2:mem=477mb",
                "#PBS -l walltime=02:00:00",
                "#PBS -r y",
                "#PBS -o runs/shard-^array_index^.log",
            ],
        ),
    ] {
        let files = files(word);
        let lines: Vec<&str> = files[0].lines().collect();
        for line in [index, WORDS, NUMBERED].iter().chain(head) {
            assert!(lines.contains(line), "{word}: {line}\n{}", files[0]);
        }
        // No directive stands behind the first command, where no scheduler reads it.
        let body = lines.iter().position(|line| line.is_empty()).unwrap();
        assert!(
            lines[0] == "#!/bin/bash" && head.iter().all(|of| lines[..body].contains(of)),
            "{}",
            files[0]
        );
        assert!(files[1].ends_with("exec '/opt/a b/beamyield' merge runs --json all.json\n"), "{}", files[1]);
        assert!(!files[1].contains("-of-8"), "{}", files[1]);
    }
}

#[test]
fn a_pod_counts_from_0_and_a_shard_from_1() {
    let files = files("kubernetes");
    let command = files[0].lines().find(|line| line.contains("command:")).unwrap();
    // The image has its own program; each dollar sign is doubled, as the cluster replaces variables of its own.
    let expected = r#"shard=$$((JOB_COMPLETION_INDEX + 1)); exec beamyield run 'it'\\''s $$HOME.toml' --set 'jumper.length.sd=0.1 mm' --threads 2 --resume runs/\"$$shard\"-of-8.part --shard \"$$shard\"/8"#;
    assert!(command.contains(expected), "{command}");
    for line in [
        "  completions: 8",
        "  completionMode: Indexed",
        "          image: IMAGE",
        "      activeDeadlineSeconds: 7200",
    ] {
        assert!(files[0].lines().any(|of| of == line), "{line}\n{}", files[0]);
    }
}

#[test]
fn words_are_texts_of_python() {
    let files = files("dask");
    for line in [
        "SHARDS = 8",
        r#"PROGRAM = "/opt/a b/beamyield""#,
        r#"SHARD = ["run","it's $HOME.toml","--set","jumper.length.sd=0.1 mm","--threads","2"]"#,
        r#"MERGE = ["merge","runs","--json","all.json"]"#,
    ] {
        assert!(files[0].lines().any(|of| of == line), "{line}\n{}", files[0]);
    }
}

#[test]
fn limits_that_are_not_asked_for_are_not_set() {
    let jobs = Jobs { seconds: None, memory: None, ..jobs() };
    for scheduler in SCHEDULERS {
        for file in scheduler.files(&jobs) {
            for word in ["mem", "-M ", "time", "walltime", "h_rt", "-W ", "activeDeadline"] {
                let head = file.text.split("\n\n").next().unwrap();
                assert!(!head.contains(word), "{word}\n{}", file.text);
            }
        }
    }
}

#[test]
fn the_text_is_narrow_and_names_all() {
    for scheduler in SCHEDULERS {
        let text = jobs_text(*scheduler, &jobs());
        let commands = text.lines().filter(|line| !line.starts_with("  "));
        assert!(commands.clone().all(|line| line.chars().count() <= 80), "{text}");
        for file in scheduler.files(&jobs()) {
            assert!(file.text.contains(MARK) && text.contains(&format!("runs/{}", file.name)), "{text}");
        }
        assert!(text.contains("Logs: ") && text.contains("beamyield merge runs"), "{text}");
    }
}

#[test]
fn names_of_folders_and_parts() {
    for folder in ["runs", "/scratch/me/tile-8x8_a.b", "größe"] {
        assert!(is_plain(folder), "{folder}");
    }
    for folder in ["", "-x", "my runs", "50%", "it's", "a\"b", "$HOME", "a\nb"] {
        assert!(!is_plain(folder), "{folder}");
    }
    assert_eq!((shards_of_part("3-of-8.part"), shards_of_part("3-of-16.part")), (Some(8), Some(16)));
    for name in ["8.part", "a-of-8.part", "3-of-8.json", "3-of-8.part.part"] {
        assert_eq!(shards_of_part(name), None, "{name}");
    }
}
