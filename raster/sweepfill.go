package raster

import "errors"

// errUnplanned says that a patch reaches into a cell that was not thought of.
var errUnplanned = errors.New("raster: pixel in a cell that was not planned for")

// swept takes what is wanted of a job from the cells.
func (k *worker) swept(n int32) error {
	switch {
	case k.wantsSums(n):
		return k.summed(n)
	case k.v.jobs[n].box != nil:
		return k.boxed(n)
	}
	return k.sampled(n)
}

// window takes what is wanted of a job from the files, without the sweep.
func (k *worker) window(n int32) error {
	job := k.v.jobs[n]
	if k.wantsSums(n) {
		k.windows.set, k.windows.use, k.windows.box = k.set, k.cells.use, span{}
		return k.cells.crater(k.v.grid, job, &k.windows)
	}
	if job.box != nil {
		return k.ownBox(job.box)
	}
	return k.set.window(job, &k.p)
}

// sampled computes the patch of a job and takes its values from the cells.
func (k *worker) sampled(n int32) error {
	job, g := k.v.jobs[n], k.v.grid
	if err := g.Geometry(g.Body, job.Centre, job.Reach, job.Level, &k.p); err != nil {
		return err
	}
	k.p.sizeValues(len(k.set.Layers))
	for _, a := range k.v.sheets {
		if err := k.v.gather(a, k.v.cellsOf.of(n), &k.p); err != nil {
			return k.otherwise(n, err)
		}
	}
	return nil
}

// otherwise reads windows for a job that needs a cell that is not there; other
// errors stay.
func (k *worker) otherwise(n int32, err error) error {
	if err != errUnplanned {
		return err
	}
	if k.v.onUnplanned != nil {
		k.v.onUnplanned(n)
	}
	return k.set.Fill(&k.p)
}

// gather takes the values of the layers of a sheet from the cells of a job.
func (v *sweep) gather(a *sheet, cells []int32, p *Patch) error {
	for i, r := range p.runs {
		to := p.Len()
		if i+1 < len(p.runs) {
			to = p.runs[i+1].from
		}
		if err := v.gatherRun(a, cells, p, r, to); err != nil {
			return err
		}
	}
	return nil
}

// gatherRun takes the values of a run of pixels up to one.
func (v *sweep) gatherRun(a *sheet, cells []int32, p *Patch, r run, to int) (fault error) {
	p.blank(a.layers, r.from, to)
	if r.y < 0 || r.y >= (a.height+p.Block-1)/p.Block {
		return nil
	}
	a.runs(r.x, to-r.from, p.Block, func(at, col, n int) {
		for n > 0 && fault == nil {
			var done int
			done, fault = v.copyRun(a, cells, p, r.from+at, col, r.y, n)
			at, col, n = at+done, col+done, n-done
		}
	})
	return fault
}

// blank makes pixels of some layers missing.
func (p *Patch) blank(layers []int, from, to int) {
	for _, l := range layers {
		fillNaN(p.Values[l][from:to])
		if p.Level > 0 {
			clear(p.Fraction[l][from:to])
		}
	}
}

// copyRun copies what one cell has of n pixels from a column and row of the
// level on, and returns how many that are.
func (v *sweep) copyRun(a *sheet, cells []int32, p *Patch, to, col, row, n int) (int, error) {
	b := p.Block
	cell := a.first + row*b/a.h*a.cols + col*b/a.w
	r := a.rect(cell)
	wide := (r.Width + b - 1) / b
	x := col - r.X/b
	n = min(n, wide-x)
	at := (row-r.Y/b)*wide + x
	if !holdsCell(cells, int32(cell)) {
		return n, errUnplanned
	}
	planes := v.planes[unit(int32(cell), p.Level)]
	for i, l := range a.layers {
		if err := planes[i].faultAt(col*b, row*b, n*b, b); err != nil {
			return n, err
		}
		copy(p.Values[l][to:to+n], planes[i].mean[at:])
		if p.Level > 0 {
			copy(p.Fraction[l][to:to+n], planes[i].share[at:])
		}
		if p.within {
			copy(p.vary[l][to:to+n], planes[i].vary[at:])
		}
	}
	return n, nil
}

// faultAt returns the error of the first bad block that a rectangle meets.
func (p *plane) faultAt(x, y, w, h int) error {
	for _, b := range p.bad {
		if x < b.at.X+b.at.Width && b.at.X < x+w && y < b.at.Y+b.at.Height && b.at.Y < y+h {
			return b.err
		}
	}
	return nil
}

// sizeValues makes room for the values of a number of layers.
func (p *Patch) sizeValues(layers int) { p.sizeTo(layers, p.Len()) }

// sizeTo makes room for the values of n pixels.
func (p *Patch) sizeTo(layers, n int) {
	p.Values = sizedAll(p.Values, layers, n)
	if p.Level == 0 {
		p.Fraction = nil
		return
	}
	p.Fraction = sizedAll(p.Fraction, layers, n)
	if p.within {
		p.vary = sizedAll(p.vary, layers, n)
	}
}

// sizedAll returns m slices of length n, reusing those of s.
func sizedAll(s [][]float32, m, n int) [][]float32 {
	s = sized(s, m)
	for i := range s {
		s[i] = sized(s[i], n)
	}
	return s
}
