package raster

import (
	"math"
	"testing"

	"rimcast/geom"

	"pgregory.net/rapid"
)

// TestNearest: the value at a pixel is that of the pixel of the other grid that
// holds its centre, whatever the two grids, levels and place.
func TestNearest(t *testing.T) {
	grids := testGrids(t)
	rapid.Check(t, func(rt *rapid.T) {
		g := &grids[rapid.IntRange(0, len(grids)-1).Draw(rt, "grid")].g
		og := &grids[rapid.IntRange(0, len(grids)-1).Draw(rt, "other grid")].g
		c, reach := drawPlace(rt), rapid.Float64Range(3e4, 4e5).Draw(rt, "reach")
		var p, other Patch
		level, coarse := rapid.IntRange(0, 2).Draw(rt, "level"), rapid.IntRange(0, 2).Draw(rt, "other level")
		if g.Geometry(moon, c, reach, level, &p) != nil || og.Geometry(moon, c, 1.05*reach, coarse, &other) != nil {
			rt.Skip()
		}
		other.Values = [][]float32{make([]float32, other.Len())}
		at := map[[2]int]int{}
		for i := range other.X {
			other.Values[0][i] = float32(i)
			at[[2]int{other.Column(i), other.Row(i)}] = i
		}
		got := p.Nearest(g, &other, og, c)
		frame := geom.NewFrame(moon, c)
		for i, v := range got {
			q := frame.LonLat(p.R[i], p.Az[i])
			if want, sure := expectedNearest(og, &other, at, q); sure && !(v == want || v != v && want != want) {
				rt.Fatalf("pixel %d at %v has the value of pixel %g, want %g", i, q, v, want)
			}
		}
	})
}

// expectedNearest looks a place up; it is not sure near the edge of a pixel, nor
// at a pole, which every pixel of a row may hold.
func expectedNearest(g *Grid, other *Patch, at map[[2]int]int, q geom.LonLat) (v float64, sure bool) {
	x, y, ok := g.Pixel(q)
	if math.Abs(q.Lat) > 89.9999 {
		return 0, false
	}
	if !ok {
		return math.NaN(), true
	}
	x, y = x/float64(other.Block), y/float64(other.Block)
	if math.Abs(x-math.Round(x)) < 0.01 || math.Abs(y-math.Round(y)) < 0.01 {
		return 0, false
	}
	turn := (g.Width + other.Block - 1) / other.Block
	for _, c := range [3]int{0, -turn, turn} {
		if i, ok := at[[2]int{int(math.Floor(x)) + c, int(math.Floor(y))}]; ok {
			return float64(i), true
		}
	}
	return math.NaN(), true
}
