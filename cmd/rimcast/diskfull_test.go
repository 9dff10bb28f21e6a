//go:build linux

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestDiskFull fills a small file system in memory: the run says so, and the
// result that was there stays whole. It needs the right to mount one.
func TestDiskFull(t *testing.T) {
	tallied(t)
	dir := t.TempDir()
	disk := smallDisk(t, dir, "size=3m")
	args := append(craterOnMap(t, dir), "-o", "disk/out", "--force")
	if code, text := program(t, dir, nil, args...); code != 0 {
		t.Fatalf("exit code %d with room enough; %s", code, text)
	}
	before := slurp(t, filepath.Join(disk, "out", "findings.csv"))
	fillUp(t, filepath.Join(disk, "fill"), 200<<10)
	code, text := program(t, dir, nil, append(args, "--seed", "7")...)
	if code != exitOutput || !strings.Contains(text, "the disk is full, or has no room for more files; free space or choose another place with -o; what was there before is intact") {
		t.Errorf("exit code %d; %s", code, text)
	}
	if after := slurp(t, filepath.Join(disk, "out", "findings.csv")); after != before {
		t.Error("the old result has changed")
	}
	// What was measured stays beside it for --resume, when there is room again.
	if got := strings.Join(names(t, disk), " "); got != ".out.progress fill out" {
		t.Errorf("left on the disk: %s", got)
	}
	if err := os.Remove(filepath.Join(disk, "fill")); err != nil {
		t.Fatal(err)
	}
	if code, text := program(t, dir, nil, append(args, "--seed", "7", "--resume", "-v")...); code != 0 || !strings.Contains(text, "1 measurements are taken from") {
		t.Errorf("exit code %d; %s", code, text)
	}
	if got := strings.Join(names(t, disk), " "); got != "out" {
		t.Errorf("left on the disk: %s", got)
	}
}

// fillUp writes until the disk is full and gives room bytes back.
func fillUp(t *testing.T, path string, room int64) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	n := int64(0)
	for block := make([]byte, 4096); ; n += int64(len(block)) {
		if _, err := f.Write(block); err != nil {
			break
		}
	}
	if err := f.Truncate(max(n-room, 0)); err != nil {
		t.Fatal(err)
	}
}
