#!/bin/bash
# Screens a survey as a job array, one shard for each task:
#
#   sbatch --array=1-17 slurm-array.sh survey.toml 17 parts [flags of screen]
#
# Submit where the paths of the survey hold. Every task resumes from its own
# checkpoint, so a task that was killed or pre-empted loses a few seconds.
#SBATCH --job-name=rimcast
#SBATCH --cpus-per-task=2
#SBATCH --mem=4G
#SBATCH --time=02:00:00
#SBATCH --requeue
#SBATCH --open-mode=append
#SBATCH --output=rimcast-%A_%a.log
set -u

survey=${1:?the survey file is missing}
shards=${2:?the number of shards is missing}
parts=${3:?the folder for the parts is missing}
shift 3
index=${SLURM_ARRAY_TASK_ID:?submit with sbatch --array=1-$shards}
tries=3

mkdir -p "$parts" || exit 6
for try in $(seq "$tries"); do
	"${RIMCAST:-rimcast}" screen "$survey" "$@" --shard "$index/$shards" --resume --force \
		--workers "${SLURM_CPUS_PER_TASK:-1}" -o "$parts/$index.part"
	code=$?
	case $code in
	4 | 5) # a map could not be read; a file system may come back
		echo "shard $index: exit code $code, try $try of $tries" >&2
		[ "$try" -lt "$tries" ] && sleep $((30 * try))
		;;
	*) exit $code ;; # done, or a retry will not help
	esac
done
exit $code
