package raster

import (
	"math"
	"slices"
)

// sweepRows takes rows from the cells of a sweep.
type sweepRows struct {
	v      *sweep
	cells  []int32 // of the job
	layers []*Layer
	use    []int // of the layers
	last   int   // cell, known to be one of the job
	view   [][]float32
}

// row takes pixels in the cells where they lie. It copies rows when layers have
// blocks of several sizes, and when what blocks hide is wanted.
func (s *sweepRows) row(p *Patch, v *rowValues, x, y, n int) (int, error) {
	if len(s.v.sheets) == 1 && !p.within {
		return s.piece(s.v.sheets[0], p, v, x, y, n)
	}
	p.sizeTo(len(s.layers), n)
	for _, a := range s.v.sheets {
		if !a.hasAny(s.use) {
			continue
		}
		if err := s.v.gatherRun(a, s.cells, p, run{x: x, y: y}, n); err != nil {
			return 0, err
		}
	}
	if p.within {
		countShares(s.layers, p, x, y)
	}
	*v = rowValues{chosen(p.Values, s.use), chosen(p.vary, s.use), chosen(p.Fraction, s.use)}
	return n, nil
}

// chosen are some of a list; an empty one has none.
func chosen(list [][]float32, use []int) [][]float32 {
	if len(list) == 0 || len(use) == len(list) {
		return list
	}
	out := make([][]float32, len(use))
	for i, l := range use {
		out[i] = list[l]
	}
	return out
}

// hasAny reports whether a sheet has one of some layers.
func (a *sheet) hasAny(layers []int) bool {
	return slices.ContainsFunc(a.layers, func(l int) bool { return slices.Contains(layers, l) })
}

// piece is as many pixels as lie in one cell.
func (s *sweepRows) piece(a *sheet, p *Patch, v *rowValues, x, y, n int) (int, error) {
	b := p.Block
	col, n, inside := a.piece(x, n, b)
	if v.values = nil; !inside || y < 0 || y >= (a.height+b-1)/b {
		return n, nil
	}
	cell := a.first + y*b/a.h*a.cols + col*b/a.w
	if cell != s.last && !slices.Contains(s.cells, int32(cell)) {
		return 0, errUnplanned
	}
	s.last = cell
	r := a.rect(cell)
	wide := (r.Width + b - 1) / b
	x = col - r.X/b
	n = min(n, wide-x)
	at := (y-r.Y/b)*wide + x
	planes := s.v.planes[unit(int32(cell), p.Level)]
	s.view = sized(s.view, len(s.use))
	for i, l := range s.use {
		if err := planes[l].faultAt(col*b, y*b, n*b, b); err != nil {
			return 0, err
		}
		s.view[i] = planes[l].mean[at : at+n]
	}
	v.values = s.view
	return n, nil
}

// piece is the column on the map of an unwrapped one, how many of n blocks of b
// columns go on from it, and whether they are on the map.
func (a *sheet) piece(x, n, b int) (col, m int, inside bool) {
	wide, turn := (a.width+b-1)/b, (a.period+b-1)/b
	if a.period > 0 {
		x = floorMod(x, turn)
		n = min(n, turn-x)
	}
	switch {
	case x < 0:
		return x, min(n, -x), false
	case x >= wide:
		return x, n, false
	}
	return x, min(n, wide-x), true
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
	k.rows = sweepRows{k.v, k.v.cellsOf.of(n), k.set.Layers, k.cells.use, -1, k.rows.view}
	err := k.cells.crater(k.v.grid, k.v.jobs[n], &k.rows)
	if err != errUnplanned {
		return err
	}
	if k.v.onUnplanned != nil {
		k.v.onUnplanned(n)
	}
	return k.window(n)
}

// windowRows takes rows from the files, some at a time, as the box of the patch
// tells.
type windowRows struct {
	set  *LayerSet
	use  []int // of its layers
	box  span  // what is at hand
	data []plane
}

func (s *windowRows) row(p *Patch, v *rowValues, x, y, n int) (int, error) {
	b := p.boxes[0]
	if b.x0 != s.box.x0 || b.x1 != s.box.x1 || y < s.box.y0 || y >= s.box.y1 {
		if err := s.read(p, b, y); err != nil {
			return 0, err
		}
	}
	at, layers := (y-s.box.y0)*(b.x1-b.x0)+x-b.x0, len(s.data)
	v.values, v.vary, v.count = sized(v.values, layers), sized(v.vary, layers), sized(v.count, layers)
	for l, d := range s.data {
		v.values[l] = d.mean[at : at+n]
		if p.within {
			v.vary[l], v.count[l] = d.vary[at:at+n], d.share[at:at+n]
		}
	}
	return n, nil
}

// read reads as many rows of a box as are read at once.
func (s *windowRows) read(p *Patch, b span, y int) error {
	w := b.x1 - b.x0
	s.box = span{x0: b.x0, y0: y, x1: b.x1, y1: min(b.y1, y+max(1, stripPixels/(w<<(2*p.Level))))}
	s.data = sized(s.data, len(s.use))
	for i, l := range s.use {
		if err := s.set.Layers[l].readStrip(p, s.box, &s.data[i]); err != nil {
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
