package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// asProgram in the environment makes the test binary behave as rimcast itself.
const asProgram = "RIMCAST_TEST_AS_PROGRAM"

// rimcastCommand is rimcast as a process of its own.
func rimcastCommand(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self, args...)
	cmd.Env = append(os.Environ(), asProgram+"=1")
	return cmd
}

// stopper cancels a run when a text appears among its messages.
type stopper struct {
	text string
	stop context.CancelFunc
	seen strings.Builder
}

func (s *stopper) Write(p []byte) (int, error) {
	s.seen.Write(p)
	if strings.Contains(s.seen.String(), s.text) {
		s.stop()
	}
	return len(p), nil
}

// tinySurvey writes an invented survey that is screened in a second.
func tinySurvey(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	s := smallScenario()
	s.Grid.Width, s.Grid.Height = 240, 120
	s.Species, s.Old.Count = s.Species[:1], 2
	s.Craters = nil
	if _, err := writeInvented(dir, s, 1); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, "survey.toml")
}

func TestInterruptedRunsLeaveNothing(t *testing.T) {
	survey, dir := tinySurvey(t), t.TempDir()
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	w := &stopper{text: "rimcast: noise", stop: stop}
	var out strings.Builder
	code := run(ctx, []string{"screen", survey, "-o", filepath.Join(dir, "result"), "--nulls", "8"}, nil, &out, w)
	if code != exitInterrupted || !strings.Contains(w.seen.String(), "interrupted") {
		t.Errorf("exit code %d, messages %s", code, w.seen.String())
	}
	if got := names(t, dir); len(got) > 0 {
		t.Errorf("left: %v", got)
	}
}

func TestSignalsEndWithTheirCode(t *testing.T) {
	survey, dir := tinySurvey(t), t.TempDir()
	cmd := rimcastCommand(t, "screen", survey, "-o", filepath.Join(dir, "result"), "--nulls", "100000")
	pipe, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	buf := make([]byte, 1)
	if _, err := pipe.Read(buf); err != nil { // its first message: it is at work
		t.Fatal(err)
	}
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait()
	if code := cmd.ProcessState.ExitCode(); code != exitInterrupted {
		t.Errorf("exit code %d", code)
	}
	if got := names(t, dir); len(got) > 0 {
		t.Errorf("left: %v", got)
	}
}

// TestKilledRunsLeaveAWholeResult kills runs at different moments. Whenever it
// happens, the old result is there or the new one, never a part; and the next
// run removes what the killed ones left.
func TestKilledRunsLeaveAWholeResult(t *testing.T) {
	if testing.Short() {
		t.Skip("takes several runs")
	}
	survey, dir := tinySurvey(t), t.TempDir()
	result := filepath.Join(dir, "result")
	args := func(seed string) []string {
		return []string{"screen", survey, "-o", result, "--nulls", "8", "--top", "0", "--force", "--seed", seed}
	}
	start := time.Now()
	if out, err := rimcastCommand(t, args("1")...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	whole := time.Since(start)
	want := names(t, result)
	const kills = 6
	for i := range kills {
		cmd := rimcastCommand(t, args("2")...)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(whole * time.Duration(i+1) / kills)
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		shown.add("kills", 1)
		if got := names(t, result); strings.Join(got, " ") != strings.Join(want, " ") {
			t.Fatalf("kill %d: the result holds %v", i, got)
		}
		if _, err := readResult(result); err != nil {
			t.Fatalf("kill %d: %v", i, err)
		}
		shown.add("whole", 1)
	}
	if out, err := rimcastCommand(t, args("3")...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if got := names(t, dir); len(got) != 1 {
		t.Errorf("left beside the result: %v", got)
	}
}
