package gpkg

import (
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/airbusgeo/godal"
	"github.com/parquet-go/parquet-go"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"

	"rimcast/geom"
	"rimcast/reports"
)

// shapeOf is a feature as a reader of a format sees it.
type shapeOf struct {
	kind, crater string
	wkb          []byte
}

// In every format all outlines are valid, inside the map and fine enough where
// maps end: on both poles, with the rim through a pole, and on both sides of the
// 180 degree meridian. All patterns stand at each place.
func TestEveryFormatAtTheEdges(t *testing.T) {
	for _, at := range []geom.LonLat{
		{Lon: 0, Lat: 90}, {Lon: 0, Lat: -90}, {Lon: 45, Lat: 89.505}, {Lon: -120, Lat: -89.6},
		{Lon: 180, Lat: 0}, {Lon: -180, Lat: -60}, {Lon: 179.99, Lat: 85}, {Lon: -179.7, Lat: 5},
	} {
		s := survey(moon, "IAU:2015:30100")
		s.Catalogue.Craters[2].ID = "third" // another test is about hostile ids
		for i := range s.Findings {
			s.Findings[i].PixelsPer, s.Catalogue.Craters[i].Centre = 9, at
		}
		dir := t.TempDir()
		for name, shapes := range map[string][]shapeOf{
			"gpkg": packShapes(t, dir, s), "fgb": flatShapes(t, dir, s), "parquet": parquetShapes(t, dir, s),
			"geojson": jsonShapes(t, dir, s, false), "strict geojson": jsonShapes(t, dir, s, true),
		} {
			checkShapes(t, name, at, s, shapes)
		}
	}
}

func checkShapes(t *testing.T, name string, at geom.LonLat, s *reports.Survey, shapes []shapeOf) {
	t.Helper()
	edges, whole := 0, 0
	for _, n := range want {
		whole += n
	}
	if len(shapes) != whole {
		t.Errorf("%s at %v: %d features, want %d", name, at, len(shapes), whole)
	}
	for _, f := range shapes {
		checkGDAL(t, name, at, f)
		shape, err := wkb.Unmarshal(f.wkb)
		if err != nil {
			t.Fatal(err)
		}
		if area, ok := shape.(orb.MultiPolygon); ok && f.kind == "rim" {
			edges += checkRim(t, s, f.crater, area)
		}
	}
	if edges < 4*24 {
		t.Errorf("%s at %v: %d edges of rims", name, at, edges)
	}
}

// checkGDAL asks the library of the GIS what it thinks of a shape.
func checkGDAL(t *testing.T, name string, at geom.LonLat, f shapeOf) {
	t.Helper()
	g, err := godal.NewGeometryFromWKB(f.wkb, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	if !g.Valid() || g.Empty() {
		t.Errorf("%s at %v: %s of %s is empty or not valid", name, at, f.kind, f.crater)
	}
	if b, err := g.Bounds(); err != nil || b[0] < -180 || b[2] > 180 || b[1] < -90 || b[3] > 90 {
		t.Errorf("%s at %v: %s of %s reaches %v (%v)", name, at, f.kind, f.crater, b, err)
	}
}

func jsonShapes(t *testing.T, dir string, s *reports.Survey, strict bool) []shapeOf {
	t.Helper()
	path := filepath.Join(dir, "overlay.geojson")
	write(t, path, func(w io.Writer) error { return reports.WriteOverlay(w, s, reports.Options{RFC7946: strict}) })
	return shapesIn(t, path)
}

func packShapes(t *testing.T, dir string, s *reports.Survey) []shapeOf {
	t.Helper()
	path := filepath.Join(dir, "overlay.gpkg")
	if err := Write(path, s, reports.Options{}); err != nil {
		t.Fatal(err)
	}
	return shapesIn(t, path)
}

func flatShapes(t *testing.T, dir string, s *reports.Survey) (out []shapeOf) {
	t.Helper()
	if err := WriteFlatGeobuf(dir, s, reports.Options{}); err != nil {
		t.Fatal(err)
	}
	for kind := range want {
		out = append(out, shapesIn(t, filepath.Join(dir, "overlay_"+kind+".fgb"))...)
	}
	return out
}

func parquetShapes(t *testing.T, dir string, s *reports.Survey) (out []shapeOf) {
	t.Helper()
	path := filepath.Join(dir, reports.ParquetFile)
	write(t, path, func(w io.Writer) error { return reports.WriteGeoParquet(w, s, reports.Options{}) })
	rows, err := parquet.ReadFile[struct {
		Kind     string `parquet:"kind"`
		CraterID string `parquet:"crater_id"`
		Geometry []byte `parquet:"geometry"`
	}](path)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		out = append(out, shapeOf{r.Kind, r.CraterID, r.Geometry})
	}
	return out
}

func write(t *testing.T, path string, content func(io.Writer) error) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := content(f); err != nil {
		t.Fatal(err)
	}
}

// shapesIn reads all layers of a file through GDAL. The kind is a column, or
// the name of the layer.
func shapesIn(t *testing.T, path string) (out []shapeOf) {
	t.Helper()
	ds, err := godal.Open(path, godal.VectorOnly())
	if err != nil {
		t.Fatal(err)
	}
	defer ds.Close()
	for _, layer := range ds.Layers() {
		for f := layer.NextFeature(); f != nil; f = layer.NextFeature() {
			out = append(out, shapeIn(t, layer.Name(), f))
			f.Close()
		}
	}
	return out
}

func shapeIn(t *testing.T, layer string, f *godal.Feature) shapeOf {
	t.Helper()
	data, err := f.Geometry().WKB()
	if err != nil {
		t.Fatal(err)
	}
	fields := f.Fields()
	if kind, ok := fields["kind"]; ok {
		layer = kind.String()
	}
	return shapeOf{layer, fields["crater_id"].String(), data}
}
