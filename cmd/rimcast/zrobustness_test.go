package main

import (
	"bytes"
	"encoding/csv"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
)

// This file makes the table of robustness from what the other tests of a run
// have shown. Its name puts it last.

var robustness = flag.Bool("robustness", false, "write testdata/robustness.md from what the tests of this run show")

const (
	robustnessTable = "../../testdata/robustness.md"
	fuzzRecords     = "../../testdata/fuzz.csv"
	robustnessRun   = "go test ./cmd/rimcast -timeout 1h -run 'Fault|Killed|Interrupted|Inputs|DiskFull|NoRoom|Unwritable|Remote|LocalTime|ServerThat|TwoTasks|ShardsAndWorkers|Robustness' -robustness"
)

// tally counts what the tests of one run have shown.
type tally struct {
	mu sync.Mutex
	n  map[string]int
}

var shown = tally{n: map[string]int{}}

func (c *tally) add(what string, n int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.n[what] += n
}

// tallied counts a test that has passed, under its name.
func tallied(t *testing.T) {
	t.Cleanup(func() {
		if !t.Failed() && !t.Skipped() {
			shown.add(t.Name(), 1)
		}
	})
}

// fuzzRow is what is on record of one target.
type fuzzRow struct{ seconds, executions, failures int }

// readFuzzRecords adds up the rows of .ci/fuzz.
func readFuzzRecords(t *testing.T) map[string]fuzzRow {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(slurp(t, fuzzRecords))).ReadAll()
	if err != nil || len(rows) < 2 || len(rows[0]) != 5 {
		t.Fatalf("%s holds no records: %v", fuzzRecords, err)
	}
	sums := map[string]fuzzRow{}
	for _, r := range rows[1:] {
		name := r[0] + " " + r[1]
		s := sums[name]
		for i, dst := range []*int{&s.seconds, &s.executions, &s.failures} {
			n, err := strconv.Atoi(r[2+i])
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			*dst += n
		}
		sums[name] = s
	}
	return sums
}

var fuzzFunction = regexp.MustCompile(`(?m)^func (Fuzz\w+)\(`)

// fuzzTargets are the targets in the source, as package and name.
func fuzzTargets(t *testing.T) (list []string) {
	t.Helper()
	err := filepath.WalkDir("../..", func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range fuzzFunction.FindAllSubmatch(text, -1) {
			dir, _ := filepath.Rel("../..", filepath.Dir(path))
			list = append(list, filepath.ToSlash(dir)+" "+string(m[1]))
		}
		return err
	})
	if err != nil || len(list) == 0 {
		t.Fatal("there are no fuzz targets: ", err)
	}
	slices.Sort(list)
	return list
}

// TestRobustnessRecords: every fuzz target has been run for the record, and no
// run of it failed.
func TestRobustnessRecords(t *testing.T) {
	records := readFuzzRecords(t)
	for _, name := range fuzzTargets(t) {
		if r := records[name]; r.executions == 0 || r.seconds == 0 || r.failures > 0 {
			t.Errorf("%s: on record are %d executions and %d failures; .ci/fuzz 10m %s", name, r.executions, r.failures, strings.Fields(name)[1])
		}
	}
}

var fuzzBody = regexp.MustCompile(`(?ms)^func (Fuzz\w+)\(.*?^}$`)

// seeded is how a fuzz target shows that it has seeds: one that is written out,
// a list that is, or an end where there are none.
var seeded = regexp.MustCompile(`(?m)^\tf\.Add\(|(range|:=) \[\]\w+\{|len\(\w+\) == 0`)

// TestFuzzTargetsHaveSeeds: no fuzz target passes because it began with nothing.
func TestFuzzTargetsHaveSeeds(t *testing.T) {
	for _, name := range fuzzTargets(t) {
		dir, target, _ := strings.Cut(name, " ")
		files, _ := filepath.Glob(filepath.Join("../..", dir, "*_test.go"))
		for _, path := range files {
			for _, m := range fuzzBody.FindAllStringSubmatch(slurp(t, path), -1) {
				if m[1] == target && !seeded.MatchString(m[0]) {
					t.Errorf("%s would pass without a seed", name)
				}
			}
		}
	}
}

// robustnessRow is a row of the table: what, how often, how it should end, and
// how often it did.
type robustnessRow struct {
	what  string
	tried int
	end   string
	ended int
}

// robustnessRows gathers the counts of this run.
func robustnessRows(t *testing.T) []robustnessRow {
	scripts := faultScripts(t)
	passed := 0
	var tests []string
	for _, f := range goFaults {
		if name, ok := strings.CutPrefix(f.test, "cmd."); ok && !slices.Contains(tests, name) {
			tests = append(tests, name)
			passed += shown.n[name]
		}
	}
	n := shown.n
	return []robustnessRow{
		{"faults of `cmd/rimcast/testdata/faults.md`, as scripts", len(scripts), "message, exit code and files as agreed", n["scripts"]},
		{"faults there that need more than a script", len(tests), "as agreed", passed},
		{"runs, shards and merges killed (SIGKILL) over an old result", n["kills"], "the old result or the new, whole", n["whole"]},
		{"killed runs that were resumed", n["resumed"], "the bytes of an undisturbed run", n["resumed same"]},
		{"workers 1, 2 and 8", n["workers"], "the same bytes", n["workers same"]},
		{"shards 1, 3 and 17, merged", n["shards"], "the same bytes", n["shards same"]},
	}
}

// TestRobustnessTable writes the table when asked to, and fails when a row did
// not end as it should. Without -robustness it keeps the part about fuzzing up to
// date, with -update, and the number of scripts.
func TestRobustnessTable(t *testing.T) {
	var tests string
	if *robustness {
		tests = writeShown(t)
	} else {
		tests, _, _ = strings.Cut(slurp(t, robustnessTable), fuzzHead)
		if !strings.Contains(tests, fmt.Sprintf("as scripts | %d |", len(faultScripts(t)))) {
			t.Errorf("%s is not that of the faults: %s", robustnessTable, robustnessRun)
		}
	}
	text := tests + fuzzHead + writeFuzzTable(readFuzzRecords(t), fuzzTargets(t))
	if *robustness || *update {
		put(t, robustnessTable, text)
	}
	if slurp(t, robustnessTable) != text {
		t.Errorf("%s has not the records of fuzzing: go test ./cmd/rimcast -run Robustness -update", robustnessTable)
	}
}

// writeShown is the part about the tests of this run.
func writeShown(t *testing.T) string {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# Robustness\n\nWritten from what the tests did by\n\n    %s\n\n| what | tried | should end as | did |\n|---|---|---|---|\n", robustnessRun)
	for _, r := range robustnessRows(t) {
		if r.tried == 0 || r.ended != r.tried {
			t.Errorf("%s: %d of %d", r.what, r.ended, r.tried)
		}
		fmt.Fprintf(&b, "| %s | %d | %s | %d |\n", r.what, r.tried, r.end, r.ended)
	}
	return b.String()
}

// fuzzHead begins the part about fuzzing.
const fuzzHead = "\n## Fuzzing\n\nRecords of `.ci/fuzz` in `fuzz.csv`.\n\n"

func writeFuzzTable(records map[string]fuzzRow, targets []string) string {
	var b strings.Builder
	b.WriteString("| fuzz target | seconds | executions | crashes |\n|---|---|---|---|\n")
	var all fuzzRow
	for _, name := range targets {
		r := records[name]
		all = fuzzRow{all.seconds + r.seconds, all.executions + r.executions, all.failures + r.failures}
		fmt.Fprintf(&b, "| `%s` | %d | %d | %d |\n", name, r.seconds, r.executions, r.failures)
	}
	fmt.Fprintf(&b, "| all | %d | %d | %d |\n", all.seconds, all.executions, all.failures)
	return b.String()
}
