package raster

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"rimcast/geom"

	"pgregory.net/rapid"
)

var cellPixels = flag.Float64("cells.pixels", 4e6, "pixels that TestEveryCellEqualsFormula compares; 1e8 take a minute or two")

// testLayout are the rings of cellOf.
func testLayout() CellLayout {
	l := CellLayout{Sectors: 24}
	for k := range 13 {
		l.Edges = append(l.Edges, math.Pow(16, float64(k)/12-1))
	}
	l.Edges[12] = 1
	return l
}

// seenRows is a source without values that records the cells of all pixels.
type seenRows struct {
	k     *cellKernel
	check func(x, y int, cells []uint16)
}

func (s *seenRows) row(_ *Patch, _ *rowValues, x, y, n int) (int, error) {
	s.check(x, y, s.k.cells[:n])
	return n, nil
}

// cellsOf calls fn with the cells of every row round a crater.
func (k *cellKernel) cellsOf(g *Grid, job Job, fn func(x, y int, cells []uint16)) error {
	return k.crater(g, job, &seenRows{k, fn})
}

// formulaCell is the cell of a place by haversine and atan2; -1 in no ring.
func formulaCell(l *CellLayout, r, az, reach float64) int {
	ring := -1
	for k, e := range l.Edges {
		if r/reach >= e {
			ring = k
		}
	}
	if ring < 0 || ring >= l.Rings() {
		return -1
	}
	return ring*l.Sectors + min(l.Sectors-1, int(az/(2*math.Pi)*float64(l.Sectors)))
}

// nearLimit reports whether a place is within a share of its range of a limit of
// its cell.
func nearLimit(l *CellLayout, r, az, reach, share float64) bool {
	for _, e := range l.Edges {
		if math.Abs(r/reach-e) <= share*r/reach {
			return true
		}
	}
	s := az / (2 * math.Pi) * float64(l.Sectors)
	return math.Abs(s-math.Round(s)) <= share*float64(l.Sectors)
}

func kernelCell(l *CellLayout, c uint16) int {
	if int(c) >= l.Cells() {
		return -1
	}
	return int(c)
}

// TestKernelEqualsFormula draws projections, places, sizes and layouts. In
// closed form every pixel falls into the cell that haversine and atan2 give it,
// also at the poles and across the cut; elsewhere but for the error of the
// interpolation. No pixel within reach is left out and none comes twice.
func TestKernelEqualsFormula(t *testing.T) {
	grids := testGrids(t)
	pixels, differ := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		tg := &grids[rapid.IntRange(0, len(grids)-1).Draw(rt, "grid")]
		l := drawLayout(rt)
		k := newCellKernel(l, 1)
		for range 2 { // tables are kept from crater to crater
			job := Job{Centre: drawPlace(rt), Reach: math.Exp(rapid.Float64Range(math.Log(2e4), math.Log(8e5)).Draw(rt, "log reach"))}
			n, d := compareCells(rt, tg, k, job)
			pixels, differ = pixels+n, differ+d
		}
	})
	t.Logf("%d of %d pixels in another cell", differ, pixels)
}

func drawLayout(rt *rapid.T) CellLayout {
	l := CellLayout{Sectors: rapid.OneOf(rapid.SampledFrom([]int{1, 2, 3, 5, 24, 72}), rapid.IntRange(1, 250)).Draw(rt, "sectors")}
	inner := rapid.SampledFrom([]float64{0, 0.01, 0.125}).Draw(rt, "inner")
	n := rapid.IntRange(1, 40).Draw(rt, "rings")
	for k := range n + 1 {
		l.Edges = append(l.Edges, inner+(1-inner)*math.Pow(float64(k)/float64(n), 1.5))
	}
	return l
}

func compareCells(t fataler, tg *testGrid, k *cellKernel, job Job) (pixels, differ int) {
	l, reach := &k.t.layout, job.Reach
	seen := map[[2]int]bool{}
	err := k.cellsOf(&tg.g, job, func(x, y int, cells []uint16) {
		for i, c := range cells {
			col := x + i
			if tg.wrap > 0 {
				col = floorMod(col, tg.wrap)
			}
			q, ok := tg.at(col, y)
			if !ok {
				if kernelCell(l, c) >= 0 {
					t.Fatalf("%s: centre %v: pixel %d, %d is no place and in cell %d", tg.name, job.Centre, col, y, c)
				}
				continue
			}
			if seen[[2]int{col, y}] {
				t.Fatalf("%s: centre %v: pixel %d, %d comes twice", tg.name, job.Centre, col, y)
			}
			seen[[2]int{col, y}] = true
			pixels++
			r, az := naive(moon.SemiMajor, job.Centre, q)
			if want := formulaCell(l, r, az, reach); want != kernelCell(l, c) && !nearLimit(l, r, az, reach, formulaError(tg, r)) {
				differ++
				t.Fatalf("%s: centre %v, reach %g, pixel %d, %d: cell %d, the formula gives %d (range %.12g, azimuth %.12g)", tg.name, job.Centre, reach, col, y, c, want, r, az)
			}
		}
	})
	if err != nil {
		t.Fatalf("%s: %v", tg.name, err)
	}
	tg.eachPlace(job, func(col, row int, r float64) {
		if !seen[[2]int{col, row}] && r < reach*(1-1e-9)-2*tg.tol*math.Sqrt(math.Abs(tg.g.Geo[1]*tg.g.Geo[5])) {
			t.Fatalf("%s: centre %v, reach %g: pixel %d, %d at range %g is left out", tg.name, job.Centre, reach, col, row, r)
		}
	})
	return pixels, differ
}

// eachPlace calls fn for the pixels of the map whose latitude can be within
// reach.
func (tg *testGrid) eachPlace(job Job, fn func(col, row int, r float64)) {
	width := tg.g.Width
	if tg.wrap > 0 {
		width = min(width, tg.wrap)
	}
	for row := range tg.g.Height {
		for col := range width {
			q, ok := tg.at(col, row)
			if ok && math.Abs(q.Lat-job.Centre.Lat) <= job.Reach/moon.SemiMajor*60 {
				r, _ := naive(moon.SemiMajor, job.Centre, q)
				fn(col, row, r)
			}
		}
	}
}

// TestEveryCellEqualsFormula compares as many pixels as a survey has, at places
// drawn evenly, on both maps with a closed form: none is in another cell.
func TestEveryCellEqualsFormula(t *testing.T) {
	want := *cellPixels / 2
	for name, g := range exactGrids(t) {
		t.Run(name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(8, uint64(g.Width)))
			k := newCellKernel(testLayout(), 1)
			pixels, differ := 0.0, 0
			for pixels < want {
				job := Job{Centre: drawOn(g, rng), Reach: 8 * 546 * 3 / math.Sqrt(1-rng.Float64()*0.999)}
				err := k.cellsOf(g, job, func(x, y int, cells []uint16) {
					differ += differing(g, &k.t.layout, job, x, y, cells)
					pixels += float64(len(cells))
				})
				if err != nil {
					t.Fatal(err)
				}
			}
			t.Logf("%d of %.0f pixels in another cell", differ, pixels)
			if differ > 0 {
				t.Errorf("%d of %.0f pixels in another cell", differ, pixels)
			}
		})
	}
}

func exactGrids(t testing.TB) map[string]*Grid {
	a, err := GlobalGrid(moon, 20000, 0)
	if err != nil {
		t.Fatal(err)
	}
	b, err := PolarCapGrid(moon, true, 4000, 546)
	if err != nil {
		t.Fatal(err)
	}
	return map[string]*Grid{"equirectangular": &a, "stereographic": &b}
}

// drawOn draws a place on a map, evenly over the body.
func drawOn(g *Grid, rng *rand.Rand) geom.LonLat {
	for {
		at := geom.LonLat{Lon: 360*rng.Float64() - 180, Lat: math.Asin(2*rng.Float64()-1) / degree}
		if x, y, ok := g.Pixel(at); ok && g.Inside(x, y) {
			return at
		}
	}
}

// differing counts the cells of a row that the formula does not give.
func differing(g *Grid, l *CellLayout, job Job, x, y int, cells []uint16) (differ int) {
	for i, c := range cells {
		q, ok := g.LonLat(float64(x+i)+0.5, float64(y)+0.5)
		if !ok {
			continue
		}
		r, az := naive(moon.SemiMajor, job.Centre, q)
		if formulaCell(l, r, az, job.Reach) != kernelCell(l, c) {
			differ++
		}
	}
	return differ
}

// TestSumsEqualPatch: the sums over cells are those of the pixels of a patch, at
// every level, on maps with holes, from the sweep and from windows.
func TestSumsEqualPatch(t *testing.T) {
	for i, tg := range testGrids(t) {
		for level := range 3 {
			layers := 1 + (level+i)%3
			t.Run(fmt.Sprintf("%s/level %d/%d layers", tg.name, level, layers), func(t *testing.T) { checkSums(t, &tg, level, layers) })
		}
	}
}

func checkSums(t *testing.T, tg *testGrid, level, layers int) {
	set := &LayerSet{}
	for l := range layers {
		set.Layers = append(set.Layers, NewMemory("n", "1", tg.g, holedValues(&tg.g, uint64(l))))
	}
	l := testLayout()
	l.Within = true
	jobs := []Job{
		{ID: 0, Centre: geom.LonLat{Lon: 12.3, Lat: 71.2}, Reach: 2.5e5, Level: level},
		{ID: 1, Centre: geom.LonLat{Lon: 179.7, Lat: 5.1}, Reach: 3e5, Level: level},
		{ID: 2, Centre: geom.LonLat{Lon: -50.2, Lat: -83.3}, Reach: 2e5, Level: level},
	}
	share := 1e-6
	if tg.tol > 0 {
		share = 1e-3
	}
	want := map[int]*CellSums{}
	var p Patch
	for _, j := range jobs {
		if err := set.window(j, &p); err != nil {
			t.Fatal(err)
		}
		want[j.ID] = patchSums(t, set, l, j, &p)
	}
	for _, cache := range []int64{0, 1} { // of one byte: windows
		set.Cache = cache
		err := VisitCells(context.Background(), set, jobs, l, 2, func(_ int, job Job, got *CellSums, err error) error {
			sameSums(t, got, want[job.ID], share)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

// patchSums adds up a patch pixel by pixel; what a block hides, from the map.
func patchSums(t *testing.T, set *LayerSet, l CellLayout, job Job, p *Patch) *CellSums {
	c := newCellSums(l, len(set.Layers))
	c.reset(job.Level)
	for i := range p.R {
		cell := formulaCell(&l, p.R[i], p.Az[i], job.Reach)
		if cell < 0 {
			continue
		}
		values := make([][]float32, len(p.Values))
		for k, v := range p.Values {
			values[k] = v[i : i+1]
		}
		c.addAny([]uint16{uint16(cell)}, p.Area[i:i+1], 1, values)
		for k, v := range values {
			if job.Level > 0 && v[0] == v[0] {
				n, s2 := hidden(t, set.Layers[k], p, i)
				f := c.fine[(cell*c.layers+k)*2:]
				f[0] += p.Area[i] * s2
				f[1] += n
			}
		}
	}
	return c
}

// hidden is the number and the variance of the map pixels of a block.
func hidden(t *testing.T, l *Layer, p *Patch, i int) (n, variance float64) {
	wide := l.blockWidth(p.Column(i), p.Block, l.grid.period())
	_, first, _ := l.blockRun(p.Column(i), p.Column(i)+1, p.Block, l.grid.period())
	buf := make([]float32, wide*p.Block)
	if err := l.Read(first, p.Row(i)*p.Block, wide, p.Block, buf); err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, v := range buf {
		if v == v {
			sum, n = sum+float64(v), n+1
		}
	}
	for _, v := range buf {
		if v == v {
			variance += (float64(v) - sum/n) * (float64(v) - sum/n) / n
		}
	}
	return n, variance
}

// sameSums compares sums, to a share, and numbers of pixels. A share above 1e-6
// is for maps without a closed form, where patch and cells interpolate between
// other nodes: some pixels at the limit of a cell then are in another.
func sameSums(t *testing.T, got, want *CellSums, share float64) {
	t.Helper()
	near := func(a, b, scale float64) bool { return math.Abs(a-b) <= share*math.Abs(scale) }
	moved := 0
	for cell := range got.Layout.Cells() {
		if got.Pixels(cell) != want.Pixels(cell) {
			moved++
			continue
		}
		for l := range got.given {
			a, b := got.Moments(cell, l), want.Moments(cell, l)
			if share > 1e-6 && a.Pixels != b.Pixels {
				moved++
				break
			}
			if a.Pixels != b.Pixels || !near(a.Area, b.Area, b.Area) || !near(a.Sum, b.Sum, b.Sum) || !near(a.Square, b.Square, b.Square) ||
				!near(a.Within, b.Within, b.Square) || a.MapPixels != b.MapPixels {
				t.Fatalf("cell %d, layer %d: %+v, want %+v", cell, l, a, b)
			}
			for o := range got.given {
				if a, b := got.Joint(cell, l, o), want.Joint(cell, l, o); !near(a.AB, b.AB, b.AB) || !near(a.A, b.A, b.A) || !near(a.B, b.B, b.B) || !near(a.Area, b.Area, b.Area) {
					t.Fatalf("cell %d, layers %d and %d: %+v, want %+v", cell, l, o, a, b)
				}
			}
		}
	}
	if moved > 4 || share <= 1e-6 && moved > 0 {
		t.Errorf("%d cells have another number of pixels", moved)
	}
}

func holedValues(g *Grid, seed uint64) []float32 {
	rng := rand.New(rand.NewPCG(seed, 5))
	values := make([]float32, g.Width*g.Height)
	for i := range values {
		values[i] = float32(200 + 12*rng.NormFloat64())
		if rng.Float64() < 0.05 {
			values[i] = float32(math.NaN())
		}
	}
	return values
}
