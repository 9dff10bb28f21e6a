package raster

import "math"

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
		dst[i], fraction[i] = l.blockMean(p, at, p.Column(i), p.Row(i))
	}
	return nil
}

// sumBlocks adds up w x h blocks of map pixels in the scratch of a patch.
func (l *Layer) sumBlocks(p *Patch, x, y, w, h int) error {
	p.s.sum, p.s.count = sized(p.s.sum, w*h), sized(p.s.count, w*h)
	clear(p.s.sum)
	clear(p.s.count)
	if p.within {
		p.s.square = sized(p.s.square, w*h)
		clear(p.s.square)
	}
	period := l.grid.period()
	for c := x; c < x+w; {
		n, first, last := l.blockRun(c, x+w, p.Block, period)
		if err := l.addBlocks(p, first, last, c-x, y, w, h); err != nil {
			return err
		}
		c += n
	}
	return nil
}

// blockMean is the mean and the valid share of a block that has been added up.
func (l *Layer) blockMean(p *Patch, at, col, row int) (mean, share float32) {
	k := p.s.count[at]
	share = float32(k) / float32(l.blockHeight(row, p.Block)*l.blockWidth(col, p.Block, l.grid.period()))
	if share >= minValid {
		return float32(p.s.sum[at] / float64(k)), share
	}
	return float32(math.NaN()), share
}

// variance is that of n numbers with a sum and a sum of squares.
func variance(sum, square float64, n int32) float32 {
	mean := sum / float64(n)
	return float32(math.Max(0, square/float64(n)-mean*mean))
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

// addBlocks adds the map columns first..last of h rows of blocks to the blocks
// from column at on.
func (l *Layer) addBlocks(p *Patch, first, last, at, y, w, h int) error {
	cols := last - first
	p.s.strip = sized(p.s.strip, cols*p.Block*h)
	if err := l.Read(first, y*p.Block, cols, p.Block*h, p.s.strip); err != nil {
		return err
	}
	for r := 0; r < h*p.Block; r++ {
		to := r/p.Block*w + at
		sum, count := p.s.sum[to:], p.s.count[to:]
		for i, v := range p.s.strip[r*cols : (r+1)*cols] {
			if v == v {
				sum[i>>p.Level] += float64(v)
				count[i>>p.Level]++
			}
		}
		if p.within {
			addSquares(p.s.square[to:], p.s.strip[r*cols:(r+1)*cols], p.Level)
		}
	}
	return nil
}

// addSquares adds the squares of the valid values of a row to its blocks.
func addSquares(square []float64, row []float32, level int) {
	for i, v := range row {
		if v == v {
			square[i>>level] += float64(v) * float64(v)
		}
	}
}
