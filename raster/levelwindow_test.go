package raster

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
)

// hardWindows are windows over a map and its edges, at several levels; the first
// holds all of it.
func hardWindows(g *Grid, n int, seed uint64) []LevelWindow {
	rng := rand.New(rand.NewPCG(seed, 11))
	list := []LevelWindow{{ID: 900, Level: 1, Width: (g.Width + 1) / 2, Height: (g.Height + 1) / 2}}
	for i := range n {
		w := LevelWindow{ID: 1000 + i, Level: i % 6}
		wide, high := g.Width>>w.Level, g.Height>>w.Level
		w.Width, w.Height = 1+rng.IntN(wide/2+1), 1+rng.IntN(high/2+1)
		w.X, w.Y = rng.IntN(wide+w.Width)-w.Width/2, rng.IntN(high+w.Height)-w.Height/2
		if i%9 == 0 {
			w.X, w.Width = w.X-wide/2, w.Width+2*wide // columns come several times
		}
		list = append(list, w)
	}
	return append(list, list[len(list)-1])
}

// plainMean is the mean of a block from single pixels, and the sum of their sizes.
func plainMean(t testing.TB, l *Layer, level, x, y int) (mean, size float64) {
	b, turn := 1<<level, l.grid.period()
	wide := l.blockWidth(x, b, turn)
	if turn > 0 {
		x = floorMod(x, (turn+b-1)/b)
	}
	buf := make([]float32, wide*b)
	if err := l.Read(x*b, y*b, wide, b, buf); err != nil {
		t.Fatal(err)
	}
	n := 0.0
	for _, v := range buf {
		if v == v {
			mean, size, n = mean+float64(v), size+math.Abs(float64(v)), n+1
		}
	}
	if share := float32(n / float64(wide*l.blockHeight(y, b))); share < minValid || n == 0 {
		return math.NaN(), 0
	}
	return mean / n, size / n
}

// valuesText tells the values of a window to the last bit.
func valuesText(values [][]float32, err error) string {
	if err != nil {
		return "error " + err.Error()
	}
	var h uint64
	for _, list := range values {
		for _, v := range list {
			h = h*1099511628211 + uint64(math.Float32bits(v))
		}
	}
	return fmt.Sprintf("%d:%x", len(values), h)
}

// ownValues are the values of a window that is read for itself.
func ownValues(set *LayerSet, w LevelWindow) ([][]float32, error) {
	k := worker{set: set}
	err := k.ownBox(&w)
	return k.p.Values, err
}

// TestVisitWindowsEqualsReads: windows from the sweep are those read one by one,
// bit for bit, on maps of all kinds and layouts, at all levels, with columns that
// repeat, with any number of workers and any cache; and those are the values of
// the files and the means of their blocks.
func TestVisitWindowsEqualsReads(t *testing.T) {
	smallCells(t, 16, 64*64)
	for n, tg := range testGrids(t) {
		t.Run(tg.name, func(t *testing.T) {
			set := mixedSet(t, tg.g, []int{16, 48, 64, 128}[n%4])
			windows := hardWindows(&set.Layers[0].grid, 40, uint64(n))
			want := make([]string, len(windows))
			for i, w := range windows {
				values, err := ownValues(set, w)
				want[i] = valuesText(values, err)
				checkPlain(t, set, w, values, uint64(i))
			}
			for _, cache := range []int64{0, 1 << 20, 1} {
				set.Cache = cache
				checkWindows(t, set, windows, want, 1+n%3)
			}
		})
	}
}

// checkPlain compares some pixels of a window with sums of single pixels.
func checkPlain(t *testing.T, set *LayerSet, w LevelWindow, values [][]float32, seed uint64) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 3))
	for range 20 {
		x, y, l := rng.IntN(w.Width), rng.IntN(w.Height), rng.IntN(len(values))
		want, size := plainMean(t, set.Layers[l], w.Level, w.X+x, w.Y+y)
		got := float64(values[l][y*w.Width+x])
		if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > 1e-7*size {
			t.Fatalf("%+v: layer %d, column %d, row %d is %g, want %g", w, l, x, y, got, want)
		}
	}
}

func checkWindows(t *testing.T, set *LayerSet, windows []LevelWindow, want []string, workers int) {
	t.Helper()
	var mu sync.Mutex
	seen := map[string]int{}
	err := VisitWindows(context.Background(), set, windows, workers, func(worker int, w LevelWindow, values [][]float32, err error) error {
		mu.Lock()
		defer mu.Unlock()
		seen[fmt.Sprint(w, valuesText(values, err))]++
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for i, w := range windows {
		if key := fmt.Sprint(w, want[i]); seen[key] == 0 {
			t.Fatalf("with a cache of %d: no window %s", set.Cache, key)
		} else {
			seen[key]--
		}
	}
}

// TestVisitWindowsReadsOnce: windows of all levels, many of which hold the whole
// map, have every cell read once.
func TestVisitWindowsReadsOnce(t *testing.T) {
	path, g := tiledMap(t)
	set := &LayerSet{Layers: []*Layer{openAs(t, path), NewMemory("b", "1", g, unevenValues(g.Width*g.Height, 2))}}
	var windows []LevelWindow
	for level := range 5 {
		for i := range 32 {
			side := 1024 >> level / 8
			windows = append(windows, LevelWindow{ID: len(windows), Level: level, X: i % 8 * side, Y: i / 8 * side, Width: side, Height: side})
		}
	}
	v, loads := newSweep(set, boxJobs(&g, windows), 1, false), map[string]int{}
	v.onLoad = func(layer int, at Window) { loads[fmt.Sprint(layer, at)]++ }
	if err := v.rectangles(context.Background(), set, 1, func(_ int, _ LevelWindow, _ [][]float32, err error) error { return err }); err != nil {
		t.Fatal(err)
	}
	cells := 0
	for _, a := range v.sheets {
		cells += a.cols * a.rows * len(a.layers)
	}
	for at, n := range loads {
		if n != 1 {
			t.Errorf("layer and cell %s are read %d times", at, n)
		}
	}
	if len(loads) != cells {
		t.Errorf("%d cells are read of %d", len(loads), cells)
	}
}

// TestVisitWindowsDamage: a damaged block costs the windows with a pixel in it.
func TestVisitWindowsDamage(t *testing.T) {
	l := mustOpen(t, Spec{Path: truncated(t), Body: moon})
	g := *l.Grid()
	set := &LayerSet{Layers: []*Layer{NewMemory("good", "1", g, unevenValues(g.Width*g.Height, 4)), l}}
	var windows []LevelWindow
	for i := range 256 {
		level := i % 2
		windows = append(windows, LevelWindow{ID: i, Level: level, X: i % 16 * 4 >> level, Y: i / 16 * 4 >> level, Width: 3, Height: 2})
	}
	failed := 0
	err := VisitWindows(context.Background(), set, windows, 1, func(_ int, w LevelWindow, _ [][]float32, err error) error {
		_, want := ownValues(set, w)
		if (err == nil) != (want == nil) {
			t.Errorf("%+v: error %v, read for itself %v", w, err, want)
		}
		if err != nil {
			failed++
			refusal(t, err, Corrupt, "block column", "band 1")
		}
		return nil
	})
	if err != nil || failed == 0 || failed == len(windows) {
		t.Errorf("error %v, %d of %d windows failed", err, failed, len(windows))
	}
}

// A window too large for memory is refused, and others are not.
func TestVisitWindowsRefusesHuge(t *testing.T) {
	g, err := GlobalGrid(moon, 64, 0)
	if err != nil {
		t.Fatal(err)
	}
	set := &LayerSet{Layers: []*Layer{NewMemory("a", "1", g, unevenValues(g.Width*g.Height, 4))}}
	windows := []LevelWindow{{ID: 0, Width: 1 << 13, Height: 1 << 12}, {ID: 1, Width: 4, Height: 4}}
	err = VisitWindows(context.Background(), set, windows, 1, func(_ int, w LevelWindow, values [][]float32, err error) error {
		if w.ID == 1 {
			return err
		}
		refusal(t, err, Refused, "smaller windows")
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}
