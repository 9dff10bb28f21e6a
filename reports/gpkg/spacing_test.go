package gpkg

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"testing"

	"github.com/airbusgeo/godal"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"

	"rimcast/geom"
	"rimcast/reports"
)

// Edges of a rim stay within a tenth of a map pixel of the circle, at a pole
// and across the 180 degree meridian as elsewhere.
func TestRimsAreDrawnFineEnough(t *testing.T) {
	s := survey(moon, "IAU:2015:30100")
	for i := range s.Findings {
		s.Findings[i].PixelsPer = 9
	}
	path := filepath.Join(t.TempDir(), "overlay.gpkg")
	if err := Write(path, s, reports.Options{}); err != nil {
		t.Fatal(err)
	}
	ds, err := godal.Open(path, godal.VectorOnly())
	if err != nil {
		t.Fatal(err)
	}
	defer ds.Close()
	rims, seen := ds.LayerByName("rim"), 0
	for f := rims.NextFeature(); f != nil; f = rims.NextFeature() {
		data, err := f.Geometry().WKB()
		if err != nil {
			t.Fatal(err)
		}
		shape, err := wkb.Unmarshal(data)
		if err != nil {
			t.Fatal(err)
		}
		seen += checkRim(t, s, f.Fields()["crater_id"].String(), shape.(orb.MultiPolygon))
		f.Close()
	}
	if seen < 4*24 {
		t.Errorf("%d edges of four rims looked at", seen)
	}
}

// checkRim compares the middle of every edge with the circle and returns how
// many there were. Edges along the border of the map are none of the rim.
func checkRim(t *testing.T, s *reports.Survey, id string, shape orb.MultiPolygon) (edges int) {
	t.Helper()
	for _, c := range s.Catalogue.Craters {
		if plain(c.ID) != id {
			continue
		}
		f := geom.NewFrame(s.Body, c.Centre)
		for _, p := range shape {
			for _, ring := range p {
				for k := 1; k < len(ring); k++ {
					a, b := ring[k-1], ring[k]
					if a[0] == b[0] && math.Abs(a[0]) == 180 || a[1] == b[1] && math.Abs(a[1]) == 90 {
						continue
					}
					edges++
					r, _ := f.Polar(geom.LonLat{Lon: (a[0] + b[0]) / 2, Lat: (a[1] + b[1]) / 2})
					if off := math.Abs(r-c.Radius) / c.Radius * 9; off > 0.1 {
						t.Errorf("crater %s: an edge lies %.3f pixels off the rim", id, off)
					}
				}
			}
		}
	}
	return edges
}

// The strict form has no crs member, outer rings against the clock and holes
// with it, and nothing beyond 180 degrees.
func TestStrictGeoJSON(t *testing.T) {
	r, w := io.Pipe()
	go func() {
		w.CloseWithError(reports.WriteOverlay(w, survey(moon, "IAU:2015:30100"), reports.Options{RFC7946: true}))
	}()
	data, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	var head map[string]json.RawMessage
	if err := json.Unmarshal(data, &head); err != nil || head["crs"] != nil || head["reference_body"] == nil {
		t.Errorf("members of the collection: %v (%v)", head["crs"], err)
	}
	var fc struct {
		Features []struct {
			Properties map[string]any
			Geometry   struct {
				Type        string
				Coordinates json.RawMessage
			}
		}
	}
	if err := json.Unmarshal(data, &fc); err != nil || len(fc.Features) != 34 {
		t.Fatalf("%d features (%v)", len(fc.Features), err)
	}
	for _, f := range fc.Features {
		where := fmt.Sprint(f.Properties["kind"], " of ", f.Properties["crater_id"])
		if f.Geometry.Type == "MultiPolygon" {
			checkTurns(t, where, f.Geometry.Coordinates)
		}
	}
}

func checkTurns(t *testing.T, where string, text json.RawMessage) {
	t.Helper()
	var areas orb.MultiPolygon
	if err := json.Unmarshal(text, &areas); err != nil {
		t.Fatal(err)
	}
	if b := areas.Bound(); b.Min[0] < -180 || b.Max[0] > 180 || b.Min[1] < -90 || b.Max[1] > 90 {
		t.Errorf("%s reaches %v", where, b)
	}
	for _, p := range areas {
		for k, ring := range p {
			if want := map[bool]orb.Orientation{true: orb.CCW, false: orb.CW}[k == 0]; ring.Orientation() != want {
				t.Errorf("%s: ring %d turns the wrong way", where, k)
			}
		}
	}
}
