package reports

import (
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
)

// readParquetScript reads an overlay by a reader that shares nothing with ours
// and prints what it found.
const readParquetScript = `
import { asyncBufferFromFile, parquetMetadataAsync, parquetReadObjects } from "hyparquet";
const file = await asyncBufferFromFile(process.argv[1]);
const metadata = await parquetMetadataAsync(file);
const geo = JSON.parse(metadata.key_value_metadata.find(k => k.key === "geo").value);
const rows = await parquetReadObjects({file, metadata});
const plain = (key, v) => typeof v === "bigint" ? Number(v) : v;
console.log(JSON.stringify({crs: geo.columns.geometry.crs, rows}, plain));
`

// readerRow is a row as the other reader gives it: the geometry comes decoded.
type readerRow struct {
	Kind     string `json:"kind"`
	CraterID string `json:"crater_id"`
	Geometry struct {
		Type        string          `json:"type"`
		Coordinates json.RawMessage `json:"coordinates"`
	} `json:"geometry"`
	Rank  *int     `json:"rank"`
	RhoLo *float64 `json:"rho_lo"`
}

// otherReader returns a way to run a script that reads Parquet with a library
// fetched by npm, or installed below the directory that HYPARQUET names; the
// test is skipped where there is none.
func otherReader(t *testing.T) func(script string, args ...string) []byte {
	t.Helper()
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("no node on this machine: the Parquet files are not tried with another reader")
	}
	tools := npmTools(t, "HYPARQUET", "hyparquet")
	return func(script string, args ...string) []byte {
		cmd := exec.Command(node, append([]string{"--input-type=module", "-e", script}, args...)...)
		cmd.Dir = tools
		text, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, text)
		}
		return text
	}
}

// npmTools is a directory with an npm package: the one that a variable of the
// environment names, or one for this test alone. The test is skipped where
// there is none.
func npmTools(t *testing.T, variable, name string) string {
	t.Helper()
	if dir := os.Getenv(variable); dir != "" {
		return dir
	}
	if testing.Short() {
		t.Skipf("%s is fetched by npm: not in short tests", name)
	}
	tools := t.TempDir()
	install := exec.Command("npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", tools, name)
	if text, err := install.CombinedOutput(); err != nil {
		t.Skipf("npm cannot install %s, which this test needs: %v %s", name, err, text)
	}
	return tools
}

// Another reader finds the same rows, shapes, attributes and reference system.
func TestGeoParquetByAnotherReader(t *testing.T) {
	run := otherReader(t)
	s := fixture(12)
	path := filepath.Join(t.TempDir(), ParquetFile)
	if err := writeFile(path, func(w io.Writer) error { return WriteGeoParquet(w, s, Options{}) }); err != nil {
		t.Fatal(err)
	}
	var got struct {
		CRS  any
		Rows []readerRow
	}
	if err := json.Unmarshal(run(readParquetScript, path), &got); err != nil {
		t.Fatal(err)
	}
	checkReaderCRS(t, s, got.CRS)
	i := 0
	for _, layer := range Layers(s, Options{}) {
		for f := range layer.Features {
			checkReaderRow(t, f, got.Rows[i])
			i++
		}
	}
	if i != len(got.Rows) {
		t.Errorf("%d rows of %d features", len(got.Rows), i)
	}
}

// checkReaderCRS holds the reference system against the one of the survey.
func checkReaderCRS(t *testing.T, s *Survey, got any) {
	t.Helper()
	want, err := json.Marshal(s.projJSON())
	if err != nil {
		t.Fatal(err)
	}
	if text, err := json.Marshal(got); err != nil || !sameJSON(t, want, text) {
		t.Errorf("reference system %s (%v), want %s", text, err, want)
	}
}

// sameJSON compares two texts whatever the order of their members.
func sameJSON(t *testing.T, a, b []byte) bool {
	t.Helper()
	ordered := func(text []byte) string {
		var v any
		if err := json.Unmarshal(text, &v); err != nil {
			t.Fatal(err)
		}
		again, _ := json.Marshal(v) // members by name
		return string(again)
	}
	return ordered(a) == ordered(b)
}

func checkReaderRow(t *testing.T, f Feature, r readerRow) {
	t.Helper()
	want, err := json.Marshal(f.Geometry)
	if err != nil {
		t.Fatal(err)
	}
	switch {
	case r.Kind != f.Kind || r.CraterID != DisplayText(f.CraterID):
		t.Fatalf("row %s of %s, feature %s of %s", r.Kind, r.CraterID, f.Kind, f.CraterID)
	case r.Geometry.Type != f.Geometry.GeoJSONType() || !sameJSON(t, coordinates(f.Geometry), r.Geometry.Coordinates):
		t.Errorf("%s of %s: %s, want %s", f.Kind, f.CraterID, r.Geometry.Coordinates, want)
	case (r.Rank != nil) != (f.Kind == "rim") || (r.RhoLo != nil) != (f.Kind == "ring"):
		t.Errorf("%s of %s has attributes of another kind, or lacks its own", f.Kind, f.CraterID)
	}
	for _, p := range f.Props {
		if v, ok := p.Value.(float64); ok && p.Name == "rho_lo" && *r.RhoLo != v {
			t.Errorf("%s of %s: rho_lo %v, want %v", f.Kind, f.CraterID, *r.RhoLo, v)
		}
	}
}

// coordinates are those of GeoJSON, which orb writes for a bare geometry.
func coordinates(g orb.Geometry) []byte {
	text, _ := json.Marshal(g) // finite numbers
	return text
}
