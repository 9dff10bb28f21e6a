package raster

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"rimcast/geom"

	"github.com/airbusgeo/godal"
)

// smallCells makes the cells of a sweep small for a test.
func smallCells(t testing.TB, side, area int) {
	old := leastCell
	leastCell.side, leastCell.area = side, area
	t.Cleanup(func() { leastCell = old })
}

// unevenValues are values whose sums depend on their order, with holes.
func unevenValues(n int, seed uint64) []float32 {
	rng := rand.New(rand.NewPCG(seed, 7))
	v := make([]float32, n)
	for i := range v {
		v[i] = float32(rng.NormFloat64() * math.Exp(10*rng.Float64()))
		if rng.Float64() < 0.05 || i/64%11 == 3 {
			v[i] = float32(math.NaN())
		}
	}
	return v
}

// mixedSet is three layers on one grid: in tiles, row by row with a mask and an
// offset, and in memory.
func mixedSet(t testing.TB, g Grid, tile int) *LayerSet {
	dir := t.TempDir()
	n := g.Width * g.Height
	tiled, rows := filepath.Join(dir, "tiled.tif"), filepath.Join(dir, "rows.tif")
	if err := WriteGeoTIFF(tiled, &g, []Band{{Name: "a", Values: unevenValues(n, 1)}}, WriteOptions{BlockSize: tile}); err != nil {
		t.Fatal(err)
	}
	writeRows(t, rows, &g, unevenValues(n, 2))
	a, b := openAs(t, tiled), openAs(t, rows)
	return &LayerSet{Layers: []*Layer{a, b, NewMemory("c", "1", *a.Grid(), unevenValues(n, 3))}}
}

// writeRows writes a map row by row with a mask of its own.
func writeRows(t testing.TB, path string, g *Grid, values []float32) {
	ds, err := godal.Create(godal.GTiff, path, 1, godal.Float32, g.Width, g.Height, godal.CreationOption("TILED=NO"))
	if err != nil {
		t.Fatal(err)
	}
	mask := make([]byte, len(values))
	for i := range mask {
		if i%97 > 3 {
			mask[i] = 255
		}
	}
	m, err := ds.CreateMaskBand(0x02, godal.ConfigOption("GDAL_TIFF_INTERNAL_MASK=YES"))
	for _, e := range []error{err, m.Write(0, 0, mask, g.Width, g.Height), ds.SetGeoTransform(g.Geo), ds.SetProjection(g.Proj.WKT()),
		ds.Bands()[0].SetScaleOffset(0.5, 3), ds.Bands()[0].Write(0, 0, values, g.Width, g.Height), ds.Close()} {
		if e != nil {
			t.Fatal(e)
		}
	}
}

// hardJobs are jobs over a map, at the poles, the cuts and beyond the edges.
func hardJobs(g *Grid, n int, seed uint64) []Job {
	rng := rand.New(rand.NewPCG(seed, 5))
	pixel := math.Sqrt(math.Abs(g.Geo[1] * g.Geo[5]))
	if g.cylinder() != nil {
		pixel = g.PixelSize(geom.LonLat{})
	}
	jobs := make([]Job, n)
	for i := range jobs {
		at := geom.LonLat{Lon: rng.Float64()*360 - 180, Lat: math.Asin(2*rng.Float64()-1) / degree}
		if q, ok := g.LonLat(rng.Float64()*float64(g.Width), rng.Float64()*float64(g.Height)); ok && i%3 > 0 {
			at = q
		}
		switch i % 13 {
		case 0:
			at.Lat = math.Copysign(90-3*rng.Float64()*float64(i%2), at.Lat)
		case 1:
			at.Lon = math.Copysign(180, at.Lon)
		}
		level := i % 5
		jobs[i] = Job{ID: i, Centre: at, Level: level, Reach: pixel * math.Exp(1+3*rng.Float64()) * float64(int(1)<<level)}
	}
	return append(jobs, Job{ID: n, Centre: geom.LonLat{Lat: 91}, Reach: 1}, Job{ID: n + 1, Reach: math.NaN()}, Job{ID: n + 2, Centre: geom.LonLat{Lon: 3}, Reach: 1e9, Level: 1})
}

// patchText tells all that a patch holds, to the last bit.
func patchText(p *Patch, err error) string {
	if err != nil {
		return "error " + err.Error()
	}
	bits := func(v []float64) (h uint64) {
		for _, x := range v {
			h = h*1099511628211 + math.Float64bits(x)
		}
		return h
	}
	var b strings.Builder
	fmt.Fprint(&b, p.Level, p.Block, p.Len(), " ", p.X, p.Y, bits(p.R), bits(p.Az), bits(p.Sin), bits(p.Cos), bits(p.Area), len(p.Fraction))
	for _, list := range [2][][]float32{p.Values, p.Fraction} {
		for _, values := range list {
			h := uint64(0)
			for _, v := range values {
				h = h*1099511628211 + uint64(math.Float32bits(v))
			}
			fmt.Fprintf(&b, " %d:%x", len(values), h)
		}
	}
	fmt.Fprint(&b, p.CX, p.CY, p.PixelSize, p.ColMetres, p.RowMetres, p.Rotation)
	return b.String()
}

// TestSweepEqualsWindows: the patches of a sweep are those of windows, bit for
// bit, on all projections, at all levels, with any number of workers; no job
// needs a cell that was not planned for, and no cell is read twice.
func TestSweepEqualsWindows(t *testing.T) {
	smallCells(t, 16, 64*64)
	for n, tg := range testGrids(t) {
		t.Run(tg.name, func(t *testing.T) {
			set := mixedSet(t, tg.g, []int{16, 48, 64, 128}[n%4])
			jobs := hardJobs(&set.Layers[0].grid, 120, uint64(n))
			for _, cache := range []int64{0, 2 << 20, 1} {
				set.Cache = cache
				checkSweep(t, set, jobs, 1+n%3)
			}
		})
	}
}

func checkSweep(t *testing.T, set *LayerSet, jobs []Job, workers int) {
	t.Helper()
	v := newSweep(set, jobs, workers)
	if v.peak() > v.cache {
		t.Errorf("%d bytes are held, at most %d may be", v.peak(), v.cache)
	}
	var mu sync.Mutex
	loads := map[string]int{}
	v.onLoad = func(layer int, at Window) {
		mu.Lock()
		defer mu.Unlock()
		loads[fmt.Sprint(layer, at)]++
	}
	v.onUnplanned = func(job int32) { t.Errorf("job %+v needs a cell that was not planned for", jobs[job]) }
	got := make([]string, len(jobs))
	err := v.run(context.Background(), set, workers, func(_ int, job Job, p *Patch, err error) error {
		if got[job.ID] != "" {
			t.Errorf("job %d comes twice", job.ID)
		}
		got[job.ID] = patchText(p, err)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for at, n := range loads {
		if n != 1 {
			t.Errorf("layer and cell %s are read %d times", at, n)
		}
	}
	var p Patch
	for _, job := range jobs {
		err := set.window(job, &p)
		if want := patchText(&p, err); got[job.ID] != want {
			t.Fatalf("job %+v gives\n%.300s\nwant\n%.300s", job, got[job.ID], want)
		}
	}
}
