package gpkg

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/airbusgeo/godal"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/reports"
)

// survey is four craters, one over a pole, one across 180 degrees, one with a
// hostile id, one without numbers.
func survey(b geom.Body, code string) *reports.Survey {
	s := &reports.Survey{Body: b, BodyCode: code, Species: []reports.SpeciesInfo{{Name: "water", Unit: "ppm"}}}
	places := []geom.LonLat{{Lon: 10, Lat: 89.9}, {Lon: 179.95, Lat: 5}, {Lon: -30, Lat: -40}, {Lon: 60, Lat: 20}}
	for i, at := range places {
		id := []string{"pole", "cut", "'); DROP TABLE rim; -- \"<x>\x00", "empty"}[i]
		s.Catalogue.Craters = append(s.Catalogue.Craters, geom.Crater{Index: i, ID: id, Name: "Ж " + id, Centre: at, Radius: 15000})
		f := ejecta.Finding{CraterIndex: i, Species: "water", Unit: "ppm", Status: ejecta.StatusOK, Axis: 30, AxisSE: math.NaN(), Asymmetry: 0.5,
			Pattern: []ejecta.Pattern{ejecta.PatternBilateral, ejecta.PatternRays, ejecta.PatternGap, ""}[i], GapWidth: 80,
			Axis95:    []ejecta.Interval{{Lo: 20, Hi: 40}},
			Lobes:     []ejecta.Lobe{{Azimuth: 30, Width: 40, Amplitude: 5, SE: 1, Reach: 3}, {Azimuth: 350, Width: 40, Amplitude: 4, SE: 1, Reach: math.NaN()}},
			Radial:    []ejecta.RingValue{{RhoLo: 1, RhoHi: 2, Mean: 3, SE: 1, Excess: 1}, {RhoLo: 2, RhoHi: 4, Mean: math.NaN(), SE: math.NaN(), Excess: math.NaN()}},
			Azimuthal: []ejecta.SectorValue{{AzLo: 0, AzHi: 180, Mean: 2, SE: 1}, {AzLo: 180, AzHi: 360, Mean: 1, SE: 1}}}
		if i == 3 {
			f = ejecta.Finding{CraterIndex: i, Species: "water", Unit: "ppm", Status: ejecta.StatusNotCovered}
		}
		s.Findings = append(s.Findings, f)
		s.Targets = append(s.Targets, ejecta.Target{CraterIndex: i, Rank: i + 1, Score: math.NaN()})
	}
	across := [][]geom.LonLat{{{Lon: 179.5, Lat: 4}, {Lon: 179.9, Lat: 4.5}, {Lon: -179.9, Lat: 5}, {Lon: -179.6, Lat: 6}}}
	s.Seams = []reports.Seam{{CraterIndex: 1, Layer: "strips", StripA: 3, StripB: 7, Lines: across}}
	s.Masked = []reports.MaskedDisc{{CraterIndex: 1, Neighbour: 0, Radius: 20000}}
	return s
}

// want is the number of features of each kind.
var want = map[string]int{"masked": 1, "ring": 6, "sector": 6, "gap": 1, "lobe": 6, "axis_wedge": 4, "axis": 3, "ray": 2, "rim": 4, "seam": 1}

var moon = geom.Body{Name: "Moon", SemiMajor: 1737400}

func TestGeoPackageReadsBack(t *testing.T) {
	for _, row := range []struct {
		body   geom.Body
		code   string
		radius float64
	}{
		{moon, "IAU_2015:30100", 1737400},
		{geom.Sphere("Halven", 412000), "", 412000},
		{geom.Ellipsoid("Orrin \"x\"", 500000, 20), "", 500000},
	} {
		path := filepath.Join(t.TempDir(), "overlay.gpkg")
		if err := Write(path, survey(row.body, row.code), reports.Options{}); err != nil {
			t.Fatal(err)
		}
		ds, err := godal.Open(path, godal.VectorOnly())
		if err != nil {
			t.Fatal(err)
		}
		for _, layer := range ds.Layers() {
			checkLayer(t, layer, row.radius)
		}
		if n := len(ds.Layers()); n != len(want) {
			t.Errorf("%d layers, want %d", n, len(want))
		}
		ds.Close()
	}
}

func checkLayer(t *testing.T, layer godal.Layer, radius float64) {
	t.Helper()
	if n, err := layer.FeatureCount(); err != nil || n != want[layer.Name()] {
		t.Errorf("layer %s has %d features, want %d (%v)", layer.Name(), n, want[layer.Name()], err)
	}
	if a, err := layer.SpatialRef().SemiMajor(); err != nil || a != radius {
		t.Errorf("layer %s: radius %v, want %v (%v)", layer.Name(), a, radius, err)
	}
	for f := layer.NextFeature(); f != nil; f = layer.NextFeature() {
		g := f.Geometry()
		if !g.Valid() || g.Empty() {
			t.Errorf("layer %s, crater %s: geometry empty or not valid", layer.Name(), f.Fields()["crater_id"].String())
		}
		if b, err := g.Bounds(); err != nil || b[0] < -180 || b[2] > 180 || b[1] < -90 || b[3] > 90 {
			t.Errorf("layer %s: bounds %v (%v)", layer.Name(), b, err)
		}
		f.Close()
	}
}

func TestAttributesSurvive(t *testing.T) {
	path := filepath.Join(t.TempDir(), "overlay.gpkg")
	s := survey(moon, "IAU:2015:30100")
	if err := Write(path, s, reports.Options{}); err != nil {
		t.Fatal(err)
	}
	ds, err := godal.Open(path, godal.VectorOnly())
	if err != nil {
		t.Fatal(err)
	}
	defer ds.Close()
	ids := map[string]bool{}
	rims := ds.LayerByName("rim")
	for f := rims.NextFeature(); f != nil; f = rims.NextFeature() {
		fields := f.Fields()
		ids[fields["crater_id"].String()] = true
		if fields["radius_m"].Float() != 15000 {
			t.Errorf("radius %v", fields["radius_m"].Float())
		}
		f.Close()
	}
	for _, id := range []string{"pole", "cut", "empty", "'); DROP TABLE rim; -- \"<x>\uFFFD"} {
		if !ids[id] {
			t.Errorf("crater %q is not among %v", id, ids)
		}
	}
}

func TestGeoPackageIsStable(t *testing.T) {
	var files [2][]byte
	for i := range files {
		path := filepath.Join(t.TempDir(), "overlay.gpkg")
		if err := Write(path, survey(moon, "IAU:2015:30100"), reports.Options{}); err != nil {
			t.Fatal(err)
		}
		files[i], _ = os.ReadFile(path)
	}
	if !bytes.Equal(files[0], files[1]) {
		t.Error("two runs gave different files")
	}
}

func TestFlatGeobufReadsBack(t *testing.T) {
	dir := t.TempDir()
	if err := WriteFlatGeobuf(dir, survey(moon, "IAU:2015:30100"), reports.Options{}); err != nil {
		t.Fatal(err)
	}
	for kind := range want {
		ds, err := godal.Open(filepath.Join(dir, "overlay_"+kind+".fgb"), godal.VectorOnly())
		if err != nil {
			t.Fatal(err)
		}
		layer := ds.Layers()[0]
		if n, _ := layer.FeatureCount(); n != want[kind] {
			t.Errorf("%s: %d features, want %d", kind, n, want[kind])
		}
		for f := layer.NextFeature(); f != nil; f = layer.NextFeature() {
			if g := f.Geometry(); !g.Valid() || g.Empty() {
				t.Errorf("%s, crater %s: geometry empty or not valid", kind, f.Fields()["crater_id"].String())
			}
			f.Close()
		}
		layer.ResetReading()
		if f := layer.NextFeature(); f.Fields()["crater_id"].String() == "" {
			t.Errorf("%s lost its attributes", kind)
		}
		ds.Close()
	}
}

// TestOverlayByGDALTools reads the GeoJSON and the GeoPackage as a GIS would.
func TestOverlayByGDALTools(t *testing.T) {
	tool, err := exec.LookPath("ogrinfo")
	if err != nil {
		t.Skip("ogrinfo is not installed")
	}
	dir := t.TempDir()
	s := survey(moon, "IAU:2015:30100")
	var b bytes.Buffer
	if err := reports.WriteOverlay(&b, s, reports.Options{}); err != nil {
		t.Fatal(err)
	}
	if !json.Valid(b.Bytes()) {
		t.Fatal("overlay.geojson is not JSON")
	}
	path := filepath.Join(dir, "overlay.geojson")
	if err := os.WriteFile(path, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-so", "-al", path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	pack := filepath.Join(dir, "overlay.gpkg")
	if err := Write(pack, s, reports.Options{}); err != nil {
		t.Fatal(err)
	}
	rims, err := exec.Command(tool, "-geom=NO", pack, "rim").CombinedOutput()
	if err != nil || bytes.Count(rims, []byte("score (Real) = (null)")) != 4 || !bytes.Contains(rims, []byte(`ID["IAU",30100]`)) {
		t.Errorf("rims lack missing scores or the code of the Moon: %v\n%s", err, rims)
	}
	for _, text := range []string{fmt.Sprintf("Feature Count: %d", 34), "1737400", `ID["IAU",30100]`} {
		if !bytes.Contains(out, []byte(text)) {
			t.Errorf("ogrinfo does not say %q:\n%s", text, out)
		}
	}
}
