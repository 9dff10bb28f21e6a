package main

import (
	"bufio"
	"bytes"
	"os"
	"path/filepath"
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
func usableMemory() int64 {
	limit := int64(unknownMemory)
	if text, err := os.ReadFile("/proc/meminfo"); err == nil {
		if n := meminfoTotal(text); n > 0 {
			limit = n
		}
	}
	for _, path := range groupFiles() {
		if text, err := os.ReadFile(path); err == nil {
			if n := groupLimit(text); n > 0 {
				limit = min(limit, n)
			}
		}
	}
	return limit
}

// groupFiles lists the files that may limit the memory of this process: those
// of its own control group and of every group above it.
func groupFiles() []string {
	files := []string{"/sys/fs/cgroup/memory/memory.limit_in_bytes"} // version 1
	text, _ := os.ReadFile("/proc/self/cgroup")                      // absent outside Linux
	for dir := ownGroup(text); ; dir = filepath.Dir(dir) {
		files = append(files, filepath.Join("/sys/fs/cgroup", dir, "memory.max"))
		if dir == "/" || dir == "." {
			return files
		}
	}
}

// ownGroup reads the line "0::/path" of version 2; "/" when there is none.
func ownGroup(text []byte) string {
	for line := range strings.Lines(string(text)) {
		if path, ok := strings.CutPrefix(strings.TrimSpace(line), "0::"); ok && strings.HasPrefix(path, "/") {
			return filepath.Clean(path)
		}
	}
	return "/"
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
