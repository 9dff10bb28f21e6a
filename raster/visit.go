package raster

import (
	"context"
	"slices"
	"sync"

	"rimcast/geom"
)

// Job is one crater for Visit. Reach is in metres.
type Job struct {
	ID     int
	Centre geom.LonLat
	Reach  float64
	Level  int

	box *LevelWindow // in place of centre and reach: see VisitWindows
}

// Visit calls fn once for every job, with the patch of the job filled from all
// layers. The blocks of the files are decoded in the order of the file, each
// block that a job needs once; a job is done when the last block it needs is
// decoded, so the order of jobs must not matter to fn.
//
// fn is called from several goroutines, with the worker from 0 on: what a
// worker writes need not be locked when it is kept apart by worker or by job.
// The patch is reused after fn returns. When a patch cannot be computed or
// read, fn gets the *Error, and other jobs go on: only jobs with pixels in a
// damaged block fail. When fn returns an error, no more jobs are begun and
// Visit returns it; when ctx ends, Visit returns its error.
//
// The layers must share one grid, and each worker opens its own file handles.
// Decoded blocks are held while a job waits for them, and at most s.Cache bytes
// of them; jobs that would need more, the largest craters at full resolution,
// read their own windows instead. Beyond that, the memory in use depends on the
// largest patch, and not on the number of jobs but for some tens of bytes each.
func Visit(ctx context.Context, s *LayerSet, jobs []Job, workers int, fn PatchFunc) error {
	s.onOneGrid()
	workers = max(1, min(workers, len(jobs)))
	return newSweep(s, jobs, workers, false).patches(ctx, s, workers, fn)
}

// patches does all jobs with their patches.
func (v *sweep) patches(ctx context.Context, s *LayerSet, workers int, fn PatchFunc) error {
	return v.run(ctx, s, workers, func() *cellKernel { return nil }, func(w int, k *worker, n int32, err error) error {
		return fn(w, v.jobs[n], &k.p, err)
	})
}

// VisitCells is Visit for sums over the cells of a layout: no pixel is kept,
// and none costs a transcendental function. What holds for Visit holds here;
// the sums are reused after fn returns. The sums of a crater without a pixel on
// the map are all zero.
func VisitCells(ctx context.Context, s *LayerSet, jobs []Job, layout CellLayout, workers int, fn CellsFunc) error {
	return VisitBoth(ctx, s, Patches{}, Cells{jobs, layout, fn}, workers)
}

// onOneGrid panics for layers that do not lie on one grid.
func (s *LayerSet) onOneGrid() {
	if len(s.Layers) == 0 {
		panic("raster: no layers to visit")
	}
	for _, l := range s.Layers[1:] {
		if !l.grid.Same(&s.Layers[0].grid) {
			panic("raster: layers of a set lie on different grids")
		}
	}
}

// run does all jobs.
func (v *sweep) run(ctx context.Context, s *LayerSet, n int, kernel func() *cellKernel, fn handler) error {
	sets, err := cloneSets(s, n)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	workers := make([]*worker, len(sets))
	for w, set := range sets {
		workers[w] = v.newWorker(set, kernel())
	}
	for band := 0; band < v.bands && ctx.Err() == nil; band++ {
		if band > 0 {
			v.begin(s, band)
		}
		if err := v.sweepBand(ctx, workers, fn); err != nil {
			cancel(err)
		}
	}
	v.close()
	for _, set := range sets[1:] {
		if err := set.Close(); err != nil {
			cancel(err)
		}
	}
	return context.Cause(ctx)
}

// newWorker makes a worker; all share the tables of the map.
func (v *sweep) newWorker(set *LayerSet, cells *cellKernel) *worker {
	k := &worker{v: v, set: set, cells: cells}
	k.p.tables = v.tables
	if cells != nil {
		cells.p.tables = v.tables
	}
	return k
}

// sweepBand does the jobs of a band; the first fault of a worker ends it.
func (v *sweep) sweepBand(ctx context.Context, workers []*worker, fn handler) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	defer context.AfterFunc(ctx, v.stop)()
	var wg sync.WaitGroup
	for w, k := range workers {
		wg.Go(func() {
			if err := v.work(ctx, w, k, fn); err != nil {
				cancel(err)
			}
		})
	}
	wg.Wait()
	return context.Cause(ctx)
}

// cloneSets returns one layer set for each worker; the first is s itself.
func cloneSets(s *LayerSet, workers int) ([]*LayerSet, error) {
	sets := []*LayerSet{s}
	for len(sets) < workers {
		c, err := s.Clone()
		if err != nil {
			for _, o := range sets[1:] {
				o.Close()
			}
			return nil, err
		}
		sets = append(sets, c)
	}
	return sets, nil
}

// window fills the patch of a job from the files, without the sweep.
func (s *LayerSet) window(job Job, p *Patch) error {
	g := s.Layers[0].Grid()
	if err := g.Geometry(g.Body, job.Centre, job.Reach, job.Level, p); err != nil {
		return err
	}
	return s.Fill(p)
}

// sortJobs orders numbers of jobs by block row, then block column, then as
// given, so that neighbouring windows find their blocks decoded.
func sortJobs(l *Layer, jobs []Job, list []int32) {
	type key struct {
		row, col int
		i        int32
	}
	g := l.Grid()
	keys := make([]key, len(list))
	bw, bh := max(1, l.info.BlockWidth), max(1, l.info.BlockHeight)
	if bh < 64 {
		bh = 256 // stored row by row: order by bands of rows
		bw = 256
	}
	for n, i := range list {
		keys[n].i = i
		if x, y, ok := g.Pixel(jobs[i].Centre); ok {
			keys[n].row, keys[n].col = int(y)/bh, int(x)/bw
		}
	}
	slices.SortFunc(keys, func(a, b key) int {
		for _, d := range [3]int{a.row - b.row, a.col - b.col, int(a.i - b.i)} {
			if d != 0 {
				return d
			}
		}
		return 0
	})
	for n, k := range keys {
		list[n] = k.i
	}
}
