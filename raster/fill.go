package raster

// LayerSet is layers on one grid (see Grid.Same), read together.
type LayerSet struct {
	Layers []*Layer
	// Cache is how many bytes of decoded blocks Visit may hold; 0 is 512 MiB.
	Cache int64
}

// Clone returns the same layers with their own file handles.
func (s *LayerSet) Clone() (*LayerSet, error) {
	c := &LayerSet{}
	for _, l := range s.Layers {
		k, err := l.Clone()
		if err != nil {
			c.Close()
			return nil, err
		}
		c.Layers = append(c.Layers, k)
	}
	return c, nil
}

// Close closes all layers and returns the first error.
func (s *LayerSet) Close() error {
	var first error
	for _, l := range s.Layers {
		if err := l.Close(); err != nil && first == nil {
			first = err
		}
	}
	return first
}

// stripPixels is how many map pixels are read at once.
const stripPixels = 1 << 20

// minValid is the smallest valid share of a block that has a value.
const minValid = 0.5

// Fill reads the values of all layers into p, whose geometry must come from
// the grid of the layers. After an *Error the values of p must not be used.
func (s *LayerSet) Fill(p *Patch) error {
	n := p.Len()
	p.Values = sized(p.Values, len(s.Layers))
	if p.Level > 0 {
		p.Fraction = sized(p.Fraction, len(s.Layers))
	} else {
		p.Fraction = nil
	}
	for i, l := range s.Layers {
		p.Values[i] = sized(p.Values[i], n)
		var fraction []float32
		if p.Level > 0 {
			p.Fraction[i] = sized(p.Fraction[i], n)
			fraction = p.Fraction[i]
		}
		for _, b := range p.boxes {
			if err := l.fillBox(p, b, p.Values[i], fraction); err != nil {
				return err
			}
		}
	}
	return nil
}

// fillBox reads the pixels of one box, some rows at a time.
func (l *Layer) fillBox(p *Patch, b span, dst, fraction []float32) error {
	for i := b.from; i < b.to; {
		y := p.Row(i)
		x0, x1 := b.x0, b.x1
		rows := max(1, stripPixels/((x1-x0)<<(2*p.Level)))
		to := i
		for to < b.to && p.Row(to) < y+rows {
			to++
		}
		h := p.Row(to-1) - y + 1
		var err error
		if p.Level == 0 {
			err = l.fillStrip(p, i, to, x0, y, x1-x0, h, dst)
		} else {
			err = l.fillBlocks(p, i, to, x0, y, x1-x0, h, dst, fraction)
		}
		if err != nil {
			return err
		}
		i = to
	}
	return nil
}

func (l *Layer) fillStrip(p *Patch, from, to, x, y, w, h int, dst []float32) error {
	p.s.strip = sized(p.s.strip, w*h)
	if err := l.Read(x, y, w, h, p.s.strip); err != nil {
		return err
	}
	dx, dy := p.col0-x, p.row0-y
	for i := from; i < to; i++ {
		dst[i] = p.s.strip[(int(p.Y[i])+dy)*w+int(p.X[i])+dx]
	}
	return nil
}

// fillBlocks reads w x h blocks of map pixels and averages each.
func (l *Layer) fillBlocks(p *Patch, from, to, x, y, w, h int, dst, fraction []float32) error {
	if err := l.sumBlocks(p, x, y, w, h); err != nil {
		return err
	}
	dx, dy := p.col0-x, p.row0-y
	for i := from; i < to; i++ {
		at := (int(p.Y[i])+dy)*w + int(p.X[i]) + dx
		dst[i], fraction[i] = l.blockMean(&p.s.sums, at, p.Column(i), p.Row(i), p.Block)
	}
	return nil
}

// sumBlocks sums w x h blocks of map pixels in the scratch of a patch.
func (l *Layer) sumBlocks(p *Patch, x, y, w, h int) error {
	p.s.sums.within = p.within
	p.s.sums.size(w, h)
	period := l.grid.period()
	for c := x; c < x+w; {
		n, first, last := l.blockRun(c, x+w, p.Block, period)
		if err := l.addBlocks(p, first, last, c-x, y, h); err != nil {
			return err
		}
		c += n
	}
	return nil
}

// blockRun returns how many blocks from c to end lie in one copy of the map,
// and the map columns they cover, half-open.
func (l *Layer) blockRun(c, end, block, period int) (n, first, last int) {
	if period == 0 {
		return end - c, c * block, end * block
	}
	blocks := (period + block - 1) / block
	col := floorMod(c, blocks)
	n = min(end-c, blocks-col)
	return n, col * block, min((col+n)*block, period)
}

// blockWidth returns how many map columns a block has.
func (l *Layer) blockWidth(c, block, period int) int {
	if period == 0 {
		return block
	}
	col := floorMod(c, (period+block-1)/block) * block
	return min(block, period-col)
}

// blockHeight returns how many map rows of a block lie on the body.
func (l *Layer) blockHeight(row, block int) int {
	c := l.grid.cylinder()
	if c == nil || row > 0 && (row+1)*block <= l.grid.Height {
		return block
	}
	_, _, n := l.grid.blockLatitudes(c, row, block)
	return max(1, n)
}

// addBlocks sums the map columns first..last of h rows of blocks; they are the
// blocks from column at on.
func (l *Layer) addBlocks(p *Patch, first, last, at, y, h int) error {
	cols := last - first
	p.s.strip = sized(p.s.strip, cols*p.Block*h)
	if err := l.Read(first, y*p.Block, cols, p.Block*h, p.s.strip); err != nil {
		return err
	}
	s, all := &p.s.blocks, &p.s.sums
	s.within = p.within
	s.pixels(p.s.strip, cols, p.Block*h)
	for range p.Level - 1 {
		s.halve()
	}
	for r := range h {
		to, from := r*all.w+at, r*s.w
		copy(all.sum[to:to+s.w], s.sum[from:])
		copy(all.count[to:to+s.w], s.count[from:])
		if p.within {
			copy(all.square[to:to+s.w], s.square[from:])
		}
	}
	return nil
}
