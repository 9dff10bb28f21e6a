package raster

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"

	"rimcast/geom"
)

// Job is one crater for Visit. Reach is in metres.
type Job struct {
	ID     int
	Centre geom.LonLat
	Reach  float64
	Level  int
}

// Visit calls fn once for every job, with the patch of the job filled from all
// layers. Jobs are taken in the order of the blocks of the first layer, row by
// row, so that neighbouring craters find their blocks decoded; their order
// must not matter to fn.
//
// fn is called from several goroutines, with the worker from 0 on: what a
// worker writes need not be locked when it is kept apart by worker or by job.
// The patch is reused after fn returns. When a patch cannot be computed or
// read, fn gets the *Error, and other jobs go on: only jobs that touch a
// damaged block fail. When fn returns an error, no more jobs are begun and
// Visit returns it; when ctx ends, Visit returns its error.
//
// The layers must share one grid, each worker opens its own file handles, and
// the memory in use depends on the largest patch, not on the number of jobs.
func Visit(ctx context.Context, s *LayerSet, jobs []Job, workers int, fn func(worker int, job Job, p *Patch, err error) error) error {
	if len(s.Layers) == 0 {
		panic("raster: no layers to visit")
	}
	for _, l := range s.Layers[1:] {
		if !l.grid.Same(&s.Layers[0].grid) {
			panic("raster: layers of a set lie on different grids")
		}
	}
	workers = max(1, min(workers, len(jobs)))
	v := &visit{jobs: sortJobs(s.Layers[0], jobs), fn: fn}
	v.batch = min(64, max(1, len(jobs)/(8*workers)))
	sets, err := cloneSets(s, workers)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var wg sync.WaitGroup
	for w, set := range sets {
		wg.Go(func() {
			if err := v.work(ctx, w, set); err != nil {
				cancel(err)
			}
		})
	}
	wg.Wait()
	for _, set := range sets[1:] {
		if err := set.Close(); err != nil {
			cancel(err)
		}
	}
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

type visit struct {
	jobs  []Job
	batch int
	next  atomic.Int64
	fn    func(worker int, job Job, p *Patch, err error) error
}

// work takes batches of neighbouring jobs until none is left.
func (v *visit) work(ctx context.Context, worker int, s *LayerSet) error {
	var p Patch
	for {
		from := int(v.next.Add(int64(v.batch))) - v.batch
		if from >= len(v.jobs) {
			return nil
		}
		for _, job := range v.jobs[from:min(from+v.batch, len(v.jobs))] {
			if ctx.Err() != nil {
				return nil
			}
			if err := v.fn(worker, job, &p, s.patch(job, &p)); err != nil {
				return err
			}
		}
	}
}

func (s *LayerSet) patch(job Job, p *Patch) error {
	g := s.Layers[0].Grid()
	if err := g.Geometry(g.Body, job.Centre, job.Reach, job.Level, p); err != nil {
		return err
	}
	return s.Fill(p)
}

// sortJobs orders jobs by block row, then block column, then as given.
func sortJobs(l *Layer, jobs []Job) []Job {
	type key struct{ row, col, i int }
	g := l.Grid()
	keys := make([]key, len(jobs))
	bw, bh := max(1, l.info.BlockWidth), max(1, l.info.BlockHeight)
	if bh < 64 {
		bh = 256 // stored row by row: order by bands of rows
		bw = 256
	}
	for i, j := range jobs {
		keys[i].i = i
		if x, y, ok := g.Pixel(j.Centre); ok {
			keys[i].row, keys[i].col = int(y)/bh, int(x)/bw
		}
	}
	slices.SortFunc(keys, func(a, b key) int {
		for _, d := range [3]int{a.row - b.row, a.col - b.col, a.i - b.i} {
			if d != 0 {
				return d
			}
		}
		return 0
	})
	out := make([]Job, len(jobs))
	for i, k := range keys {
		out[i] = jobs[k.i]
	}
	return out
}
