package main

import (
	"bufio"
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// minMemory is the least that --memory accepts.
const minMemory = 200e6

// unknownMemory stands for a machine that does not say how much it has.
const unknownMemory = 2 << 30

// usableMemory returns the bytes that this process may use: the memory of the
// machine, or the limit of its control group when that is lower. A batch
// scheduler sets the latter, and kills who goes over it.
func usableMemory() int64 { return usableBelow("/") }

// usableBelow reads the limits from the files below a root.
func usableBelow(root string) int64 {
	limit := int64(unknownMemory)
	if text, err := os.ReadFile(filepath.Join(root, "proc/meminfo")); err == nil {
		if n := meminfoTotal(text); n > 0 {
			limit = n
		}
	}
	groups, _ := os.ReadFile(filepath.Join(root, "proc/self/cgroup")) // absent outside Linux
	for _, path := range groupFiles(groups) {
		if text, err := os.ReadFile(filepath.Join(root, path)); err == nil {
			if n := groupLimit(text); n > 0 {
				limit = min(limit, n)
			}
		}
	}
	return limit
}

// groupFiles lists the files that may limit the memory of this process: those
// of its own control group and of every group above it, in both versions. From
// memory.high on a process of version 2 is slowed down.
func groupFiles(groups []byte) (files []string) {
	for _, dir := range upwards(ownGroup(groups, "0::")) {
		files = append(files, filepath.Join("sys/fs/cgroup", dir, "memory.max"), filepath.Join("sys/fs/cgroup", dir, "memory.high"))
	}
	for _, dir := range upwards(ownGroup(groups, "memory")) {
		files = append(files, filepath.Join("sys/fs/cgroup/memory", dir, "memory.limit_in_bytes"))
	}
	return files
}

// upwards is a clean absolute directory and all above it.
func upwards(dir string) []string {
	if dir == "/" {
		return []string{dir}
	}
	return append([]string{dir}, upwards(filepath.Dir(dir))...)
}

// ownGroup reads the line of a process's group: "0::/path" of version 2, or
// "4:cpu,memory:/path" of a controller of version 1; "/" when there is none.
func ownGroup(text []byte, controller string) string {
	for line := range strings.Lines(string(text)) {
		f := strings.SplitN(strings.TrimSpace(line), ":", 3)
		if len(f) == 3 && strings.HasPrefix(f[2], "/") && ofController(f, controller) {
			return filepath.Clean(f[2])
		}
	}
	return "/"
}

func ofController(f []string, controller string) bool {
	if controller == "0::" {
		return f[0] == "0" && f[1] == ""
	}
	return slices.Contains(strings.Split(f[1], ","), controller)
}

// meminfoTotal reads the line "MemTotal: 16318480 kB"; 0 when it is not there.
func meminfoTotal(text []byte) int64 {
	lines := bufio.NewScanner(bytes.NewReader(text))
	for lines.Scan() {
		f := strings.Fields(lines.Text())
		if len(f) >= 2 && f[0] == "MemTotal:" {
			n, err := strconv.ParseInt(f[1], 10, 64)
			if err != nil {
				return 0
			}
			return n << 10
		}
	}
	return 0
}

// groupLimit reads the limit of a control group; 0 for "max" or nonsense.
func groupLimit(text []byte) int64 {
	n, err := strconv.ParseInt(strings.TrimSpace(string(text)), 10, 64)
	if err != nil || n <= 0 {
		return 0
	}
	return n
}
