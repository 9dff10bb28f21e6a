#!/bin/bash
# Tries slurm-array.sh on one machine: a Slurm of one node, an invented survey
# in three shards, one task killed and requeued, and the merged result compared
# with a single run. For a throw-away machine with Debian, as root:
#
#   apt-get install --no-install-recommends slurm-wlm munge
#   go build -o rimcast ./cmd/rimcast
#   cmd/jobs/slurm-local.sh ./rimcast
set -eu
here=$(cd "$(dirname "$0")" && pwd)
export RIMCAST=$(realpath "${1:?the program is missing}")
work=$(mktemp -d)
chmod 755 "$work"
conf=$work/slurm.conf
export SLURM_CONF=$conf
host=$(hostname -s)

stop() {
	for f in "$work"/slurmd.pid "$work"/slurmctld.pid "$work"/munged.pid; do
		[ -s "$f" ] && kill "$(cat "$f")" 2>/dev/null || true
	done
}
trap stop EXIT

# munge: a key and a socket of its own, beside whatever the machine has.
head -c 1024 /dev/urandom >"$work/munge.key"
chmod 400 "$work/munge.key"
munged --force --key-file="$work/munge.key" --socket="$work/munge.socket" --pid-file="$work/munged.pid" \
	--log-file="$work/munged.log" --seed-file="$work/munge.seed"

mkdir "$work/state" "$work/spool"
cat >"$conf" <<END
ClusterName=local
SlurmctldHost=$host(127.0.0.1)
SlurmUser=root
AuthType=auth/munge
AuthInfo=socket=$work/munge.socket
StateSaveLocation=$work/state
SlurmdSpoolDir=$work/spool
SlurmctldPidFile=$work/slurmctld.pid
SlurmdPidFile=$work/slurmd.pid
SlurmctldLogFile=$work/slurmctld.log
SlurmdLogFile=$work/slurmd.log
SlurmctldPort=16817
SlurmdPort=16818
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
JobRequeue=1
KillWait=5
ReturnToService=2
MpiDefault=none
NodeName=$host NodeAddr=127.0.0.1 CPUs=$(nproc) State=UNKNOWN
PartitionName=all Nodes=$host Default=YES MaxTime=INFINITE State=UP
END
slurmctld
sleep 3
slurmd
for i in $(seq 30); do
	sinfo -h -o %T | grep -q idle && break
	sleep 1
done
sinfo

# The survey, once in a single run and once as an array.
cd "$work"
"$RIMCAST" synth small --width 800 --craters 900 -o survey
flags="--nulls 200 --top 1"
"$RIMCAST" screen survey/survey.toml $flags -q -o single
job=$(sbatch --parsable --array=1-3 --cpus-per-task=1 --mem=0 "$here/slurm-array.sh" survey/survey.toml 3 parts $flags -v)

# Kill the first task once it has a checkpoint, and let Slurm requeue it.
for i in $(seq 1200); do
	[ -s parts/.1.part.progress ] && break
	sleep 0.1
done
ls -l parts/.1.part.progress
scontrol requeue "${job}_1"
for i in $(seq 600); do
	[ -z "$(squeue -h -j "$job" 2>/dev/null)" ] && break
	# a requeued task waits for two minutes; begin at once
	scontrol update JobId="${job}_1" StartTime=now 2>/dev/null || true
	sleep 1
done
cat rimcast-"$job"_1.log
grep -q 'measurements are taken from' rimcast-"$job"_1.log || {
	echo "the task was not killed half-way: try again" >&2
	exit 1
}
"$RIMCAST" merge parts/1.part parts/2.part parts/3.part -q -o merged
diff -r single merged
echo "the merged result equals the single run; logs are in $work"
