package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestInputsReplacedWhileRunning: a catalogue that is replaced in the middle of
// a run ends it, and nothing is written.
func TestInputsReplacedWhileRunning(t *testing.T) {
	tallied(t)
	survey, dir := tinySurvey(t), t.TempDir()
	craters := filepath.Join(filepath.Dir(survey), "craters.geojson")
	var out strings.Builder
	w := &actor{text: "rimcast: null positions", out: &out, act: func() {
		was := slurp(t, craters)
		if err := os.Remove(craters); err != nil {
			t.Error(err)
		}
		put(t, craters, was+"\n")
	}}
	code := run(t.Context(), []string{"screen", survey, "-o", filepath.Join(dir, "result"), "--nulls", "8", "--top", "0"}, nil, w, w)
	if code != exitCorrupt || !strings.Contains(out.String(), "craters.geojson") || !strings.Contains(out.String(), "changed") {
		t.Errorf("exit code %d; %s", code, out.String())
	}
	if got := names(t, dir); len(got) > 0 && got[0] != ".result.progress" {
		t.Errorf("left: %v", got)
	}
}

// actor does something once, when a text appears among the messages of a run.
type actor struct {
	text string
	act  func()
	out  *strings.Builder
}

func (a *actor) Write(p []byte) (int, error) {
	a.out.Write(p)
	if act := a.act; act != nil && strings.Contains(a.out.String(), a.text) {
		a.act = nil
		act()
	}
	return len(p), nil
}

// TestChangedInputsAreRefused: two shards that read different versions of a map
// are not merged, and a run does not resume on another map.
func TestChangedInputsAreRefused(t *testing.T) {
	tallied(t)
	survey, dir := tinySurvey(t), t.TempDir()
	part := func(i string) string { return filepath.Join(dir, i+".part") }
	for i, shard := range []string{"1", "2"} {
		if code, _, text := runHere(t, "screen", survey, "-o", part(shard), "--shard", shard+"/2", "--nulls", "8"); code != 0 {
			t.Fatal(text)
		}
		if i == 0 {
			stamp(t, filepath.Join(filepath.Dir(survey), "water.tif"))
		}
	}
	code, _, text := runHere(t, "merge", part("1"), part("2"), "-o", filepath.Join(dir, "result"))
	if code != exitRefused || strings.Count(text, "SHA-256") != 2 || !strings.Contains(text, "water.tif, is not one file") {
		t.Errorf("exit code %d; %s", code, text)
	}
	if got := names(t, dir); len(got) != 2 {
		t.Errorf("left: %v", got)
	}
}

// stamp changes a file, not its pixels: a byte after the end of a TIFF.
func stamp(t *testing.T, path string) {
	t.Helper()
	put(t, path, slurp(t, path)+"x")
}
