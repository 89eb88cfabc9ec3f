#!/usr/bin/env bash
# A Slurm of one node for tests, started as root without systemd. All of it is in one folder, with ports of its own, so that it
# touches no other Slurm of the machine.
#   slurm-one-node.sh start FOLDER CONTROLLER_PORT NODE_PORT   (returns when the node takes jobs)
#   slurm-one-node.sh node FOLDER                              (starts the daemon of a node that was lost)
#   slurm-one-node.sh stop FOLDER
set -euo pipefail
doing=$1 root=$2
export SLURM_CONF="$root/slurm.conf"

configure() {
    local host cpus memory
    host=$(hostname -s)
    memory=$(awk '/MemTotal/ { print int($2 / 1024 * 0.9) }' /proc/meminfo)
    # More processors than some machines have: every task of a test's array runs at once, and none waits for a turn.
    cpus=8
    cat > "$SLURM_CONF" <<END
ClusterName=test
SlurmctldHost=$host(127.0.0.1)
SlurmctldPort=$1
SlurmdPort=$2
SlurmUser=root
SlurmdUser=root
AuthType=auth/munge
# A requeued job waits as long as its old credential holds: 120 s, unless this says less.
AuthInfo=socket=$root/munge/socket,cred_expire=5
CredType=cred/munge
StateSaveLocation=$root/state
SlurmdSpoolDir=$root/spool
SlurmctldPidFile=$root/slurmctld.pid
SlurmdPidFile=$root/slurmd.pid
SlurmctldLogFile=$root/slurmctld.log
SlurmdLogFile=$root/slurmd.log
# No systemd, and no control group of its own: processes are tracked by their parents.
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
AccountingStorageType=accounting_storage/none
MailProg=/bin/true
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
MpiDefault=none
ReturnToService=2
SchedulerParameters=sched_interval=1,sched_min_interval=0,batch_sched_delay=0,bf_interval=1
KillWait=2
# What ended stays in view until the test ends.
MinJobAge=86400
# How soon a lost node is seen; no less is safe on a busy machine.
SlurmdTimeout=15
SlurmdParameters=config_overrides
NodeName=$host NodeAddr=127.0.0.1 CPUs=$cpus RealMemory=$memory State=UNKNOWN
PartitionName=main Nodes=ALL Default=YES MaxTime=INFINITE State=UP
END
}

case $doing in
    start)
        # munged refuses folders that others may write to.
        install -d -m 0755 "$root/munge" "$root/state" "$root/spool"
        dd if=/dev/urandom of="$root/munge/key" bs=1024 count=1 status=none
        chmod 0400 "$root/munge/key"
        munged --force --key-file="$root/munge/key" --socket="$root/munge/socket" --pid-file="$root/munged.pid" \
            --log-file="$root/munge/log" --seed-file="$root/munge/seed"
        configure "$3" "$4"
        slurmctld
        slurmd
        for _ in $(seq 100); do
            if [ "$(sinfo --noheader --format=%t 2> /dev/null)" = idle ]; then
                exit 0
            fi
            sleep 0.2
        done
        tail -n 20 "$root"/*.log >&2
        exit 1
        ;;
    node) slurmd ;;
    stop)
        for daemon in slurmd slurmctld munged; do
            if [ -s "$root/$daemon.pid" ]; then
                process=$(cat "$root/$daemon.pid")
                kill "$process" || true
                # It writes its state as it ends: the folder is free after that.
                for _ in $(seq 100); do
                    kill -0 "$process" 2> /dev/null || break
                    sleep 0.1
                done
            fi
        done
        ;;
esac
