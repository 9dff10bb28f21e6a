package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// faultCount is the number of faults of input and surroundings that the
// program answers for. Each is a script in testdata/faults whose name begins
// with its number, or a row of goFaults.
const faultCount = 58

// faultTable is the list of the faults, written by -update.
const faultTable = "testdata/faults.md"

// fault is one row of the table.
type fault struct {
	number             int
	what, exit, answer string
	test               string
	why                string // where another answer could be expected
	inspect            string // what inspect prints; after "-; " why it says nothing
}

// goFaults are the faults that need more than a script: the test that shows
// the answer, as package.Name.
var goFaults = []fault{
	{39, "crater over the pole or the cut of the map", "0", "the same ground as anywhere else", "raster.TestGeometryAtEveryHardPlace", "", "-; handled"},
	{45, "local times round midnight", "0", "they go round the clock", "cmd.TestLocalTimeGoesRound", "", "-; handled"},
	{52, "disk full", "6", "nothing half-written, the old result intact", "cmd.TestDiskFull", "", "-; the room is not known before"},
	{52, "no room for more files on the disk", "6", "the same, at every number of files that there is room for", "cmd.TestNoRoomForFiles", "", "-; the room is not known before"},
	{52, "place, result, map or catalogue of another user", "4, 6", "said before any work; nothing changes", "cmd.TestUnwritableForOthers", "", "-; as of a place that cannot be written"},
	{54, "interrupted run", "130", "nothing half-written; what is measured is kept, and `--resume` ends in the same bytes", "cmd.TestInterruptedRunsResume",
		"a run of one machine keeps craters, not shards, so that less is lost; a task of a job array does both", "-; nothing to see before a run"},
	{54, "run killed at any moment", "137", "the result is whole or absent; `--resume` ends in the same bytes", "cmd.TestKilledRunsResume", "", "-; nothing to see before a run"},
	{54, "run killed behind checkpoints, and at every third file of its result", "137", "the old result whole, or the new; `--resume` ends in the same bytes", "cmd.TestKilledBehindCheckpoints", "", "-; nothing to see before a run"},
	{54, "shard killed at its part, merge killed while it reads and writes", "137", "the old result whole, or the new; the same commands end in the bytes of one run", "cmd.TestKilledMerges", "", "-; nothing to see before a run"},
	{55, "remote 403, 404, 5xx, slow, a page instead of a map", "4", "the answer of the server, no secrets, few retries, an end", "cmd.TestRemoteFaults", "", "403"},
	{55, "server that fails half way", "5", "craters on the tiles that were served are kept; four failures end the look at a map", "cmd.TestServerThatFailsHalfWay", "", "-; the server fails later"},
	{56, "file changed between two shards, before a merge or before a run resumes", "3", "both check sums are named; merge and `--resume` refuse", "cmd.TestChangedInputsAreRefused", "", "-; nothing to see before a run"},
	{56, "file changed while it was read", "4", "check sums in the manifest; the run stops, and nothing is written", "cmd.TestInputsReplacedWhileRunning",
		"within one run the file cannot be read as what it was: it is a fault of the reading, and the same command may be tried again", "-; nothing to see before a run"},
	{0, "damaged .aux.xml or .msk beside a map", "4", "named, with what would be lost; GDAL leaves it out without a word", "raster.TestDamagedFilesBeside", "", "-; the same, as it opens the map"},
	{0, "a map on a server", "0", "read by ranges, each tile about once; no secret in any output", "cmd.TestRangesOfRemoteMap", "", "-; handled"},
	{0, "names that lead to the network, also inside a virtual raster", "3, 4", "no request leaves without `--allow-vsi`", "cmd.TestRemoteIsOffUnlessAsked", "", "this is an address or a virtual file, not a local file"},
}

// faultScripts reads the heads of the scripts: three comments that say what
// the fault is, which exit codes end it, and the answer in a line.
func faultScripts(t *testing.T) []fault {
	files, err := filepath.Glob("testdata/faults/*.txtar")
	if err != nil || len(files) == 0 {
		t.Fatal("there are no scripts of faults")
	}
	var list []fault
	for _, path := range files {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, faultHead(t, filepath.Base(path), string(text)))
	}
	return list
}

func faultHead(t *testing.T, name, text string) fault {
	number, _, _ := strings.Cut(name, "-")
	f := fault{test: strings.TrimSuffix(name, ".txtar")}
	f.number, _ = strconv.Atoi(number) // 0 for the hostile ones, h01 and so on
	for line := range strings.Lines(text) {
		key, value, _ := strings.Cut(strings.TrimPrefix(strings.TrimSpace(line), "# "), ": ")
		switch key {
		case "fault":
			f.what = value
		case "exit":
			f.exit = value
		case "answer":
			f.answer = value
		case "why":
			f.why = value
		case "inspect":
			f.inspect = value
		}
	}
	if f.what == "" || f.exit == "" || f.answer == "" || f.inspect == "" {
		t.Errorf("%s does not begin with # fault:, # exit:, # answer: and # inspect:", name)
	}
	if !strings.HasPrefix(f.inspect, "-; ") && !strings.Contains(text, "\ninspects\n") {
		t.Errorf("%s claims what inspect says, and no line inspects shows it", name)
	}
	f.checkExit(t, text)
	return f
}

var exitClaim = regexp.MustCompile(`\d+`)

// checkExit holds the head against the script: a code other than 0 must be
// asked for by a status line.
func (f fault) checkExit(t *testing.T, text string) {
	for _, code := range exitClaim.FindAllString(f.exit, -1) {
		if code != "0" && !strings.Contains(text, "status "+code+" ") {
			t.Errorf("%s: exit code %s is claimed, and no line shows it", f.test, code)
		}
	}
}

// TestEveryFaultHasATest fails when a fault has none, and keeps the table of
// the faults up to date.
func TestEveryFaultHasATest(t *testing.T) {
	list := append(faultScripts(t), goFaults...)
	checkGoFaults(t)
	slices.SortStableFunc(list, func(a, b fault) int { return (a.number+99)%100 - (b.number+99)%100 })
	for n := 1; n <= faultCount; n++ {
		if !slices.ContainsFunc(list, func(f fault) bool { return f.number == n }) {
			t.Errorf("fault %d has no test", n)
		}
	}
	table := writeFaultTable(list)
	if *update {
		if err := os.WriteFile(faultTable, table, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if have, err := os.ReadFile(faultTable); err != nil || !bytes.Equal(have, table) {
		t.Errorf("%s is not that of the tests: go test ./cmd/rimcast -run EveryFault -update", faultTable)
	}
}

func writeFaultTable(list []fault) []byte {
	var b bytes.Buffer
	b.WriteString("# Faults and answers\n\nWritten by `go test ./cmd/rimcast -run EveryFault -update`. Tests without a package\nare scripts in `faults/`; each makes the fault, and checks message, exit code\nand what is kept.\n\n")
	b.WriteString("What inspect says is a piece of its text, held against it by the test; where it\nsays nothing, a word tells why.\n\n| # | fault | exit | answer | inspect says | test |\n|---|---|---|---|---|---|\n")
	for _, f := range list {
		number := ""
		if f.number > 0 {
			number = strconv.Itoa(f.number)
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s | `%s` |\n", number, f.what, f.exit, f.answer, f.says(), f.test)
	}
	writeReasons(&b, list)
	return b.Bytes()
}

// says is the cell of what inspect prints.
func (f fault) says() string {
	if why, silent := strings.CutPrefix(f.inspect, "-; "); silent {
		return why
	}
	return "\u201c" + f.inspect + "\u201d"
}

// cmdInspects holds the output of the command before it against the claim in the
// head of the script.
func cmdInspects(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) > 0 {
		ts.Fatalf("usage: inspects")
	}
	claim := ts.Getenv("INSPECT")
	if text := ts.ReadFile("stdout") + ts.ReadFile("stderr"); claim == "" || !strings.Contains(text, claim) {
		ts.Fatalf("inspect does not say %q", claim)
	}
}

// claimOf is the head # inspect: of the script of an environment.
func claimOf(e *testscript.Env) (string, error) {
	name := strings.TrimPrefix(filepath.Base(e.WorkDir), "script-")
	text, err := os.ReadFile(filepath.Join("testdata/faults", name+".txtar"))
	if err != nil {
		return "", err
	}
	for line := range strings.Lines(string(text)) {
		if claim, ok := strings.CutPrefix(strings.TrimSpace(line), "# inspect: "); ok {
			return claim, nil
		}
	}
	return "", nil
}

// writeReasons says why some answers are not the plain stop that could be
// expected.
func writeReasons(b *bytes.Buffer, list []fault) {
	b.WriteString("\n## Why not otherwise\n\n| # | reason |\n|---|---|\n")
	for _, f := range list {
		if f.why != "" {
			fmt.Fprintf(b, "| %d | %s |\n", f.number, f.why)
		}
	}
}

// checkGoFaults looks for the functions that goFaults names.
func checkGoFaults(t *testing.T) {
	for _, f := range goFaults {
		pkg, name, _ := strings.Cut(f.test, ".")
		dir := map[string]string{"cmd": ".", "raster": "../../raster", "geom": "../../geom", "ejecta": "../../ejecta"}[pkg]
		files, _ := filepath.Glob(filepath.Join(dir, "*_test.go"))
		found := slices.ContainsFunc(files, func(path string) bool {
			text, err := os.ReadFile(path)
			return err == nil && bytes.Contains(text, []byte("\nfunc "+name+"(t *testing.T)"))
		})
		if !found {
			t.Errorf("fault %d: there is no test %s", f.number, f.test)
		}
	}
}

// TestFaults runs the scripts of the faults.
func TestFaults(t *testing.T) {
	if testing.Short() {
		t.Skip("many small screenings: left to the whole suite")
	}
	t.Cleanup(func() { // after the last script
		if !t.Failed() {
			shown.add("scripts", len(faultScripts(t)))
		}
	})
	testscript.Run(t, testscript.Params{
		Dir:                "testdata/faults",
		RequireUniqueNames: true,
		UpdateScripts:      *update,
		Cmds:               map[string]func(*testscript.TestScript, bool, []string){"inspects": cmdInspects},
		Setup: func(e *testscript.Env) error {
			e.Setenv("NO_COLOR", "1")
			claim, err := claimOf(e)
			if err != nil {
				return err
			}
			e.Setenv("INSPECT", claim)
			return os.WriteFile(filepath.Join(e.WorkDir, "one.geojson"), []byte(moonCrater), 0o644)
		},
	})
}

// moonCrater is a catalogue that every script finds as one.geojson: a crater
// with a radius of 6 degrees on the Moon.
const moonCrater = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"id":"A","radius_km":182},"geometry":{"type":"Point","coordinates":[30,10]}}]}
`
