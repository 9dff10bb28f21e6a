package raster

import "math"

// sweepRows takes rows from the cells of a sweep.
type sweepRows struct {
	v      *sweep
	cells  []int32 // of the job
	layers []*Layer
}

func (s *sweepRows) row(p *Patch, x, y, n int) error {
	p.sizeTo(len(s.layers), n)
	for _, a := range s.v.sheets {
		if err := s.v.gatherRun(a, s.cells, p, run{x: x, y: y}, n); err != nil {
			return err
		}
	}
	if p.within {
		countShares(s.layers, p, x, y)
	}
	return nil
}

// countShares turns the valid shares of a row of blocks into numbers of map
// pixels.
func countShares(layers []*Layer, p *Patch, x, y int) {
	period := layers[0].grid.period()
	for l, share := range p.Fraction {
		high := layers[l].blockHeight(y, p.Block)
		for i, f := range share {
			share[i] = float32(math.Round(float64(f) * float64(high*layers[l].blockWidth(x+i, p.Block, period))))
		}
	}
}

// summed sums the cells of a job.
func (k *worker) summed(n int32) error {
	k.rows = sweepRows{k.v, k.v.cellsOf.of(n), k.set.Layers}
	err := k.cells.crater(k.v.grid, k.v.jobs[n], &k.rows)
	if err != errUnplanned {
		return err
	}
	if k.v.onUnplanned != nil {
		k.v.onUnplanned(n)
	}
	return k.window(k.v.jobs[n])
}

// windowRows takes rows from the files, some at a time, as the box of the patch
// tells.
type windowRows struct {
	set  *LayerSet
	box  span // what is at hand
	data []plane
}

func (s *windowRows) row(p *Patch, x, y, n int) error {
	p.sizeTo(len(s.set.Layers), n)
	b := p.boxes[0]
	if b.x0 != s.box.x0 || b.x1 != s.box.x1 || y < s.box.y0 || y >= s.box.y1 {
		if err := s.read(p, b, y); err != nil {
			return err
		}
	}
	at := (y-s.box.y0)*(b.x1-b.x0) + x - b.x0
	for l := range s.data {
		copy(p.Values[l], s.data[l].mean[at:at+n])
		if p.within {
			copy(p.Fraction[l], s.data[l].share[at:at+n])
			copy(p.vary[l], s.data[l].vary[at:at+n])
		}
	}
	return nil
}

// read reads as many rows of a box as are read at once.
func (s *windowRows) read(p *Patch, b span, y int) error {
	w := b.x1 - b.x0
	s.box = span{x0: b.x0, y0: y, x1: b.x1, y1: min(b.y1, y+max(1, stripPixels/(w<<(2*p.Level))))}
	s.data = sized(s.data, len(s.set.Layers))
	for i, l := range s.set.Layers {
		if err := l.readStrip(p, s.box, &s.data[i]); err != nil {
			s.box = span{}
			return err
		}
	}
	return nil
}

// readStrip reads a rectangle of pixels or blocks.
func (l *Layer) readStrip(p *Patch, b span, d *plane) error {
	w, h := b.x1-b.x0, b.y1-b.y0
	d.mean = sized(d.mean, w*h)
	if p.Level == 0 {
		return l.Read(b.x0, b.y0, w, h, d.mean)
	}
	if err := l.sumBlocks(p, b.x0, b.y0, w, h); err != nil {
		return err
	}
	d.share, d.vary = sized(d.share, w*h), sized(d.vary, w*h)
	for at := range d.mean {
		d.mean[at], _ = l.blockMean(&p.s.sums, at, b.x0+at%w, b.y0+at/w, p.Block)
		if p.within {
			d.share[at], d.vary[at] = float32(p.s.sums.count[at]), p.s.sums.variance(at)
		}
	}
	return nil
}
