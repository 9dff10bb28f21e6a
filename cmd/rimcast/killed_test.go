package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// This file kills runs at chosen moments, which a random time seldom meets:
// behind a checkpoint, while a result or a part is written, while parts are merged.

// sign tells that the moment has come to kill a run.
type sign func() bool

// bytesAt is the sign that files hold so many bytes together.
func bytesAt(pattern string, least int64) sign {
	return func() bool {
		var sum int64
		paths, _ := filepath.Glob(pattern)
		for _, path := range paths {
			if info, err := os.Stat(path); err == nil {
				sum += info.Size()
			}
		}
		return sum >= least
	}
}

// filesIn is the sign that a directory in the making holds so many files; those
// that runs before have left do not count.
func filesIn(pattern string, least int) sign {
	stale, _ := filepath.Glob(pattern)
	return func() bool {
		dirs, _ := filepath.Glob(pattern)
		return slices.ContainsFunc(dirs, func(dir string) bool {
			return !slices.Contains(stale, dir) && countFiles(dir) >= least
		})
	}
}

func countFiles(dir string) (n int) {
	_ = filepath.WalkDir(dir, func(_ string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			n++
		}
		return nil // what is being renamed is not counted
	})
	return n
}

// killedAt runs rimcast as a process and kills it at a sign. A run that has ended
// before is no kill.
func killedAt(t *testing.T, now sign, args ...string) (killed bool, text string) {
	t.Helper()
	cmd, out := startKeeping(t, args...)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = cmd.Wait()
	}()
	look := time.NewTicker(time.Millisecond)
	defer look.Stop()
	for {
		select {
		case <-ended:
			if code := cmd.ProcessState.ExitCode(); code > 0 {
				t.Fatalf("exit code %d before it was killed: %s", code, out.String())
			}
			return cmd.ProcessState.ExitCode() < 0, out.String()
		case <-look.C:
			if now() {
				_ = cmd.Process.Kill() // it may have ended just now
				<-ended
				return cmd.ProcessState.ExitCode() < 0, out.String()
			}
		}
	}
}

// noSign is the sign of a run that is left alone.
func noSign() bool { return false }

// killing is a place where a chain of runs is killed and goes on.
type killing struct {
	t       *testing.T
	dir     string // holds "whole", what an undisturbed run writes, and "old"
	out     string // the place that is written again and again over "old"
	kills   int
	resumes int
}

// newKilling makes the old and the whole result of a command line whose output
// and seed are added.
func newKilling(t *testing.T, args ...string) *killing {
	t.Helper()
	k := &killing{t: t, dir: t.TempDir()}
	k.out = filepath.Join(k.dir, "out")
	for _, r := range []struct{ name, seed string }{{"whole", "1"}, {"old", "7"}, {"out", "7"}} {
		k.alone(append(args, "-o", filepath.Join(k.dir, r.name), "--seed", r.seed)...)
	}
	return k
}

// alone runs a command line that must end well.
func (k *killing) alone(args ...string) (text string) {
	k.t.Helper()
	_, text = killedAt(k.t, noSign, args...)
	return text
}

// at kills a run at a sign; the old result must be whole, or the new one there
// whole. It reports what the run said.
func (k *killing) at(what string, now sign, args ...string) (text string) {
	k.t.Helper()
	killed, text := killedAt(k.t, now, args...)
	if !killed {
		k.t.Logf("%s: the run had ended", what)
		return text
	}
	k.kills++
	shown.add("kills", 1)
	for _, name := range []string{"old", "whole"} {
		if diff, err := treeDifference(filepath.Join(k.dir, name), k.out); err == nil && diff == "" {
			shown.add("whole", 1)
			return text
		}
	}
	k.t.Errorf("%s: the result is neither the old nor the new", what)
	return text
}

// ends runs to the end, compares, and looks for leftovers.
func (k *killing) ends(args ...string) (text string) {
	k.t.Helper()
	text = k.alone(args...)
	sameTree(k.t, filepath.Join(k.dir, "whole"), k.out)
	for _, name := range names(k.t, k.dir) {
		if strings.HasPrefix(name, ".") {
			k.t.Errorf("%s is left", name)
		}
	}
	return text
}

// resumed counts a run that took over what others had measured.
func (k *killing) resumed(text string) {
	if strings.Contains(text, "measurements are taken from") {
		k.resumes++
		shown.add("resumed", 1)
	}
}

// TestKilledBehindCheckpoints kills one run again and again, each time when its
// checkpoint has grown, then while it writes its result, at every third file, and
// lets it end: in the bytes of an undisturbed run.
func TestKilledBehindCheckpoints(t *testing.T) {
	tallied(t)
	if testing.Short() {
		t.Skip("takes several runs")
	}
	args := []string{"screen", smallSurvey(t), "--nulls", "8", "--top", "1", "-v", "--force"}
	k := newKilling(t, args...)
	again := append(args, "-o", k.out, "--seed", "1", "--resume")
	progress := besideName(k.out, "progress")
	for _, size := range []int64{3e3, 9e3, 15e3} {
		k.at(fmt.Sprintf("checkpoint of %d bytes", size), bytesAt(progress, size), again...)
	}
	files := countFiles(filepath.Join(k.dir, "whole"))
	for n := 1; n <= files; n += 3 {
		k.resumed(k.at(fmt.Sprintf("%d files of %d", n, files), filesIn(filepath.Join(k.dir, ".out.partial-*"), n), again...))
	}
	k.resumed(k.ends(again...))
	if t.Logf("%d kills, %d runs resumed", k.kills, k.resumes); k.kills < 8 || k.resumes < 8 {
		t.Error("too few kills met their moment")
	}
	if !t.Failed() {
		shown.add("resumed same", k.resumes)
	}
}

// TestKilledMerges kills shards while they measure and write their parts, then
// merges while these read and write; the end has the bytes of one run.
func TestKilledMerges(t *testing.T) {
	tallied(t)
	if testing.Short() {
		t.Skip("takes several runs")
	}
	args := []string{"screen", smallSurvey(t), "--nulls", "8", "--top", "1", "-v", "--force"}
	k := newKilling(t, args...)
	merge := []string{"merge", "--force", "-o", k.out}
	for _, i := range []string{"1", "2", "3"} {
		part := filepath.Join(k.dir, i+".part")
		shard := append(args, "-o", part, "--seed", "1", "--shard", i+"/3", "--resume")
		k.at("shard "+i+", checkpoint", bytesAt(besideName(part, "progress"), 3e3), shard...)
		k.at("shard "+i+", part", bytesAt(besideName(part, "partial-*"), 1), shard...)
		k.alone(shard...)
		merge = append(merge, part)
	}
	partial := filepath.Join(k.dir, ".out.partial-*")
	k.at("merge that has begun", filesIn(partial, 0), merge...)
	files := countFiles(filepath.Join(k.dir, "whole"))
	for n := 1; n <= files; n += 3 {
		k.at(fmt.Sprintf("%d files of %d", n, files), filesIn(partial, n), merge...)
	}
	k.ends(merge...)
	if t.Logf("%d kills", k.kills); k.kills < 9 {
		t.Error("too few kills met their moment")
	}
}
