package raster

import (
	"math"
	"testing"

	"rimcast/geom"

	"pgregory.net/rapid"
)

// cellOf is the ring, equal in the logarithm of the range, and the sector of a
// place.
func cellOf(r, az, reach float64) int {
	ring := int(math.Floor(12 * math.Log(16*r/reach) / math.Log(16)))
	return max(-1, ring)*24 + min(23, int(az/(2*math.Pi)*24))
}

// nearEdge reports whether a place is within a share of its range of the edge
// of its cell: there the last bit decides, and the plain formula loses it too.
func nearEdge(r, az, reach, share float64) bool {
	k := 12 * math.Log(16*r/reach) / math.Log(16)
	s := az / (2 * math.Pi) * 24
	return math.Abs(k-math.Round(k)) < 12*share || math.Abs(s-math.Round(s)) < 24*share
}

// formulaError is how far, as a share of the range, formula and patch may lie
// apart: by rounding, which grows towards the centre, and by the interpolation
// on maps without a closed form.
func formulaError(tg *testGrid, r float64) float64 {
	pixel := math.Sqrt(math.Abs(tg.g.Geo[1] * tg.g.Geo[5]))
	return 1e-11 + (1e-14*moon.SemiMajor+2*tg.tol*pixel)/r
}

// TestCellsEqualFormula: in closed form, on equirectangular and polar
// stereographic maps, every pixel falls into the ring and sector that
// haversine and atan2 give it; elsewhere, into another only within the error
// of the interpolation.
func TestCellsEqualFormula(t *testing.T) {
	grids := testGrids(t)
	pixels, differ := 0, 0
	var p Patch
	rapid.Check(t, func(rt *rapid.T) {
		tg := &grids[rapid.IntRange(0, len(grids)-1).Draw(rt, "grid")]
		c := drawPlace(rt)
		reach := math.Exp(rapid.Float64Range(math.Log(2e4), math.Log(6e5)).Draw(rt, "log reach"))
		if err := tg.g.Geometry(moon, c, reach, 0, &p); err != nil {
			rt.Fatal(err)
		}
		for i := range p.R {
			q, ok := tg.at(p.Column(i), p.Row(i))
			if !ok {
				continue
			}
			pixels++
			r, az := naive(moon.SemiMajor, c, q)
			if cellOf(r, az, reach) != cellOf(p.R[i], p.Az[i], reach) && !nearEdge(r, az, reach, formulaError(tg, r)) {
				differ++
				rt.Fatalf("%s: centre %v, pixel %d, %d: range %.12g azimuth %.12g, the formula gives %.12g and %.12g", tg.name, c, p.Column(i), p.Row(i), p.R[i], p.Az[i], r, az)
			}
		}
	})
	t.Logf("%d of %d pixels in another cell", differ, pixels)
}

// TestNoAllocationPerCrater: a job of a sweep allocates nothing once the
// buffers of its worker have grown.
func TestNoAllocationPerCrater(t *testing.T) {
	for name, g := range map[string]Grid{"equirectangular": kernelGrid(t, false), "stereographic": kernelGrid(t, true)} {
		set := &LayerSet{Layers: []*Layer{NewMemory("n", "1", g, make([]float32, g.Width*g.Height))}}
		for level := range 2 {
			v := newSweep(set, []Job{{Centre: geom.LonLat{Lon: 12, Lat: 86}, Reach: 2e5, Level: level}}, 1, false)
			k := &worker{v: v, set: set}
			for task := v.take(); task.kind == taskLoad; task = v.take() {
				k.load(task.n, task.layer)
			}
			n := testing.AllocsPerRun(20, func() {
				if err := k.sampled(0); err != nil {
					t.Fatal(err)
				}
			})
			if n > 0 || k.p.Len() < 100 {
				t.Errorf("%s, level %d: %g allocations for a crater of %d pixels", name, level, n, k.p.Len())
			}
		}
	}
}

// TestNoAllocationPerCell: neither does the summing of a crater.
func TestNoAllocationPerCell(t *testing.T) {
	for name, g := range map[string]Grid{"equirectangular": kernelGrid(t, false), "stereographic": kernelGrid(t, true)} {
		set := &LayerSet{Layers: []*Layer{NewMemory("n", "1", g, make([]float32, g.Width*g.Height))}}
		for level := range 2 {
			v := newSweep(set, []Job{{Centre: geom.LonLat{Lon: 12, Lat: 86}, Reach: 2e5, Level: level}}, 1, true)
			l := testLayout()
			l.Within = true
			k := &worker{v: v, set: set, cells: newCellKernel(l, 1)}
			for task := v.take(); task.kind == taskLoad; task = v.take() {
				k.load(task.n, task.layer)
			}
			n := testing.AllocsPerRun(20, func() {
				if err := k.summed(0); err != nil {
					t.Fatal(err)
				}
			})
			if m := k.cells.sums.Ring(11, 0); n > 0 || m.Pixels < 100 {
				t.Errorf("%s, level %d: %g allocations for a crater of %d pixels", name, level, n, m.Pixels)
			}
		}
	}
}

func kernelGrid(t testing.TB, polar bool) Grid {
	g, err := GlobalGrid(moon, 1024, 0)
	if polar {
		g, err = PolarCapGrid(moon, false, 512, 5e3)
	}
	if err != nil {
		t.Fatal(err)
	}
	return g
}
