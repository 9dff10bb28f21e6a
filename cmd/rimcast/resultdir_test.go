package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// put writes a file and its folders.
func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}

func get(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// names lists a directory, hidden entries too.
func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, e := range entries {
		list = append(list, e.Name())
	}
	return list
}

func TestResultAppearsWhole(t *testing.T) {
	dir := t.TempDir()
	final := filepath.Join(dir, "deep", "result")
	d, err := newResultDir(final, false)
	if err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(d.partial, resultMark), "{}")
	put(t, filepath.Join(d.partial, "figures", "a.svg"), "a")
	if _, err := os.Stat(final); !errors.Is(err, fs.ErrNotExist) {
		t.Fatal("the result is there before it is whole")
	}
	if err := d.commit(); err != nil {
		t.Fatal(err)
	}
	d.discard() // as the deferred call does
	if got := get(t, filepath.Join(final, "figures", "a.svg")); got != "a" {
		t.Errorf("figure is %q", got)
	}
	if got := names(t, filepath.Dir(final)); !slices.Equal(got, []string{"result"}) {
		t.Errorf("left beside the result: %v", got)
	}
}

func TestDiscardLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	d, err := newResultDir(filepath.Join(dir, "result"), false)
	if err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(d.partial, "half"), "x")
	d.discard()
	if got := names(t, dir); len(got) > 0 {
		t.Errorf("left: %v", got)
	}
}

func TestForceReplacesOnlyWhenWhole(t *testing.T) {
	dir := t.TempDir()
	final := filepath.Join(dir, "result")
	put(t, filepath.Join(final, resultMark), "old")
	put(t, filepath.Join(final, "extra"), "old")
	d, err := newResultDir(final, true)
	if err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(d.partial, resultMark), "new")
	if got := get(t, filepath.Join(final, resultMark)); got != "old" {
		t.Fatalf("the old result is %q before the new one is whole", got)
	}
	if err := d.commit(); err != nil {
		t.Fatal(err)
	}
	if got := get(t, filepath.Join(final, resultMark)); got != "new" {
		t.Errorf("the result is %q", got)
	}
	if got := names(t, final); !slices.Equal(got, []string{resultMark}) {
		t.Errorf("the new result holds %v", got)
	}
	if got := names(t, dir); !slices.Equal(got, []string{"result"}) {
		t.Errorf("left beside the result: %v", got)
	}
}

func TestWhatIsNotOursIsLeftAlone(t *testing.T) {
	for _, c := range []struct {
		name, file string
		force      bool
		problem    string
	}{
		{"a result without force", "result/manifest.json", false, "exists already"},
		{"other files", "result/thesis.tex", false, "was not written by this command"},
		{"other files with force", "result/thesis.tex", true, "was not written by this command"},
		{"a file with force", "result", true, "is not a directory"},
		{"a mark that is a folder", "result/manifest.json/x", true, "was not written by this command"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			put(t, filepath.Join(dir, c.file), "precious")
			_, err := newResultDir(filepath.Join(dir, "result"), c.force)
			if exitCode(err) != exitUsage || !strings.Contains(err.Error(), c.problem) {
				t.Errorf("error %v, exit code %d", err, exitCode(err))
			}
			if got := get(t, filepath.Join(dir, c.file)); got != "precious" {
				t.Errorf("the file is now %q", got)
			}
		})
	}
}

func TestAnEmptyDirectoryIsFilled(t *testing.T) {
	final := t.TempDir()
	d, err := newResultDir(final, false)
	if err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(d.partial, resultMark), "new")
	if err := d.commit(); err != nil {
		t.Fatal(err)
	}
	if got := get(t, filepath.Join(final, resultMark)); got != "new" {
		t.Errorf("the result is %q", got)
	}
}

func TestTheWorkingDirectoryIsFilled(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "here")
	if err := os.Mkdir(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
	d, err := newResultDir(".", false)
	if err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(d.partial, resultMark), "new")
	if err := d.commit(); err != nil {
		t.Fatal(err)
	}
	if got := get(t, filepath.Join(dir, resultMark)); got != "new" {
		t.Errorf("the result is %q", got)
	}
}

func TestPartsOfKilledRunsAreSwept(t *testing.T) {
	dir := t.TempDir()
	stale := filepath.Join(dir, ".result.partial-123")
	other := filepath.Join(dir, ".other.partial-123")
	put(t, filepath.Join(stale, "half"), "x")
	put(t, filepath.Join(other, "half"), "x")
	alive, err := newResultDir(filepath.Join(dir, "result"), false)
	if err != nil {
		t.Fatal(err)
	}
	defer alive.discard()
	if _, err := os.Stat(stale); err == nil {
		t.Error("the part of a killed run is still there")
	}
	if _, err := os.Stat(other); err != nil {
		t.Error("the part of another result is gone")
	}
	second, err := newResultDir(filepath.Join(dir, "result"), false)
	if err != nil {
		t.Fatal(err)
	}
	defer second.discard()
	if _, err := os.Stat(alive.partial); err != nil {
		t.Error("the part of a run that lives is gone")
	}
}

func TestSomebodyElseWasFaster(t *testing.T) {
	dir := t.TempDir()
	final := filepath.Join(dir, "result")
	d, err := newResultDir(final, false)
	if err != nil {
		t.Fatal(err)
	}
	defer d.discard()
	put(t, filepath.Join(final, resultMark), "theirs")
	if err := d.commit(); exitCode(err) != exitOutput {
		t.Errorf("error %v, exit code %d", err, exitCode(err))
	}
	if got := get(t, filepath.Join(final, resultMark)); got != "theirs" {
		t.Errorf("the result is %q", got)
	}
}

func TestExchangeByRenames(t *testing.T) {
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	put(t, filepath.Join(a, "f"), "a")
	put(t, filepath.Join(b, "f"), "b")
	if err := exchangeByRenames(a, b); err != nil {
		t.Fatal(err)
	}
	if get(t, filepath.Join(a, "f")) != "b" || get(t, filepath.Join(b, "f")) != "a" {
		t.Error("the directories did not change places")
	}
	if err := exchangeByRenames(filepath.Join(dir, "none"), b); err == nil {
		t.Fatal("a missing new directory is no error")
	}
	if get(t, filepath.Join(b, "f")) != "a" {
		t.Error("the old directory was not put back")
	}
}

func TestUnwritablePlace(t *testing.T) {
	dir := t.TempDir()
	put(t, filepath.Join(dir, "file"), "")
	_, err := newResultDir(filepath.Join(dir, "file", "result"), false)
	if exitCode(err) != exitOutput {
		t.Errorf("error %v, exit code %d", err, exitCode(err))
	}
}
