package raster

import (
	"context"
	"slices"
)

// LevelWindow is a rectangle of pixels of a level for VisitWindows: blocks of
// 1<<Level map pixels a side, the first from column X and row Y of the level on.
// Columns run on across the edge of a map that goes round the body.
type LevelWindow struct {
	ID, Level           int
	X, Y, Width, Height int
}

// span is the rectangle.
func (w *LevelWindow) span() span {
	return span{x0: w.X, y0: w.Y, x1: w.X + w.Width, y1: w.Y + w.Height}
}

// tooLarge reports whether a window has more pixels than a patch may have.
func (w *LevelWindow) tooLarge() bool {
	return float64(w.Width)*float64(w.Height) > MaxPatch
}

// check panics for a window that is none.
func (w *LevelWindow) check() {
	if w.Level < 0 || w.Level > MaxLevel || w.Width < 1 || w.Height < 1 {
		panic("raster: no pixels in a window, or its level out of range")
	}
}

// VisitWindows calls fn once for every window, with the values of all layers row
// by row, NaN where under half of a block is valid. It is Visit for rectangles:
// each block of the files that a window needs is decoded once, for the windows of
// all levels together, and what Visit says of order, workers, faults, memory and
// the layers holds here. Windows of a level whose blocks do not fit into the
// blocks of the files, and those that the cache cannot hold, are read for
// themselves. The values are reused after fn returns; fn may write into them.
func VisitWindows(ctx context.Context, s *LayerSet, windows []LevelWindow, workers int, fn func(worker int, w LevelWindow, values [][]float32, err error) error) error {
	s.onOneGrid()
	workers = max(1, min(workers, len(windows)))
	v := newSweep(s, boxJobs(s.Layers[0].Grid(), windows), workers, false)
	return v.rectangles(ctx, s, workers, fn)
}

// boxJobs are windows as jobs.
func boxJobs(g *Grid, windows []LevelWindow) []Job {
	jobs := make([]Job, len(windows))
	for i := range windows {
		w := &windows[i]
		w.check()
		jobs[i] = Job{ID: w.ID, Level: w.Level, box: w}
		b := float64(int(1) << w.Level)
		if at, ok := g.LonLat((float64(w.X)+float64(w.Width)/2)*b, (float64(w.Y)+float64(w.Height)/2)*b); ok {
			jobs[i].Centre = at // for the bands and the order of windows alone
		}
	}
	return jobs
}

// rectangles does all jobs with their values.
func (v *sweep) rectangles(ctx context.Context, s *LayerSet, workers int, fn func(worker int, w LevelWindow, values [][]float32, err error) error) error {
	return v.run(ctx, s, workers, func() *cellKernel { return nil }, func(w int, k *worker, n int32, err error) error {
		return fn(w, *v.jobs[n].box, k.p.Values, err)
	})
}

// beginBox makes room for the values of a window in a patch without pixels.
func (p *Patch) beginBox(w *LevelWindow, layers int) error {
	p.reset(w.Level)
	if w.tooLarge() {
		return refused("", "ask for smaller windows", "a window of %d x %d pixels", w.Width, w.Height)
	}
	p.sizeTo(layers, w.Width*w.Height)
	return nil
}

// boxed takes the values of a window from the cells.
func (k *worker) boxed(n int32) error {
	w := k.v.jobs[n].box
	if err := k.p.beginBox(w, len(k.set.Layers)); err != nil {
		return err
	}
	cells := k.v.cellsOf.of(n)
	for _, a := range k.v.sheets {
		for y := range w.Height {
			r := run{w.X, w.Y + y, y * w.Width}
			if err := k.v.gatherRun(a, cells, &k.p, r, r.from+w.Width); err != nil {
				return err
			}
		}
	}
	return nil
}

// ownBox reads the values of a window from the files, some rows at a time.
func (k *worker) ownBox(w *LevelWindow) error {
	if err := k.p.beginBox(w, len(k.set.Layers)); err != nil {
		return err
	}
	rows := max(1, stripPixels/(w.Width<<(2*w.Level)))
	var d plane
	for l, layer := range k.set.Layers {
		for b := w.span(); b.y0 < w.Y+w.Height; b.y0 = b.y1 {
			b.y1 = min(b.y0+rows, w.Y+w.Height)
			if err := layer.readStrip(&k.p, b, &d); err != nil {
				return err
			}
			copy(k.p.Values[l][(b.y0-w.Y)*w.Width:], d.mean)
		}
	}
	return nil
}

// manyCells is the number of cells of a job from which they are searched by
// halves.
const manyCells = 64

// holdsCell reports whether a cell is one of those of a job: in order when they are
// many.
func holdsCell(cells []int32, cell int32) bool {
	if len(cells) < manyCells {
		return slices.Contains(cells, cell)
	}
	_, found := slices.BinarySearch(cells, cell)
	return found
}

// addBoxCells appends the cells of a window in their order.
func (v *sweep) addBoxCells(cells []int32, w *LevelWindow) []int32 {
	if w.tooLarge() {
		return cells
	}
	from := len(cells)
	for _, a := range v.sheets {
		cells = a.addCells(cells, w.span(), w.Level)
	}
	slices.Sort(cells[from:])
	return cells[:from+len(slices.Compact(cells[from:]))]
}
