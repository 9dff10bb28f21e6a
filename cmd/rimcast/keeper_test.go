package main

import (
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// keepAtOnce in the environment of the test binary as a program makes it write
// a checkpoint after every crater.
const keepAtOnce = "RIMCAST_TEST_KEEP_AT_ONCE"

// sameTree compares two directories byte for byte.
func sameTree(t *testing.T, a, b string) {
	t.Helper()
	diff, err := treeDifference(a, b)
	if err != nil {
		t.Fatal(err)
	}
	if diff != "" {
		t.Errorf("%s and %s differ: %s", a, b, diff)
	}
}

// smallSurvey writes the built-in small survey.
func smallSurvey(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if _, err := writeInvented(dir, smallScenario(), 1); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, "survey.toml")
}

// startKeeping starts rimcast as a process that keeps every measurement at once.
func startKeeping(t *testing.T, args ...string) (*exec.Cmd, *strings.Builder) {
	t.Helper()
	cmd, out := rimcastCommand(t, args...), &strings.Builder{}
	cmd.Env = append(cmd.Env, keepAtOnce+"=1")
	cmd.Stdout, cmd.Stderr = out, out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd, out
}

// killedAfter runs rimcast as a process and kills it after a while, 0 for never.
func killedAfter(t *testing.T, after time.Duration, args ...string) (killed bool, text string) {
	t.Helper()
	cmd, out := startKeeping(t, args...)
	if after > 0 {
		defer time.AfterFunc(after, func() { _ = cmd.Process.Kill() }).Stop()
	}
	return cmd.Wait() != nil, out.String()
}

// TestKilledRunsResume kills a run at random moments, resumes it until it ends,
// and compares the result with that of an undisturbed run.
func TestKilledRunsResume(t *testing.T) {
	tallied(t)
	if testing.Short() {
		t.Skip("takes several runs")
	}
	survey, dir := smallSurvey(t), t.TempDir()
	args := func(out string, more ...string) []string {
		return append([]string{"screen", survey, "-o", filepath.Join(dir, out), "--nulls", "8", "--top", "1", "-v"}, more...)
	}
	start := time.Now()
	if failed, text := killedAfter(t, 0, args("whole")...); failed {
		t.Fatal(text)
	}
	whole := time.Since(start)
	rng := rand.New(rand.NewPCG(1, 2))
	resumed := 0
	for round := range 3 {
		out := "again" + string(rune('a'+round))
		for try := 0; ; try++ {
			after := time.Duration((0.2 + 0.8*rng.Float64()) * float64(whole))
			if try == 4 {
				after = 0
			}
			killed, text := killedAfter(t, after, args(out, "--resume")...)
			if strings.Contains(text, "measurements are taken from") {
				resumed++
				shown.add("resumed", 1)
			}
			if _, missing := os.Stat(filepath.Join(dir, out)); !killed || missing == nil {
				break // a kill may come when the result is in its place
			}
			if after == 0 {
				t.Fatal(text)
			}
		}
		sameTree(t, filepath.Join(dir, "whole"), filepath.Join(dir, out))
	}
	if !t.Failed() {
		shown.add("resumed same", resumed)
	}
	if resumed == 0 {
		t.Error("no run was resumed: the kills came too early or too late")
	}
	for _, name := range names(t, dir) {
		if strings.HasPrefix(name, ".") {
			t.Errorf("%s is left", name)
		}
	}
}

// interruptedCraters interrupts a run when its checkpoint holds some craters,
// and returns its messages.
func interruptedCraters(t *testing.T, args ...string) string {
	t.Helper()
	cmd := rimcastCommand(t, args...)
	cmd.Env = append(cmd.Env, keepAtOnce+"=1")
	var out strings.Builder
	cmd.Stderr = &out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	progress := besideName(args[3], "progress")
	for range 60000 { // two minutes: a race build is slow to its first crater
		if info, err := os.Stat(progress); err == nil && info.Size() > 3000 {
			break
		}
		time.Sleep(2 * time.Millisecond)
	}
	_ = cmd.Process.Signal(os.Interrupt)
	_ = cmd.Wait()
	if code := cmd.ProcessState.ExitCode(); code != exitInterrupted {
		t.Fatalf("exit code %d; %s", code, out.String())
	}
	return out.String()
}

func TestInterruptedRunsResume(t *testing.T) {
	tallied(t)
	survey, dir := smallSurvey(t), t.TempDir()
	out := filepath.Join(dir, "out")
	args := []string{"screen", survey, "-o", out, "--nulls", "8", "--top", "0"}
	if text := interruptedCraters(t, args...); !strings.Contains(text, "continue with the same command and --resume") {
		t.Error(text)
	}
	// Other settings and another map are refused, and the checkpoint stays.
	if code, _, text := runHere(t, append(args, "--resume", "--seed", "9")...); code != exitRefused || !strings.Contains(text, "have different settings") {
		t.Errorf("exit code %d; %s", code, text)
	}
	craters := filepath.Join(filepath.Dir(survey), "craters.geojson")
	was := slurp(t, craters)
	put(t, craters, was+"\n")
	if code, _, text := runHere(t, append(args, "--resume")...); code != exitRefused || !strings.Contains(text, "catalogue, craters.geojson, is not one file") {
		t.Errorf("exit code %d; %s", code, text)
	}
	put(t, craters, was)
	if code, _, text := runHere(t, append(args, "--resume", "-v")...); code != 0 || !strings.Contains(text, "measurements are taken from") {
		t.Errorf("exit code %d; %s", code, text)
	}
	if got := names(t, dir); len(got) != 1 {
		t.Errorf("left: %v", got)
	}
	plain := append([]string{}, args...)
	plain[3] = filepath.Join(dir, "plain")
	if code, _, text := runHere(t, plain...); code != 0 {
		t.Fatal(text)
	}
	sameTree(t, out, plain[3])
}

func TestOldCheckpointsAreReplaced(t *testing.T) {
	survey, dir := tinySurvey(t), t.TempDir()
	out := filepath.Join(dir, "out")
	put(t, besideName(out, "progress"), "anything")
	args := []string{"screen", survey, "-o", out, "--nulls", "8", "--top", "0"}
	if code, _, text := runHere(t, append(args, "--resume")...); code != exitCorrupt || !strings.Contains(text, "is not a part") {
		t.Errorf("exit code %d; %s", code, text)
	}
	code, _, text := runHere(t, args...)
	if code != 0 || !strings.Contains(text, "is replaced; --resume would continue it") {
		t.Errorf("exit code %d; %s", code, text)
	}
	if got := names(t, dir); len(got) != 1 {
		t.Errorf("left: %v", got)
	}
}
