package main

import (
	"fmt"
	"path/filepath"
	"testing"
)

// TestShardsAndWorkers: the result does not depend on the number of workers, nor
// on the number of shards, also where shards have no crater.
func TestShardsAndWorkers(t *testing.T) {
	if testing.Short() {
		t.Skip("takes two dozen runs")
	}
	survey, dir := tinySurvey(t), t.TempDir()
	screened := func(out string, more ...string) string {
		t.Helper()
		path := filepath.Join(dir, out)
		if code, _, text := runHere(t, append([]string{"screen", survey, "-o", path, "--nulls", "8", "--top", "1"}, more...)...); code != 0 {
			t.Fatal(text)
		}
		return path
	}
	whole := screened("w1", "--workers", "1")
	for _, n := range []string{"1", "2", "8"} {
		shown.count("workers", whole, screened("with"+n, "--workers", n), t)
	}
	for _, of := range []int{1, 3, 17} {
		args := []string{"merge", "-o", filepath.Join(dir, fmt.Sprint("merged", of))}
		for i := 1; i <= of; i++ {
			args = append(args, screened(fmt.Sprintf("%d-%d.part", of, i), "--shard", fmt.Sprintf("%d/%d", i, of), "--workers", fmt.Sprint(1+i%3)))
		}
		if code, _, text := runHere(t, args...); code != 0 {
			t.Fatal(text)
		}
		shown.count("shards", whole, args[2], t)
	}
}

// count compares two results and counts them as the same, or fails.
func (c *tally) count(what, a, b string, t *testing.T) {
	t.Helper()
	c.add(what, 1)
	if diff, err := treeDifference(a, b); err != nil || diff != "" {
		t.Errorf("%s and %s differ: %s %v", a, b, diff, err)
		return
	}
	c.add(what+" same", 1)
}
