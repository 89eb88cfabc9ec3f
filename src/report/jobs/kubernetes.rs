//! Kubernetes: a Job with an index for each shard, and a Job for the merge.
//!
//! Source: the reference of the API `batch/v1`.

use super::{Guide, JobFile, Jobs, MARK, Scheduler};
use serde_json::Value;

#[derive(Debug)]
pub(super) struct Kubernetes;

/// A text as a scalar of YAML, of which JSON's texts are a part.
fn scalar(text: &str) -> String {
    Value::from(text).to_string()
}

/// A Job; `spec` are lines of its specification, `script` is run by the container's shell.
fn job(jobs: &Jobs, name: &str, what: &str, spec: &str, cores: u16, script: &str) -> String {
    // A dollar sign would begin a variable of the cluster's own.
    let script = scalar(&script.replace('$', "$$"));
    let memory = jobs.mebibytes().map_or(String::new(), |size| format!(", memory: {size}Mi"));
    let time = jobs.seconds.map_or(String::new(), |all| format!("      activeDeadlineSeconds: {all}\n"));
    format!(
        "# {MARK}: {what}. Replace IMAGE and CLAIM.\n\
apiVersion: batch/v1
kind: Job
metadata:
  name: {name}
spec:
{spec}  template:
    spec:
      restartPolicy: Never
      terminationGracePeriodSeconds: 30
{time}      containers:
        - name: beamyield
          image: IMAGE
          command: [\"/bin/sh\", \"-c\", {script}]
          workingDir: /work
          resources:
            requests: {{ cpu: {cores}{memory} }}
            limits: {{ cpu: {cores}{memory} }}
          volumeMounts:
            - {{ name: work, mountPath: /work }}
      volumes:
        - name: work
          persistentVolumeClaim: {{ claimName: CLAIM }}
"
    )
}

impl Scheduler for Kubernetes {
    fn word(&self) -> &'static str {
        "kubernetes"
    }

    fn title(&self) -> &'static str {
        "Kubernetes, by kubectl"
    }

    fn files(&self, jobs: &Jobs) -> Vec<JobFile> {
        // The image has a program of its own.
        let jobs = &Jobs { program: "beamyield".to_owned(), ..jobs.clone() };
        let Jobs { shards, cores, .. } = jobs;
        // The lost node of a pod is no failure of the shard; a study that is wrong is one of all shards.
        let spec = format!(
            "  completionMode: Indexed
  completions: {shards}
  parallelism: {shards}
  backoffLimit: {shards}
  podFailurePolicy:
    rules:
      - action: Ignore
        onPodConditions: [{{ type: DisruptionTarget }}]
      - action: FailJob
        onExitCodes: {{ containerName: beamyield, operator: In, values: [2] }}
"
        );
        let shard = format!("shard=$((JOB_COMPLETION_INDEX + 1)); exec {}", jobs.shard_line());
        let shard = shard.replace(" \\\n   ", "");
        let merge = format!("exec {}", jobs.merge_line());
        let all = format!("a Job with an index for each of {shards} shards");
        vec![
            JobFile { name: "shards.yaml", text: job(jobs, "beamyield-shards", &all, &spec, *cores, &shard) },
            JobFile {
                name: "merge.yaml",
                text: job(
                    jobs,
                    "beamyield-merge",
                    "the merge of all shards",
                    "  backoffLimit: 0\n",
                    1,
                    &merge,
                ),
            },
        ]
    }

    fn guide(&self, jobs: &Jobs) -> Guide {
        let folder = &jobs.folder;
        let submit = vec![
            format!("kubectl apply -f {folder}/shards.yaml &&"),
            "  kubectl wait --for=condition=complete --timeout=-1s job/beamyield-shards &&".to_owned(),
            format!("  kubectl apply -f {folder}/merge.yaml"),
        ];
        let again =
            "kubectl delete --ignore-not-found job/beamyield-shards job/beamyield-merge &&".to_owned();
        Guide {
            fill_in: "In both replace IMAGE by an image with the program and a shell, and CLAIM by the claim of a volume \
                      that all pods can write to. Paths are relative to the volume, which is /work in the pods: copy the \
                      study and its files there, and make the folder.",
            order: "The merge is submitted when every shard is done:",
            submit: submit.clone(),
            failed: "Failed shards run again by themselves, until there are as many failures as shards. Then submit \
                     all again: those that are done end at once, the others go on from their part files:"
                .to_owned(),
            again: std::iter::once(again).chain(submit).collect(),
            logs: "Logs: `kubectl logs --prefix --selector job-name=beamyield-shards`, \
                   `kubectl logs job/beamyield-merge`."
                .to_owned(),
        }
    }
}
