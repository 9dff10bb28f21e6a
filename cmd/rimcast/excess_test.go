package main

import (
	"math"
	"path/filepath"
	"testing"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
	"rimcast/reports"
)

// excessCase is a place on a grid: in the open, across the 180 degree meridian,
// and over a pole.
type excessCase struct {
	name   string
	grid   func(geom.Body) (raster.Grid, error)
	centre geom.LonLat
}

func excessCases() []excessCase {
	global := func(b geom.Body) (raster.Grid, error) { return raster.GlobalGrid(b, 400, 0) }
	return []excessCase{
		{"open ground", global, geom.LonLat{Lon: -38, Lat: 12}},
		{"across 180 degrees", global, geom.LonLat{Lon: 179.5, Lat: -5}},
		{"over the pole", func(b geom.Body) (raster.Grid, error) { return raster.PolarCapGrid(b, false, 120, 11000) }, geom.LonLat{Lon: 70, Lat: 88.5}},
	}
}

// plantedLayer is a map of 100 ppm with a blanket 50 rho^-3 round a place, and
// 7 ppm more east of it.
func plantedLayer(t *testing.T, k excessCase, body geom.Body, radius float64) *raster.Layer {
	t.Helper()
	g, err := k.grid(body)
	if err != nil {
		t.Fatal(err)
	}
	f := geom.NewFrame(body, k.centre)
	v := make([]float32, g.Width*g.Height)
	for i := range v {
		q, ok := g.LonLat(float64(i%g.Width)+0.5, float64(i/g.Width)+0.5)
		if !ok {
			v[i] = float32(math.NaN())
			continue
		}
		r, az := f.Polar(q)
		v[i] = float32(100 + 50*math.Pow(math.Max(r/radius, 1), -3))
		if math.Sin(az) > 0 {
			v[i] += 7
		}
	}
	return raster.NewMemory("water", "ppm", g, v)
}

// What the background and the symmetric blanket explain is gone, what they do
// not is left, on the pixels of the map itself; the file says so to GDAL.
func TestExcessMapKeepsWhatIsNotSymmetric(t *testing.T) {
	body := geom.Sphere("Nerith", 720000)
	for _, k := range excessCases() {
		c := geom.Crater{ID: "A", Centre: k.centre, Radius: 60000}
		l := plantedLayer(t, k, body, c.Radius)
		f := ejecta.Finding{Species: "water", Unit: "ppm", Background: 100, RimExcess: 50, Decay: 3, Radial: []ejecta.RingValue{{RhoHi: 6}}}
		hidden := geom.NewFrame(body, geom.NewFrame(body, c.Centre).LonLat(4*c.Radius, 1))
		m, err := newExcessMap(l, body, c, f, []maskedDisc{{hidden, 30000}})
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "excess.tif")
		if err := m.write(path, l.Info(), &layerSection{Name: "water"}); err != nil {
			t.Fatal(err)
		}
		checkExcess(t, k.name, path, l.Grid(), geom.NewFrame(body, c.Centre), hidden, c.Radius)
	}
}

func checkExcess(t *testing.T, name, path string, source *raster.Grid, at, hidden *geom.Frame, radius float64) {
	t.Helper()
	l, err := raster.Open(raster.Spec{Path: path})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if in := l.Info(); in.Unit != "ppm" || in.NoDataTag == nil || !math.IsNaN(*in.NoDataTag) || in.Body.SemiMajor != 720000 {
		t.Errorf("%s: unit %q, missing %v, radius %g", name, in.Unit, in.NoDataTag, in.Body.SemiMajor)
	}
	a, b := source.Geo, l.Grid().Geo
	right, down := (b[0]-a[0])/a[1], (b[3]-a[3])/a[5]
	if b[1] != a[1] || b[5] != a[5] || math.Abs(right-math.Round(right)) > 1e-6 || math.Abs(down-math.Round(down)) > 1e-6 {
		t.Errorf("%s: shifted by %g and %g pixels against the map", name, right, down)
	}
	g, seen := l.Grid(), 0
	v := make([]float32, g.Width*g.Height)
	if err := l.Read(0, 0, g.Width, g.Height, v); err != nil {
		t.Fatal(err)
	}
	for i := range v {
		q, _ := g.LonLat(float64(i%g.Width)+0.5, float64(i/g.Width)+0.5)
		r, az := at.Polar(q)
		away, _ := hidden.Polar(q)
		want := 7.0
		switch {
		case r < radius, r > 6*radius, away < 30000:
			want = math.NaN()
		case math.Sin(az) <= 0:
			want = 0
		}
		if got := float64(v[i]); math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > 1e-3 {
			t.Fatalf("%s: %g at %.3f radii, azimuth %.2f, want %g", name, got, r/radius, az, want)
		}
		if want == want {
			seen++
		}
	}
	if seen < 1000 {
		t.Errorf("%s: only %d pixels have a value", name, seen)
	}
}

// A crater without a fitted blanket keeps all of its excess over the background.
func TestSymmetricPart(t *testing.T) {
	f := ejecta.Finding{RimExcess: 80, Decay: 2}
	if got := symmetricPart(f, 2); got != 20 {
		t.Errorf("80 at the rim is %g at two radii, want 20", got)
	}
	f.RimExcess = math.NaN()
	if got := symmetricPart(f, 2); got != 0 {
		t.Errorf("nothing fitted gives %g", got)
	}
}

func TestFindingOf(t *testing.T) {
	one := &reports.Survey{Findings: []ejecta.Finding{{Species: "water"}, {Species: "hydroxyl"}}}
	if f, ok := findingOf(one, "hydroxyl"); !ok || f.Species != "hydroxyl" {
		t.Error("hydroxyl is not found")
	}
	if _, ok := findingOf(one, "ice"); ok {
		t.Error("a species that is not there is found")
	}
}
