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
	grids := slices.DeleteFunc(slices.Clone(testGrids(t)), func(tg testGrid) bool { return tg.g.cylinder() == nil })
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
