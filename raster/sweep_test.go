package raster

import (
	"context"
	"fmt"
	"io"
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
		// Far from a map that is no cylinder lie places that it shows as huge.
		if q, ok := g.LonLat((1.1*rng.Float64()-0.05)*float64(g.Width), (1.1*rng.Float64()-0.05)*float64(g.Height)); ok && (i%3 > 0 || g.cylinder() == nil) {
			at = q
		}
		switch i % 13 {
		case 0:
			at.Lat = math.Copysign(90-3*rng.Float64()*float64(i%2), at.Lat)
		case 1:
			at.Lon = math.Copysign(180, at.Lon)
		}
		level, most := i%5, 9e5
		if g.cylinder() != nil && i%7 == 0 {
			most = 3e6
		}
		jobs[i] = Job{ID: i, Centre: at, Level: level, Reach: math.Min(most, pixel*math.Exp(1+3*rng.Float64())*float64(int(1)<<level))}
	}
	return append(jobs, Job{ID: n, Centre: geom.LonLat{Lat: 91}, Reach: 1}, Job{ID: n + 1, Reach: math.NaN()})
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
	at := func(v []int32) (h uint64) {
		for _, x := range v {
			h = h*1099511628211 + uint64(x)
		}
		return h
	}
	var b strings.Builder
	fmt.Fprint(&b, p.Level, p.Block, p.Len(), " ", at(p.X), at(p.Y), bits(p.R), bits(p.Az), bits(p.Sin), bits(p.Cos), bits(p.Area), len(p.Fraction))
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
			g, many := &set.Layers[0].grid, 20
			if g.fastPath(g.Body, geom.LonLat{Lat: 90}, 1) != nil || g.fastPath(g.Body, geom.LonLat{Lat: -90}, 1) != nil {
				many = 60
			}
			jobs := hardJobs(g, many, uint64(n))
			want := make([]string, len(jobs))
			var p Patch
			for i, job := range jobs {
				err := set.window(job, &p)
				want[i] = patchText(&p, err)
			}
			for _, cache := range []int64{0, 1 << 20, 1} {
				set.Cache = cache
				checkSweep(t, set, jobs, want, 1+n%3)
			}
		})
	}
}

func checkSweep(t *testing.T, set *LayerSet, jobs []Job, want []string, workers int) {
	t.Helper()
	v := newSweep(set, jobs, workers, false)
	if !v.fits() {
		t.Errorf("more than %d bytes are held in one of %d bands", v.cache, v.bands)
	}
	v.begin(set, 0)
	var mu sync.Mutex
	loads := map[string]int{}
	v.onLoad = func(layer int, at Window) {
		mu.Lock()
		defer mu.Unlock()
		loads[fmt.Sprint(layer, at)]++
	}
	v.onUnplanned = func(job int32) { t.Errorf("job %+v needs a cell that was not planned for", jobs[job]) }
	got := make([]string, len(jobs))
	err := v.patches(context.Background(), set, workers, func(_ int, job Job, p *Patch, err error) error {
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
		if n > v.bands {
			t.Errorf("layer and cell %s are read %d times in %d bands", at, n, v.bands)
		}
	}
	for i, job := range jobs {
		if got[i] != want[i] {
			t.Fatalf("job %+v gives\n%.300s\nwant\n%.300s", job, got[i], want[i])
		}
	}
}

// TestSweepInBands: a sweep whose cache is too small for one band is divided, no
// job reads for itself, and few cells are read more than once.
func TestSweepInBands(t *testing.T) {
	g, err := GlobalGrid(moon, 2048, 0)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "tiled.tif")
	if err := WriteGeoTIFF(path, &g, []Band{{Name: "a", Values: unevenValues(g.Width*g.Height, 1)}}, WriteOptions{BlockSize: 64}); err != nil {
		t.Fatal(err)
	}
	smallCells(t, 16, 64*64)
	set := &LayerSet{Layers: []*Layer{openAs(t, path)}}
	jobs := inventJobs(&g, 3000)
	for i := range jobs { // those near a pole would reach round the map
		jobs[i].Level, jobs[i].Reach, jobs[i].Centre.Lat = i%2, math.Min(jobs[i].Reach, 1e5), jobs[i].Centre.Lat*2/3
	}
	once, _, _ := sweepLoads(t, set, jobs)
	set.Cache = newSweep(set, jobs, 1, false).mostHeld() * 3 / 5
	loads, bands, windows := sweepLoads(t, set, jobs)
	if bands < 2 || windows > 0 || float64(loads) > 1.25*float64(once) {
		t.Errorf("%d bands, %d windows, %d cells read in place of %d", bands, windows, loads, once)
	}
}

// mostHeld is the most that is held in a band.
func (v *sweep) mostHeld() (most int64) {
	for band := range v.bands {
		v.index(band)
		most = max(most, v.peak())
	}
	return most
}

// sweepLoads sweeps and counts the cells that are read.
func sweepLoads(t *testing.T, set *LayerSet, jobs []Job) (loads, bands, windows int) {
	v := newSweep(set, jobs, 1, false)
	v.onLoad = func(int, Window) { loads++ }
	for _, b := range v.bandOf {
		if b < 0 {
			windows++
		}
	}
	if err := v.patches(context.Background(), set, 1, func(_ int, _ Job, _ *Patch, err error) error { return err }); err != nil {
		t.Fatal(err)
	}
	return loads, v.bands, windows
}

// countedFiles hands files to GDAL and counts how often each byte is read.
type countedFiles struct {
	mu   sync.Mutex
	data []byte
	read []int
}

// Size is that of the one file.
func (f *countedFiles) Size(string) (int64, error) { return int64(len(f.data)), nil }

// ReadAt counts and copies.
func (f *countedFiles) ReadAt(_ string, p []byte, off int64) (int, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	n := copy(p, f.data[min(off, int64(len(f.data))):])
	for i := range n {
		f.read[int(off)+i]++
	}
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

// TestSweepDecodesOnce: the bytes of every block that a job needs are read from
// the file once, although many craters share each block and each of the workers
// has its own handle with its own cache; the bytes of other blocks are not.
func TestSweepDecodesOnce(t *testing.T) {
	l, f := countedLayer(t, "counted://")
	jobs := regionalJobs(l.Grid(), 300)
	clear(f.read)
	if err := Visit(context.Background(), &LayerSet{Layers: []*Layer{l}}, jobs, 2, func(_ int, _ Job, _ *Patch, err error) error { return err }); err != nil {
		t.Fatal(err)
	}
	blocks, _ := neededBlocks(t, l, jobs)
	once, often := 0, 0
	for _, n := range f.read[len(f.read)/10:] { // the directory comes first and is read by each worker
		switch {
		case n == 1:
			once++
		case n > 1:
			often++
		}
	}
	share := float64(once) / float64(len(f.read)) / (float64(len(blocks)) * 64 * 64 / float64(l.grid.Width*l.grid.Height))
	if often > 0 || share < 0.85 || share > 1.15 {
		t.Errorf("%d bytes read more than once; %.2f of the bytes of the needed blocks read once", often, share)
	}
}

// regionalJobs are overlapping craters on a part of a map.
func regionalJobs(g *Grid, n int) []Job {
	rng := rand.New(rand.NewPCG(1, 1))
	jobs := make([]Job, n)
	for i := range jobs {
		level := i % 4
		jobs[i] = Job{ID: i, Centre: geom.LonLat{Lon: 170 + 40*rng.Float64(), Lat: 40*rng.Float64() - 30}, Level: level,
			Reach: g.PixelSize(geom.LonLat{}) * (4 + 6*rng.Float64()) * float64(int(1)<<level)}
	}
	return jobs
}

// TestSweepDamage: a damaged block costs the craters with a pixel in it, also
// when several blocks are read together, on block means, and in one layer of
// two.
func TestSweepDamage(t *testing.T) {
	l := mustOpen(t, Spec{Path: truncated(t), Body: moon})
	g := *l.Grid()
	set := &LayerSet{Layers: []*Layer{NewMemory("good", "1", g, unevenValues(g.Width*g.Height, 4)), l}}
	var jobs []Job
	for i := range 256 {
		at, _ := g.LonLat(float64(i%16*4)+2, float64(i/16*4)+2)
		jobs = append(jobs, Job{ID: i, Centre: at, Reach: 4e3 * float64(1+i%3), Level: i % 2})
	}
	var p Patch
	failed, want := 0, make([]error, len(jobs))
	for i, job := range jobs {
		want[i] = set.window(job, &p)
	}
	err := Visit(context.Background(), set, jobs, 1, func(_ int, job Job, _ *Patch, err error) error {
		if err != nil {
			failed++
			refusal(t, err, Corrupt, "block column", "band 1")
			if want[job.ID] == nil {
				t.Errorf("job %+v fails, and its window does not: %v", job, err)
			}
		}
		return nil
	})
	if err != nil || failed == 0 || failed == len(jobs) {
		t.Errorf("error %v, %d of %d jobs failed", err, failed, len(jobs))
	}
}
