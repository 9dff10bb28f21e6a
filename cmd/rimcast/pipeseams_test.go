package main

import (
	"math"
	"testing"

	"rimcast/geom"
	"rimcast/raster"
)

// stripMap is a map of strips of 20 columns that starts at the left edge; the
// numbers begin at 1.
func stripMap(t *testing.T) *raster.Layer {
	t.Helper()
	g, err := raster.GlobalGrid(geom.Sphere("Nerith", 720000), 400, 0)
	if err != nil {
		t.Fatal(err)
	}
	v := make([]float32, g.Width*g.Height)
	for i := range v {
		v[i] = float32(1 + i%g.Width/20)
	}
	return raster.NewMemory("strips", "", g, v)
}

// A crater on the 180 degree meridian sees the seam there, between the last
// strip and the first, as one line along the edges of the pixels.
func TestSeamsLieBetweenStrips(t *testing.T) {
	l := stripMap(t)
	body := geom.Sphere("Nerith", 720000)
	crater := geom.Crater{ID: "A", Centre: geom.LonLat{Lon: 179, Lat: 10}, Radius: 50000}
	p := &pipeline{body: body, cat: geom.Catalogue{Craters: []geom.Crater{crater}}}
	seams := p.seamsAt(l, "strips", 0)
	if len(seams) != 2 {
		t.Fatalf("%d seams, want those at 162 and 180 degrees", len(seams))
	}
	if s := seams[0]; s.StripA != 1 || s.StripB != 20 || len(s.Lines) != 1 {
		t.Errorf("the first seam: %g and %g, %d lines", s.StripA, s.StripB, len(s.Lines))
	}
	for k, lon := range []float64{180, 162} {
		for _, q := range seams[k].Lines[0] {
			if d := math.Remainder(q.Lon-lon, 360); math.Abs(d) > 1e-9 {
				t.Errorf("seam at %g: a vertex at longitude %g", lon, q.Lon)
			}
		}
	}
	f := geom.NewFrame(body, crater.Centre)
	longest := 0.0
	for _, q := range seams[0].Lines[0] {
		r, _ := f.Polar(q)
		longest = math.Max(longest, r/crater.Radius)
	}
	if longest < 4.2 || longest > 4.7 {
		t.Errorf("the seam ends at %g radii, want the edge of the pictures", longest)
	}
}

// A ring of edges is one closed line; two that touch in a corner are joined but
// no edge is walked twice.
func TestSeamLinesAreWalkedOnce(t *testing.T) {
	square := func(x, y int) []edge {
		return []edge{{corner{x, y}, corner{x + 1, y}}, {corner{x, y}, corner{x, y + 1}},
			{corner{x + 1, y}, corner{x + 1, y + 1}}, {corner{x, y + 1}, corner{x + 1, y + 1}}}
	}
	pair := [2]float64{1, 2}
	f := &seamFinder{map[[2]float64][]edge{pair: append(square(0, 0), square(1, 1)...)}}
	walked := 0
	for _, line := range f.lines(pair) {
		walked += len(line) - 1
		if line[0] != line[len(line)-1] {
			t.Errorf("not closed: %v", line)
		}
	}
	if walked != 8 {
		t.Errorf("%d edges walked, want 8", walked)
	}
}
