//go:build linux

package main

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// smallDisk mounts a small file system in memory, where that is allowed.
func smallDisk(t *testing.T, dir, options string) (disk string) {
	t.Helper()
	disk = filepath.Join(dir, "disk")
	if err := os.Mkdir(disk, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, options); err != nil {
		t.Skip("no small file system to fill: ", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(disk, 0); err != nil {
			t.Error(err)
		}
	})
	return disk
}

// craterOnMap writes a map and a catalogue of one crater, and returns the command
// line that screens them.
func craterOnMap(t *testing.T, dir string) []string {
	t.Helper()
	if err := makeMap(filepath.Join(dir, "water.tif"), nil); err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(dir, "one.geojson"), moonCrater)
	return []string{"screen", "--species", "water=water.tif", "--craters", "one.geojson", "--nulls", "0", "--top", "0"}
}

// TestNoRoomForFiles leaves bytes and no room for more files, at every number of
// files that a run makes: it says so, and the result that was there stays whole.
func TestNoRoomForFiles(t *testing.T) {
	tallied(t)
	dir := t.TempDir()
	disk := smallDisk(t, dir, "size=30m,nr_inodes=120")
	args := append(craterOnMap(t, dir), "-o", "disk/out", "--force")
	if code, text := program(t, dir, nil, args...); code != 0 {
		t.Fatalf("exit code %d with room enough; %s", code, text)
	}
	before, err := tree(filepath.Join(disk, "out"))
	if err != nil {
		t.Fatal(err)
	}
	for _, room := range []int{0, 1, 2, 3, 7} {
		leaveFiles(t, filepath.Join(disk, "fill"), room)
		code, text := program(t, dir, nil, append(args, "--seed", "7")...)
		if code != exitOutput || !strings.Contains(text, "the disk is full, or has no room for more files") {
			t.Errorf("room for %d files: exit code %d; %s", room, code, text)
		}
		if after, err := tree(filepath.Join(disk, "out")); err != nil || !sameFiles(before, after) {
			t.Errorf("room for %d files: the old result has changed: %v", room, err)
		}
	}
	if err := os.RemoveAll(filepath.Join(disk, "fill")); err != nil {
		t.Fatal(err)
	}
	if code, text := program(t, dir, nil, append(args, "--seed", "7")...); code != 0 {
		t.Errorf("exit code %d with room again; %s", code, text)
	}
	if got := strings.Join(names(t, disk), " "); got != "out" {
		t.Errorf("left on the disk: %s", got)
	}
}

func sameFiles(a, b map[string][]byte) bool {
	for name := range a {
		if string(a[name]) != string(b[name]) {
			return false
		}
	}
	return len(a) == len(b)
}

// leaveFiles makes files until no more can be made, and removes so many again.
func leaveFiles(t *testing.T, dir string, room int) {
	t.Helper()
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	n := 0
	for ; ; n++ {
		f, err := os.Create(filepath.Join(dir, numbered(n)))
		if err != nil {
			break
		}
		f.Close()
	}
	for ; room > 0; room-- {
		n--
		if err := os.Remove(filepath.Join(dir, numbered(n))); err != nil {
			t.Fatal(err)
		}
	}
}

func numbered(n int) string { return strings.Repeat("f", n+1) }

// nobody is a user without rights.
const nobody = 65534

// programAsNobody runs a command line as a user without rights, in a copy of this
// program that such a user can reach.
func programAsNobody(t *testing.T, exe, dir string, args ...string) (int, string) {
	t.Helper()
	cmd := exec.Command(exe, args...)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), asProgram+"=1", "NO_COLOR=1", "HOME=/")
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	var errs strings.Builder
	cmd.Stderr = &errs
	err := cmd.Run()
	if cmd.ProcessState == nil {
		t.Fatal(err)
	}
	return cmd.ProcessState.ExitCode(), errs.String()
}

// openDir is a temporary directory that every user can enter, with a copy of this
// program in it.
func openDir(t *testing.T) (dir, exe string) {
	t.Helper()
	dir, err := os.MkdirTemp("", "rimcast-open-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	exe = filepath.Join(dir, "rimcast")
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Link(self, exe); err != nil {
		put(t, exe, slurp(t, self))
	}
	for _, path := range []string{dir, exe} {
		if err := os.Chmod(path, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return dir, exe
}

// unwritable is a place that a user without rights cannot write, and what the
// program says about it.
type unwritable struct {
	what  string
	ready func(dir string) error // as root, before the run
	code  int
	words []string
}

var unwritables = []unwritable{
	{"directory of another user", func(string) error { return nil }, exitOutput,
		[]string{"cannot write the output", "permission denied", "choose a place that can be written with -o; what was there before is intact"}},
	{"result of another user", func(dir string) error {
		return errors.Join(os.Chmod(dir, 0o777), writeFixture(filepath.Join(dir, "out")))
	}, exitOutput, []string{"out", "permission denied", "choose a place that can be written with -o; what was there before is intact"}},
	{"map of another user", func(dir string) error {
		return errors.Join(os.Chmod(dir, 0o777), os.Chmod(filepath.Join(dir, "water.tif"), 0o600))
	}, exitCorrupt, []string{"water.tif", "Permission denied"}},
	{"catalogue of another user", func(dir string) error {
		return errors.Join(os.Chmod(dir, 0o777), os.Chmod(filepath.Join(dir, "one.geojson"), 0o600))
	}, exitCorrupt, []string{"one.geojson: permission denied"}},
}

// TestUnwritableForOthers: what another user may not write or read is named before
// any work, and nothing changes.
func TestUnwritableForOthers(t *testing.T) {
	tallied(t)
	if os.Geteuid() != 0 {
		t.Skip("only root can be somebody else")
	}
	for _, u := range unwritables {
		t.Run(u.what, func(t *testing.T) {
			dir, exe := openDir(t)
			args := append(craterOnMap(t, dir), "-o", "out", "--force")
			if err := u.ready(dir); err != nil {
				t.Fatal(err)
			}
			before := names(t, dir)
			code, text := programAsNobody(t, exe, dir, args...)
			if code != u.code {
				t.Errorf("exit code %d; %s", code, text)
			}
			for _, w := range u.words {
				if !strings.Contains(text, w) {
					t.Errorf("it does not say %q: %s", w, text)
				}
			}
			if strings.Contains(text, "noise") || strings.Join(names(t, dir), " ") != strings.Join(before, " ") {
				t.Errorf("work was done, or something is left: %v; %s", names(t, dir), text)
			}
		})
	}
}
