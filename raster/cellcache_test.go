package raster

import (
	"math"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"rimcast/geom"

	"github.com/airbusgeo/godal"
)

// tiledMap writes a map in tiles of 64 pixels, which are cells of a sweep.
func tiledMap(t *testing.T) (path string, g Grid) {
	smallCells(t, 16, 64*64)
	g, err := GlobalGrid(moon, 1024, 0)
	if err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(t.TempDir(), "map.tif")
	if err := WriteGeoTIFF(path, &g, []Band{{Name: "a", Values: unevenValues(g.Width*g.Height, 1)}}, WriteOptions{BlockSize: 64}); err != nil {
		t.Fatal(err)
	}
	return path, g
}

// countedLayer opens a map in tiles of 64 pixels whose bytes are counted.
func countedLayer(t *testing.T, prefix string) (*Layer, *countedFiles) {
	path, _ := tiledMap(t)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	f := &countedFiles{data: data, read: make([]int, len(data))}
	if err := godal.RegisterVSIHandler(prefix, f, godal.VSIHandlerBufferSize(0), godal.VSIHandlerCacheSize(0)); err != nil {
		t.Fatal(err)
	}
	l, err := Open(Spec{Path: prefix + "map.tif", AllowVSI: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l, f
}

// windowsOf reads the windows of jobs by several workers, each by a handle of its
// own, and returns what the patches hold.
func windowsOf(layers []*Layer, jobs []Job) []string {
	got := make([]string, len(jobs))
	var wg sync.WaitGroup
	for w, l := range layers {
		wg.Go(func() {
			set, p := &LayerSet{Layers: []*Layer{l}}, new(Patch)
			for i := w; i < len(jobs); i += len(layers) {
				err := set.window(jobs[i], p)
				got[i] = patchText(p, err)
			}
		})
	}
	wg.Wait()
	return got
}

func closeAll(t testing.TB, layers []*Layer) {
	for _, l := range layers {
		if err := l.Close(); err != nil {
			t.Error(err)
		}
	}
}

// TestClonesReadOnce: windows that many craters share are read from the file once,
// although two workers read them, with the values of a handle of its own.
func TestClonesReadOnce(t *testing.T) {
	l, f := countedLayer(t, "clones://")
	jobs := regionalJobs(l.Grid(), 300)
	want := windowsOf([]*Layer{l}, jobs)
	clones, err := l.Clones(2, 64<<20)
	if err != nil {
		t.Fatal(err)
	}
	defer closeAll(t, clones)
	clear(f.read)
	for i, got := range windowsOf(clones, jobs) {
		if got != want[i] {
			t.Fatalf("job %+v gives\n%s\nwant\n%s", jobs[i], got, want[i])
		}
	}
	blocks, _ := neededBlocks(t, l, jobs)
	once, often := 0, 0
	for _, n := range f.read[len(f.data)/10:] { // the directory comes first
		switch {
		case n == 1:
			once++
		case n > 1:
			often++
		}
	}
	share := float64(once) / float64(len(f.read)) / (float64(len(blocks)) * 64 * 64 / float64(1024*512))
	if often > 0 || share < 0.85 || share > 1.3 {
		t.Errorf("%d bytes read more than once; %.2f of the bytes of the needed blocks read once", often, share)
	}
}

// TestClonesKeepToTheirMemory: whatever is allowed, values are those of windows, and
// no more cells are held than that, and one for each worker.
func TestClonesKeepToTheirMemory(t *testing.T) {
	smallCells(t, 16, 64*64)
	for n, tg := range testGrids(t) {
		if n%3 > 0 {
			continue
		}
		set := mixedSet(t, tg.g, 64)
		for k, l := range set.Layers {
			jobs := hardJobs(&l.grid, 12, uint64(n))
			want := windowsOf([]*Layer{l}, jobs)
			for _, bytes := range []int64{0, 1 << 17} {
				clones, err := l.Clones(3, bytes)
				if err != nil {
					t.Fatal(err)
				}
				for i, got := range windowsOf(clones, jobs) {
					if got != want[i] {
						t.Fatalf("%s, layer %d, %d bytes: job %+v gives\n%s\nwant\n%s", tg.name, k, bytes, jobs[i], got, want[i])
					}
				}
				if c := clones[0].shared; c != nil && len(c.pages) > c.most+len(clones) {
					t.Errorf("%s, layer %d: %d cells are held of %d", tg.name, k, len(c.pages), c.most)
				}
				closeAll(t, clones)
			}
		}
	}
}

// TestClonesByRows: in the order of a sweep of another map cells are read about once
// when those of some rows find room, and often when only four do.
func TestClonesByRows(t *testing.T) {
	l, _ := countedLayer(t, "rows://")
	jobs := regionalJobs(l.Grid(), 2000)
	for i := range jobs {
		jobs[i].Level, jobs[i].Reach = 0, 20*l.grid.PixelSize(geom.LonLat{})
		jobs[i].Centre = geom.LonLat{Lon: math.Mod(float64(i)*137.508, 360) - 180, Lat: 60 - 120*float64(i)/2000}
	}
	for _, c := range []struct {
		rows, least, most float64
	}{{3, 1, 1.05}, {0.25, 3, math.Inf(1)}} {
		clones, err := l.Clones(1, int64(c.rows*1024/64)*64*64*4)
		if err != nil {
			t.Fatal(err)
		}
		reads := map[int]int{}
		clones[0].shared.onRead = func(cell int) { reads[cell]++ }
		windowsOf(clones, jobs)
		sum := 0
		for _, n := range reads {
			sum += n
		}
		if often := float64(sum) / float64(len(reads)); often < c.least || often > c.most {
			t.Errorf("with room for %g rows of cells each cell is read %.2f times", c.rows, often)
		}
		closeAll(t, clones)
	}
}

// TestClonesDamage: a damaged block costs the windows that it costs any handle.
func TestClonesDamage(t *testing.T) {
	l := mustOpen(t, Spec{Path: truncated(t), Body: moon})
	var jobs []Job
	for i := range 256 {
		at, _ := l.grid.LonLat(float64(i%16*4)+2, float64(i/16*4)+2)
		jobs = append(jobs, Job{ID: i, Centre: at, Reach: 4e3 * float64(1+i%3), Level: i % 2})
	}
	want := windowsOf([]*Layer{l}, jobs)
	clones, err := l.Clones(2, 64<<20)
	if err != nil {
		t.Fatal(err)
	}
	defer closeAll(t, clones)
	for i, got := range windowsOf(clones, jobs) {
		if got != want[i] {
			t.Errorf("job %+v gives\n%s\nwant\n%s", jobs[i], got, want[i])
		}
	}
}
