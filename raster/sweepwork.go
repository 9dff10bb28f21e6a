package raster

import "context"

// worker is one goroutine of a sweep with its buffers.
type worker struct {
	v     *sweep
	set   *LayerSet
	p     Patch
	pixel []float32
	cells *cellKernel // nil when patches are wanted
	rows  sweepRows

	windows windowRows
}

// wantsSums reports whether a job wants sums, and not its patch.
func (k *worker) wantsSums(n int32) bool { return k.cells != nil && n >= k.v.firstSums }

// handler is what is done with a job, whose patch or sums a worker has: err says
// why it has none.
type handler func(w int, k *worker, n int32, err error) error

// work loads cells and does jobs until none is left.
func (v *sweep) work(ctx context.Context, w int, k *worker, fn handler) error {
	for ctx.Err() == nil {
		t := v.take()
		switch t.kind {
		case taskNone:
			return nil
		case taskLoad:
			k.load(t.n, t.layer)
			continue
		case taskSwept:
			err := fn(w, k, t.n, k.swept(t.n))
			v.release(t.n)
			if err != nil {
				return err
			}
		case taskWindow:
			if err := fn(w, k, t.n, k.window(t.n)); err != nil {
				return err
			}
		}
	}
	return nil
}

type taskKind int

const (
	taskNone   taskKind = iota
	taskSwept           // a job whose cells are there
	taskLoad            // a layer of a cell
	taskWindow          // a job that reads for itself
)

type task struct {
	kind  taskKind
	n     int32 // job or cell
	layer int   // of the sheet
}

// take waits for something to do. Jobs come before cells, so that no more is
// held than must be.
func (v *sweep) take() task {
	v.mu.Lock()
	defer v.mu.Unlock()
	for !v.stopped {
		if v.head < len(v.ready) {
			v.head++
			return task{kind: taskSwept, n: v.ready[v.head-1]}
		}
		if t, ok := v.nextLoad(); ok {
			return t
		}
		if n := len(v.windows); n > 0 {
			t := task{kind: taskWindow, n: v.windows[0]}
			v.windows = v.windows[1:]
			return t
		}
		if v.busy == 0 {
			break
		}
		v.wake.Wait()
	}
	return task{}
}

// nextLoad begins a load.
func (v *sweep) nextLoad() (task, bool) {
	if len(v.order) == 0 {
		return task{}, false
	}
	c := v.order[0]
	a := v.sheetOf[c]
	if v.next == 0 {
		v.allocate(c)
	}
	t := task{taskLoad, c, v.next}
	v.busy++
	if v.next++; v.next == len(a.layers) {
		v.order, v.next = v.order[1:], 0
	}
	return t, true
}

// allocate makes the units of a cell.
func (v *sweep) allocate(c int32) {
	a := v.sheetOf[c]
	for level := range levels {
		u := unit(c, level)
		if v.refs[u] == 0 {
			continue
		}
		v.planes[u] = make([]plane, len(a.layers))
		for i := range v.planes[u] {
			v.planes[u][i] = v.newPlane(a.size(level), level > 0, a.within)
		}
	}
}

// newPlane takes room for n values, and for what blocks have beside them.
func (v *sweep) newPlane(n int, blocks, within bool) (p plane) {
	p.mean = v.buffer(n)
	if blocks {
		p.share = v.buffer(n)
	}
	if blocks && within {
		p.vary = v.buffer(n)
	}
	return p
}

// buffer takes memory from the pool.
func (v *sweep) buffer(n int) []float32 {
	if free := v.pool[n]; len(free) > 0 {
		v.pool[n] = free[:len(free)-1]
		return free[len(free)-1]
	}
	values, give := newPages(n)
	v.pages = append(v.pages, give)
	return values
}

// close gives all memory back, after the last worker.
func (v *sweep) close() {
	for _, give := range v.pages {
		give()
	}
	v.pages, v.pool, v.planes = nil, nil, nil
}

// load reads one layer of a cell and makes its units.
func (k *worker) load(c int32, layer int) {
	v, a := k.v, k.v.sheetOf[c]
	l, r := k.set.Layers[a.layers[layer]], a.rect(int(c))
	if v.onLoad != nil {
		v.onLoad(a.layers[layer], r)
	}
	pixels := k.pixels(a, v.planes[unit(c, 0)], layer)
	bad := l.readCell(a, r, pixels)
	if planes := v.planes[unit(c, 0)]; planes != nil {
		planes[layer].bad = bad
	}
	k.means(l, c, layer, pixels, bad)
	v.loaded(c)
}

// means makes the blocks of a layer of a cell, as far as they are wanted.
func (k *worker) means(l *Layer, c int32, layer int, pixels []float32, bad []badBlock) {
	v, a := k.v, k.v.sheetOf[c]
	most := levels - 1
	for most > 0 && v.planes[unit(c, most)] == nil {
		most--
	}
	r, s := a.rect(int(c)), &k.p.s.blocks
	s.within = a.within
	for level := 1; level <= most; level++ {
		if level == 1 {
			s.pixels(pixels, r.Width, r.Height)
		} else {
			s.halve()
		}
		if planes := v.planes[unit(c, level)]; planes != nil {
			planes[layer].bad = bad
			l.meansOf(a, r, s, level, &planes[layer])
		}
	}
}

// pixels returns the memory to read a cell into: where it will stay, or a
// buffer when only means are wanted.
func (k *worker) pixels(a *sheet, planes []plane, layer int) []float32 {
	if planes != nil {
		return planes[layer].mean
	}
	k.pixel = sized(k.pixel, a.size(0))
	return k.pixel
}

// loaded tells the jobs that wait for a cell.
func (v *sweep) loaded(c int32) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.busy--
	if v.toRead[c]--; v.toRead[c] == 0 {
		for _, job := range v.users[v.start[unit(c, 0)]:v.start[unit(c+1, 0)]] {
			if v.missing[job]--; v.missing[job] == 0 {
				v.ready = append(v.ready, job)
			}
		}
	}
	v.wake.Broadcast()
}

// release gives back the units that no job needs any more.
func (v *sweep) release(job int32) {
	v.mu.Lock()
	defer v.mu.Unlock()
	for _, c := range v.cellsOf.of(job) {
		u := unit(c, v.jobs[job].Level)
		if v.refs[u]--; v.refs[u] == 0 {
			v.free(u)
		}
	}
}

// free puts the memory of a unit into the pool.
func (v *sweep) free(u int) {
	for _, p := range v.planes[u] {
		for _, values := range [][]float32{p.mean, p.share, p.vary} {
			if values != nil {
				v.pool[len(values)] = append(v.pool[len(values)], values)
			}
		}
	}
	v.planes[u] = nil
}

// stop lets no more be begun.
func (v *sweep) stop() {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.stopped = true
	v.wake.Broadcast()
}
