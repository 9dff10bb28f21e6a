package geom_test

import (
	"fmt"
	"strings"
	"testing"

	"rimcast/geom"
)

// collected is a feature whose geometry is a collection.
func collected(geometries string) string {
	return `{"type":"Feature","id":"x","properties":{"radius_km":5},"geometry":{"type":"GeometryCollection","geometries":[` + geometries + `]}}`
}

// TestRimsDrawnDifferently: a rim is the same crater as a polygon, as a closed
// line, and in a collection with its centre.
func TestRimsDrawnDifferently(t *testing.T) {
	ring := `[[20,10],[22,10],[22,12],[20,12],[20,10]]`
	shape := func(kind, coords string) string { return `{"type":"` + kind + `","coordinates":` + coords + `}` }
	feature := func(geometry string) string {
		return `{"type":"Feature","id":"x","properties":{},"geometry":` + geometry + `}`
	}
	polygon := shape("Polygon", "["+ring+"]")
	want, err := read(collection("", feature(polygon)), geom.CatalogueOptions{})
	if err != nil || len(want.Craters) != 1 {
		t.Fatal(err)
	}
	for _, g := range []string{
		shape("MultiPolygon", "[["+ring+"]]"), shape("LineString", ring), shape("MultiLineString", "["+ring+"]"),
		`{"type":"GeometryCollection","geometries":[` + shape("Point", "[1,2]") + "," + polygon + `]}`,
		`{"geometries":[` + shape("LineString", ring) + `],"type":"GeometryCollection"}`,
	} {
		got, err := read(collection("", feature(g)), geom.CatalogueOptions{})
		if err != nil {
			t.Errorf("%s: %v", g, err)
		} else if len(got.Craters) != 1 || fmt.Sprint(got.Craters[0]) != fmt.Sprint(want.Craters[0]) {
			t.Errorf("%s: %+v, want %+v", g, got.Craters, want.Craters)
		}
	}
}

// TestRefuseGeometry: a geometry that is neither one centre nor one rim is
// listed with its reason.
func TestRefuseGeometry(t *testing.T) {
	good := point(`"a"`, "[1,2]", `"radius_km":5`)
	for _, c := range []struct{ name, feature, reason string }{
		{"points", strings.Replace(point(`"x"`, "[[1,2],[3,4]]", `"radius_km":5`), "Point", "MultiPoint", 1), "2 points: which is the centre?"},
		{"no points", strings.Replace(point(`"x"`, "[]", `"radius_km":5`), "Point", "MultiPoint", 1), "empty or broken"},
		{"two lines", strings.Replace(point(`"x"`, "[[[1,2],[3,4],[3,2],[1,2]],[[1,2],[3,4],[3,2],[1,2]]]", ``), "Point", "MultiLineString", 1), "several lines"},
		{"no lines", strings.Replace(point(`"x"`, "[]", ``), "Point", "MultiLineString", 1), "empty or broken"},
		{"curve", strings.Replace(point(`"x"`, "[1,2]", `"radius_km":5`), `"Point"`, `"CircularString"`, 1), "neither a point nor a polygon"},
		{"empty collection", collected(``), "empty or broken geometries"},
		{"collection of points", collected(`{"type":"Point","coordinates":[10,20]},{"type":"Point","coordinates":[11,20]}`), "2 points: which is the centre?"},
		{"collection in a collection", collected(`{"type":"GeometryCollection","geometries":[]}`), "GeometryCollection: geometry"},
		{"collection with a hole in it", collected(`{"type":"Point","coordinates":[10,20]},null`), "GeometryCollection: no geometry"},
	} {
		cat, err := read(collection("", good, c.feature), geom.CatalogueOptions{})
		if err != nil || len(cat.Craters) != 1 || len(cat.Refused) != 1 || !strings.Contains(cat.Refused[0].Reason, c.reason) {
			t.Errorf("%s: %v, refused %v", c.name, err, cat.Refused)
		}
	}
}
