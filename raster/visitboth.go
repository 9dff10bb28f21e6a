package raster

import "context"

// PatchFunc is called by [Visit] for a job with its patch, or with the error why it
// has none.
type PatchFunc func(worker int, job Job, p *Patch, err error) error

// CellsFunc is called by [VisitCells] for a job with its sums, or with the error why
// it has none.
type CellsFunc func(worker int, job Job, sums *CellSums, err error) error

// Patches are jobs that want their pixels.
type Patches struct {
	Jobs []Job
	Do   PatchFunc
}

// Cells are jobs that want sums over the cells of a layout.
type Cells struct {
	Jobs   []Job
	Layout CellLayout
	Do     CellsFunc
}

// VisitBoth is [Visit] and [VisitCells] in one reading of the files: blocks that jobs
// of both kinds need are decoded once.
func VisitBoth(ctx context.Context, s *LayerSet, patches Patches, cells Cells, workers int) error {
	cells.Layout.check()
	s.onOneGrid()
	return newBoth(s, patches, cells, workers).both(ctx, s, patches, cells, workers)
}

// newBoth plans a visit for patches, then for sums.
func newBoth(s *LayerSet, patches Patches, cells Cells, workers int) *sweep {
	first := len(patches.Jobs)
	v := newSweep(s, append(patches.Jobs[:first:first], cells.Jobs...), max(1, workers), cells.Layout.Within)
	v.firstSums = int32(first)
	return v
}

func (v *sweep) both(ctx context.Context, s *LayerSet, patches Patches, cells Cells, workers int) error {
	workers = max(1, min(workers, len(v.jobs)))
	kernel := func() *cellKernel { return newCellKernel(cells.Layout, len(s.Layers)) }
	return v.run(ctx, s, workers, kernel, func(w int, k *worker, n int32, err error) error {
		if k.wantsSums(n) {
			return cells.Do(w, v.jobs[n], k.cells.sums, err)
		}
		return patches.Do(w, v.jobs[n], &k.p, err)
	})
}
