package raster

import (
	"math"
	"slices"
	"testing"

	"rimcast/geom"

	"pgregory.net/rapid"
)

// TestSkippingEqualsPlain: whole blocks are in the cell of their ends, on every row
// of craters of all sizes, at the poles, across the cut and round the whole body,
// also at the azimuths where a row turns back.
func TestSkippingEqualsPlain(t *testing.T) {
	grids := slices.DeleteFunc(slices.Clone(testGrids(t)), func(tg testGrid) bool { return tg.tol > 0 })
	pixels := 0
	rapid.Check(t, func(rt *rapid.T) {
		tg := &grids[rapid.IntRange(0, len(grids)-1).Draw(rt, "grid")]
		l := drawLayout(rt)
		job := Job{Centre: drawPlace(rt), Reach: math.Exp(rapid.Float64Range(math.Log(5e4), math.Log(5e6)).Draw(rt, "log reach"))}
		if rapid.Bool().Draw(rt, "on a row") { // where D is nearly zero
			job.Centre.Lat = math.Round(job.Centre.Lat)
		}
		want, got := cellRows(rt, tg, l, job, math.Inf(1)), cellRows(rt, tg, l, job, 0)
		for row, cells := range want {
			pixels += len(cells)
			if !slices.Equal(cells, got[row]) {
				rt.Fatalf("%s: centre %v, reach %g, row %d: cells %v, want %v", tg.name, job.Centre, job.Reach, row, got[row], cells)
			}
		}
	})
	if pixels == 0 {
		t.Error("no pixels were compared")
	}
	t.Logf("%d pixels", pixels)
}

// cellRows are the cells of all rows, with blocks looked at from a run on.
func cellRows(t fataler, tg *testGrid, l CellLayout, job Job, run float64) map[int][]uint16 {
	defer func(old float64) { leastRun = old }(leastRun)
	leastRun = run
	k, out := newCellKernel(l, 1), map[int][]uint16{}
	if err := k.cellsOf(&tg.g, job, func(_, y int, cells []uint16) { out[y] = slices.Clone(cells) }); err != nil {
		t.Fatalf("%v", err)
	}
	return out
}

// TestCrossings: a line as long as the reach crosses the limits of a layout as often
// as chords drawn through it do.
func TestCrossings(t *testing.T) {
	l := testLayout()
	k := newCellKernel(l, 1)
	g, err := GlobalGrid(moon, 20000, 0)
	if err != nil {
		t.Fatal(err)
	}
	changes, pixels := 0, 0
	reach := 546 * 800.0
	if err := k.cellsOf(&g, Job{Centre: geom.LonLat{Lon: 1, Lat: 0.3}, Reach: reach}, func(_, _ int, cells []uint16) {
		pixels += len(cells)
		for i, c := range cells[1:] {
			if c != cells[i] {
				changes++
			}
		}
	}); err != nil {
		t.Fatal(err)
	}
	if got, want := float64(changes)/float64(pixels)*800, l.crossings(); math.Abs(got/want-1) > 0.1 {
		t.Errorf("%.2f crossings, want %.2f", got, want)
	}
}

// TestStereoTurns: between two pixels of a row of a polar map between which nothing
// turns, range and azimuth change one way.
func TestStereoTurns(t *testing.T) {
	g := kernelGrid(t, true)
	still := 0
	rapid.Check(t, func(rt *rapid.T) {
		c := geom.LonLat{Lon: rapid.Float64Range(-180, 180).Draw(rt, "lon"), Lat: rapid.Float64Range(40, 90).Draw(rt, "lat")}
		reach := rapid.Float64Range(3e5, 2e6).Draw(rt, "reach")
		var p Patch
		if _, err := p.begin(&g, moon, c, reach, 0); err != nil {
			rt.Fatal(err)
		}
		k := newStereoKernel(moon, g.Proj.(*stereographic), c, reach, &p)
		f, err := k.frameOf(&g, c, reach)
		if err != nil || f.r0 > f.r1 {
			return
		}
		first := rapid.IntRange(0, 16).Draw(rt, "first row")
		for row := f.r0 + first; row <= f.r1; row += 17 {
			x0, x1, ok := f.columns(row)
			r, within := k.rowOf(row, x0, x1)
			for i := 0; ok && within && i+skipBlock <= r.hi-r.lo; i += skipBlock {
				if !k.turns(&r, i, i+skipBlock) {
					still++
					oneWay(rt, &g, c, r.lo+i, row)
				}
			}
		}
	})
	t.Logf("%d blocks", still)
	if still < 3000 {
		t.Errorf("only %d blocks without a turn", still)
	}
}

// oneWay checks that range and azimuth of the pixels of a block rise or fall.
func oneWay(t *rapid.T, g *Grid, c geom.LonLat, x, y int) {
	var r, az []float64
	for i := range skipBlock + 1 {
		q, ok := g.LonLat(float64(x+i)+0.5, float64(y)+0.5)
		if !ok {
			return
		}
		d, a := naive(moon.SemiMajor, c, q)
		if len(az) > 0 {
			a = az[len(az)-1] + math.Remainder(a-az[len(az)-1], 2*math.Pi)
		}
		r, az = append(r, d), append(az, a)
	}
	for _, v := range [][]float64{r, az} {
		for i := 2; i < len(v); i++ {
			if (v[i]-v[i-1])*(v[1]-v[0]) < -1e-18 {
				t.Fatalf("centre %v: from column %d of row %d on: %v", c, x, y, v)
			}
		}
	}
}
