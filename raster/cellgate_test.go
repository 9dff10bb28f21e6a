package raster

import (
	"context"
	"math"
	"testing"

	"rimcast/geom"
)

// TestGateEqualsHoles: a pixel that a gate leaves out counts like one without
// values, but for the number of all pixels, from one layer to four.
func TestGateEqualsHoles(t *testing.T) {
	for _, tg := range testGrids(t)[:4] {
		for layers := 1; layers <= 4; layers++ {
			gate := holedValues(&tg.g, 9)
			gated, holed := &LayerSet{}, &LayerSet{}
			for l := range layers {
				v := holedValues(&tg.g, uint64(l))
				gated.Layers = append(gated.Layers, NewMemory("v", "1", tg.g, v))
				holed.Layers = append(holed.Layers, NewMemory("v", "1", tg.g, withHolesOf(v, gate)))
			}
			gated.Layers = append(gated.Layers, NewMemory("gate", "1", tg.g, gate))
			a, b := sumsOf(t, gated, func(v float32) bool { return v != v }), sumsOf(t, holed)
			for cell := range a.Layout.Cells() {
				if a.Pixels(cell) != b.Pixels(cell) {
					t.Fatalf("%s, %d layers: cell %d has %d pixels, want %d", tg.name, layers, cell, a.Pixels(cell), b.Pixels(cell))
				}
				for l := range layers {
					if x, y := a.Moments(cell, l), b.Moments(cell, l); !closeMoments(x, y) {
						t.Fatalf("%s, %d layers: cell %d of layer %d has %+v, want %+v", tg.name, layers, cell, l, x, y)
					}
				}
			}
		}
	}
}

func withHolesOf(values, gate []float32) []float32 {
	out := make([]float32, len(values))
	for i, v := range values {
		out[i] = v + 0*gate[i]
	}
	return out
}

func sumsOf(t *testing.T, set *LayerSet, gates ...func(float32) bool) *CellSums {
	l := testLayout()
	l.Gates = gates
	var sums *CellSums
	job := []Job{{Centre: geom.LonLat{Lon: 12.3, Lat: 71.2}, Reach: 2.5e5}}
	if err := VisitCells(context.Background(), set, job, l, 1, func(_ int, _ Job, s *CellSums, err error) error {
		sums = s
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return sums
}

func closeMoments(a, b Moments) bool {
	near := func(x, y float64) bool { return math.Abs(x-y) <= 1e-9*math.Abs(y) }
	return a.Pixels == b.Pixels && near(a.Area, b.Area) && near(a.Sum, b.Sum) && near(a.Square, b.Square)
}
