package raster

import (
	"context"
	"fmt"
	"maps"
	"sync"
	"testing"
)

// TestBothEqualEach: patches and sums of one sweep are those of two, bit for bit, with
// layers in files of several kinds, of which the sums need some; with a cache that is
// too small too. No cell is read for both.
func TestBothEqualEach(t *testing.T) {
	smallCells(t, 16, 64*64)
	for n, tg := range testGrids(t) {
		if n%4 != 1 {
			continue
		}
		for _, use := range [][]int{{2, 0}, {1}} {
			t.Run(fmt.Sprint(tg.name, use), func(t *testing.T) {
				set := mixedSet(t, tg.g, 64)
				jobs := hardJobs(&set.Layers[0].grid, 13, uint64(n))
				l := testLayout()
				l.Layers, l.Gates = use, []func(float32) bool{func(v float32) bool { return v > 3 }}
				for _, cache := range []int64{0, 1} {
					set.Cache = cache
					bothEqual(t, set, jobs, l)
				}
			})
		}
	}
}

func bothEqual(t *testing.T, set *LayerSet, jobs []Job, l CellLayout) {
	t.Helper()
	got, want := newHeard(), newHeard()
	some := &LayerSet{Cache: set.Cache}
	for _, k := range l.Layers {
		some.Layers = append(some.Layers, set.Layers[k])
	}
	alone := l
	alone.Layers = nil
	if err := Visit(context.Background(), set, jobs, 2, want.patch); err != nil {
		t.Fatal(err)
	}
	if err := VisitCells(context.Background(), some, jobs, alone, 2, want.cells); err != nil {
		t.Fatal(err)
	}
	patches, cells := Patches{jobs, got.patch}, Cells{jobs, l, got.cells}
	v, loads, mu := newBoth(set, patches, cells, 2), map[string]int{}, sync.Mutex{}
	v.onLoad = func(layer int, at Window) {
		mu.Lock()
		defer mu.Unlock()
		if at := fmt.Sprint(layer, at); loads[at] == v.bands {
			t.Errorf("layer and cell %s are read more than %d times", at, v.bands)
		} else {
			loads[at]++
		}
	}
	if err := v.both(context.Background(), set, patches, cells, 2); err != nil {
		t.Fatal(err)
	}
	if !maps.Equal(got.patches, want.patches) || !maps.Equal(got.sums, want.sums) {
		t.Error("one sweep gives other patches or sums than two")
	}
}

// heard is what a visit tells, by job.
type heard struct {
	mu            sync.Mutex
	patches, sums map[int]string
}

func newHeard() *heard { return &heard{patches: map[int]string{}, sums: map[int]string{}} }

func (h *heard) patch(_ int, job Job, p *Patch, err error) error {
	text := patchText(p, err)
	h.mu.Lock()
	defer h.mu.Unlock()
	h.patches[job.ID] = text
	return nil
}

func (h *heard) cells(_ int, job Job, c *CellSums, err error) error {
	text := fmt.Sprint(err)
	for cell := 0; err == nil && cell < c.Layout.Cells(); cell++ {
		text += fmt.Sprint(c.Pixels(cell))
		for l := range c.given {
			text += fmt.Sprint(c.Moments(cell, l))
		}
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.sums[job.ID] = text
	return nil
}
