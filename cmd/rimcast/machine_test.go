package main

import (
	"os"
	"path/filepath"
	"runtime/debug"
	"testing"
)

func TestMemoryTexts(t *testing.T) {
	// Lines as in proc(5), and files of the kernel's control groups.
	if got := meminfoTotal([]byte("MemFree: 3 kB\nMemTotal:       16318480 kB\n")); got != 16318480<<10 {
		t.Errorf("MemTotal is %d", got)
	}
	if got := meminfoTotal([]byte("MemTotal: lots\n")); got != 0 {
		t.Errorf("nonsense is %d", got)
	}
	for text, want := range map[string]int64{"max\n": 0, "536870912\n": 512 << 20, "-1\n": 0, "": 0} {
		if got := groupLimit([]byte(text)); got != want {
			t.Errorf("limit %q is %d, want %d", text, got, want)
		}
	}
	for text, want := range map[string]string{
		"0::/job_7/step_0\n": "/job_7/step_0", "12:cpu:/x\n0::/\n": "/", "": "/", "0::relative": "/", "0::/a/../../b\n": "/b",
	} {
		if got := ownGroup([]byte(text), "0::"); got != want {
			t.Errorf("group of %q is %q, want %q", text, got, want)
		}
	}
	if usableMemory() < minMemory {
		t.Error("this machine has less memory than the least that is accepted")
	}
}

// TestUsableMemory reads the limits of machines that are not there: the lowest of
// machine, own group and groups above it.
func TestUsableMemory(t *testing.T) {
	const gib = 1 << 30
	for name, row := range map[string]struct {
		files map[string]string
		want  int64
	}{
		"nothing is known":   {nil, unknownMemory},
		"no group":           {map[string]string{"proc/meminfo": "MemTotal: 8388608 kB\n"}, 8 * gib},
		"version 2":          {map[string]string{"proc/self/cgroup": "0::/slurm/job_7\n", "sys/fs/cgroup/slurm/job_7/memory.max": "1073741824\n"}, gib},
		"above the own":      {map[string]string{"proc/self/cgroup": "0::/slurm/job_7\n", "sys/fs/cgroup/slurm/memory.max": "1073741824\n", "sys/fs/cgroup/slurm/job_7/memory.max": "max\n"}, gib},
		"slowed down":        {map[string]string{"proc/self/cgroup": "0::/\n", "sys/fs/cgroup/memory.max": "max\n", "sys/fs/cgroup/memory.high": "536870912\n"}, gib / 2},
		"version 1":          {map[string]string{"proc/self/cgroup": "9:cpu,cpuacct:/x\n4:memory:/slurm/uid_0/job_7\n", "sys/fs/cgroup/memory/slurm/uid_0/job_7/memory.limit_in_bytes": "1073741824\n"}, gib},
		"version 1, mounted": {map[string]string{"proc/self/cgroup": "4:memory:/docker/abc\n", "sys/fs/cgroup/memory/memory.limit_in_bytes": "1073741824\n"}, gib},
		"version 1, none":    {map[string]string{"proc/meminfo": "MemTotal: 8388608 kB\n", "sys/fs/cgroup/memory/memory.limit_in_bytes": "9223372036854771712\n"}, 8 * gib},
		"another controller": {map[string]string{"proc/self/cgroup": "9:cpu:/x\n", "sys/fs/cgroup/memory/x/memory.limit_in_bytes": "4096\n"}, unknownMemory},
	} {
		root := t.TempDir()
		for file, text := range row.files {
			if err := os.MkdirAll(filepath.Dir(filepath.Join(root, file)), 0o755); err != nil {
				t.Fatal(err)
			}
			put(t, filepath.Join(root, file), text)
		}
		if got := usableBelow(root); got != row.want {
			t.Errorf("%s: %d bytes, want %d", name, got, row.want)
		}
	}
}

// The limit of a run is never above one that the environment sets, and ends with
// the run.
func TestLimitMemory(t *testing.T) {
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(600 << 20))
	for bytes, want := range map[int64]int64{300 << 20: 300 << 20, 900 << 20: 600 << 20} {
		end := (&surveyFile{Run: runSection{Memory: bytes}}).limitMemory()
		if got := debug.SetMemoryLimit(-1); got != want {
			t.Errorf("--memory %d: the limit is %d, want %d", bytes, got, want)
		}
		if end(); debug.SetMemoryLimit(-1) != 600<<20 {
			t.Error("the limit stays")
		}
	}
}
