//go:build unix

package main

import (
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// TestPipesAreNotWaitedFor: a pipe without a writer in place of any file ends a
// command, with the name of the pipe.
func TestPipesAreNotWaitedFor(t *testing.T) {
	dir := t.TempDir()
	pipe := filepath.Join(dir, "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Skip("no pipes here: ", err)
	}
	out := filepath.Join(dir, "out")
	for _, args := range [][]string{
		{"merge", pipe, "-o", out}, {"screen", pipe, "-o", out}, {"inspect", pipe}, {"synth", pipe, "-o", out},
		{"inspect", "--craters", pipe, "--body", "Moon"}, {"inspect", "--species", "w=" + pipe}, {"merge", "/dev/zero", "-o", out},
	} {
		code, _, text := runHere(t, args...)
		if code != exitCorrupt || !strings.Contains(text, "device or a pipe") {
			t.Errorf("%v: exit code %d; %s", args, code, text)
		}
	}
	if code, _, text := runHere(t, "merge", dir, "-o", out); code != exitCorrupt || !strings.Contains(text, "is a directory") {
		t.Errorf("exit code %d; %s", code, text)
	}
	if got := names(t, dir); len(got) != 1 {
		t.Errorf("left: %v", got)
	}
}
