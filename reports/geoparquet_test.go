package reports

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"testing"

	"github.com/parquet-go/parquet-go"
	"github.com/paulmach/orb/encoding/wkb"
)

// overlayRow is a part of the columns, as a reader would name them.
type overlayRow struct {
	Kind     string   `parquet:"kind"`
	CraterID string   `parquet:"crater_id"`
	Geometry []byte   `parquet:"geometry"`
	Rank     *int64   `parquet:"rank,optional"`
	Score    *float64 `parquet:"score,optional"`
	Measured *bool    `parquet:"measured,optional"`
	RhoLo    *float64 `parquet:"rho_lo,optional"`
	Pattern  *string  `parquet:"pattern,optional"`
}

// Every feature of the overlay is read back with its geometry and attributes;
// what a kind does not have, and what is missing, is null.
func TestGeoParquetReadsBack(t *testing.T) {
	s := fixture(12)
	data := filled(t, func(w io.Writer) error { return WriteGeoParquet(w, s, Options{}) })
	rows, err := parquet.Read[overlayRow](bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	i := 0
	for _, layer := range Layers(s, Options{}) {
		for f := range layer.Features {
			checkOverlayRow(t, f, rows[i])
			i++
		}
	}
	if i != len(rows) || i < 100 {
		t.Errorf("%d rows of %d features", len(rows), i)
	}
	again := filled(t, func(w io.Writer) error { return WriteGeoParquet(w, fixture(12), Options{}) })
	if !bytes.Equal(data, again) {
		t.Error("two runs gave different files")
	}
}

func checkOverlayRow(t *testing.T, f Feature, r overlayRow) {
	t.Helper()
	if r.Kind != f.Kind || r.CraterID != DisplayText(f.CraterID) {
		t.Fatalf("row %s of %s, feature %s of %s", r.Kind, r.CraterID, f.Kind, f.CraterID)
	}
	shape, err := wkb.Unmarshal(r.Geometry)
	if err != nil || !shape.Bound().Equal(f.Geometry.Bound()) {
		t.Errorf("%s of %s: another geometry (%v)", f.Kind, f.CraterID, err)
	}
	for _, p := range f.Props {
		switch v := p.Value.(type) {
		case float64:
			if p.Name == "score" && (r.Score == nil) != math.IsNaN(v) || p.Name == "rho_lo" && *r.RhoLo != v {
				t.Errorf("%s of %s: %s is not %v", f.Kind, f.CraterID, p.Name, v)
			}
		case int:
			if p.Name == "rank" && *r.Rank != int64(v) {
				t.Errorf("rank %d, want %d", *r.Rank, v)
			}
		case bool:
			if p.Name == "measured" && *r.Measured != v {
				t.Errorf("measured %v, want %v", *r.Measured, v)
			}
		}
	}
	if f.Kind != "rim" && r.Rank != nil || f.Kind != "ring" && r.RhoLo != nil {
		t.Errorf("a %s has attributes of another kind", f.Kind)
	}
}

func TestGeoParquetMetadata(t *testing.T) {
	data := filled(t, func(w io.Writer) error { return WriteGeoParquet(w, fixture(12), Options{}) })
	f, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	text, ok := f.Lookup("geo")
	var meta struct {
		Version string
		Primary string `json:"primary_column"`
		Columns map[string]struct {
			Encoding, Orientation, Edges string
			Types                        []string `json:"geometry_types"`
			Bbox                         []float64
		}
	}
	if err := json.Unmarshal([]byte(text), &meta); !ok || err != nil || meta.Version != "1.1.0" || meta.Primary != "geometry" {
		t.Fatalf("metadata %q (%v)", text, err)
	}
	c := meta.Columns["geometry"]
	if c.Encoding != "WKB" || c.Orientation != "counterclockwise" || len(c.Types) != 2 || len(c.Bbox) != 4 || c.Bbox[0] < -180 || c.Bbox[2] > 180 {
		t.Errorf("column %+v", c)
	}
	empty := filled(t, func(w io.Writer) error { return WriteGeoParquet(w, &Survey{Body: fixture(1).Body}, Options{}) })
	if f, err = parquet.OpenFile(bytes.NewReader(empty), int64(len(empty))); err != nil || f.NumRows() != 0 {
		t.Errorf("an empty overlay: %v", err)
	}
}
