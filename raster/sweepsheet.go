package raster

// sheet is the layers of a set whose files have blocks of one size. Their grid
// is cut into cells, which are one block or several: the least that is read at
// once.
type sheet struct {
	layers        []int // numbers within the set
	bw, bh        int   // pixels of a block
	w, h          int   // pixels of a cell that no edge cuts
	cols, rows    int   // cells
	width, height int   // pixels of the map, one turn of it at most
	period        int   // of the columns, 0 when they do not repeat
	first         int   // number of the first cell
	within        bool  // variances within blocks are wanted
}

// leastCell is the least sides of a cell, and the least pixels: blocks that are
// smaller, as those of files stored row by row, are taken several at a time.
var leastCell = struct{ side, area int }{64, 1 << 16}

// newSheets gathers the layers of a set by the size of their blocks and numbers
// the cells.
func newSheets(s *LayerSet) (list []*sheet, cells int) {
	for i, l := range s.Layers {
		a := newSheet(l)
		for _, o := range list {
			if o.bw == a.bw && o.bh == a.bh {
				o.layers, a = append(o.layers, i), nil
				break
			}
		}
		if a != nil {
			a.layers, a.first = []int{i}, cells
			cells += a.cols * a.rows
			list = append(list, a)
		}
	}
	return list, cells
}

func newSheet(l *Layer) *sheet {
	g := &l.grid
	a := &sheet{width: g.Width, height: g.Height, period: g.period()}
	if a.period > 0 {
		a.width = min(a.width, a.period)
	}
	a.bw, a.bh = min(max(1, l.info.BlockWidth), a.width), min(max(1, l.info.BlockHeight), a.height)
	a.w, a.h = a.bw, a.bh
	for a.w < min(leastCell.side, a.width) {
		a.w *= 2
	}
	for a.h < min(leastCell.side, a.height) {
		a.h *= 2
	}
	for a.w*a.h < leastCell.area && (a.w < a.width || a.h < a.height) {
		if a.h >= a.height || a.w <= a.h && a.w < a.width {
			a.w *= 2
		} else {
			a.h *= 2
		}
	}
	a.cols, a.rows = (a.width+a.w-1)/a.w, (a.height+a.h-1)/a.h
	return a
}

// aligned reports whether no pixel of a level lies in two cells.
func (a *sheet) aligned(level int) bool {
	b := 1 << level
	return (a.cols == 1 || a.w%b == 0) && (a.rows == 1 || a.h%b == 0)
}

// rect returns the pixels of a cell.
func (a *sheet) rect(cell int) Window {
	x, y := (cell-a.first)%a.cols*a.w, (cell-a.first)/a.cols*a.h
	return Window{x, y, min(a.w, a.width-x), min(a.h, a.height-y)}
}

// size is the number of values of a whole cell at a level.
func (a *sheet) size(level int) int {
	b := 1 << level
	return ((a.w + b - 1) / b) * ((a.h + b - 1) / b)
}

// bytes is what a cell takes at a level: values, and for each block its valid
// share and whatever else is wanted.
func (a *sheet) bytes(level int) int64 {
	n := 4 * int64(a.size(level)) * int64(len(a.layers))
	switch {
	case level > 0 && a.within:
		n *= 3
	case level > 0:
		n *= 2
	}
	return n
}

// addCells appends the numbers of the cells under a rectangle of level pixels,
// columns unwrapped.
func (a *sheet) addCells(cells []int32, s span, level int) []int32 {
	b := 1 << level
	y0, y1 := max(0, s.y0*b), min(a.height, s.y1*b)
	if y0 >= y1 {
		return cells
	}
	a.runs(s.x0, s.x1-s.x0, b, func(_, col, n int) {
		x0, x1 := col*b/a.w, (min((col+n)*b, a.width)-1)/a.w
		for row := y0 / a.h; row <= (y1-1)/a.h; row++ {
			for x := x0; x <= x1; x++ {
				cells = append(cells, int32(a.first+row*a.cols+x))
			}
		}
	})
	return cells
}

// runs cuts n blocks of b columns from column x on, unwrapped, into pieces that
// lie on the map. fn gets the offset of a piece from x, its column on the map,
// and its length.
func (a *sheet) runs(x, n, b int, fn func(at, col, n int)) {
	wide := (a.width + b - 1) / b
	if a.period == 0 {
		if x0, x1 := max(0, x), min(wide, x+n); x0 < x1 {
			fn(x0-x, x0, x1-x0)
		}
		return
	}
	turn := (a.period + b - 1) / b
	for at := 0; at < n; {
		col := floorMod(x+at, turn)
		k := min(n-at, turn-col)
		if inside := min(k, wide-col); inside > 0 {
			fn(at, col, inside)
		}
		at += k
	}
}

// plane is the values of one layer in one cell at one level.
type plane struct {
	mean, share []float32 // share is nil at level 0
	vary        []float32 // variance within each block; nil unless it is wanted
	bad         []badBlock
}

// badBlock is a block that could not be read.
type badBlock struct {
	at  Window
	err error
}

// readCell reads the pixels of a cell. When that fails, it reads block by block
// and returns those that cannot be read.
func (l *Layer) readCell(a *sheet, r Window, dst []float32) (bad []badBlock) {
	l.mu.Lock()
	defer l.mu.Unlock()
	err := l.readInside(r.X, r.Y, r.Width, r.Height, dst, r.Width)
	if err == nil {
		return nil
	}
	if r.Width <= a.bw && r.Height <= a.bh {
		return []badBlock{{r, err}}
	}
	for y := r.Y; y < r.Y+r.Height; y += a.bh {
		for x := r.X; x < r.X+r.Width; x += a.bw {
			b := Window{x, y, min(a.bw, r.X+r.Width-x), min(a.bh, r.Y+r.Height-y)}
			at := dst[(y-r.Y)*r.Width+x-r.X:]
			if err := l.readInside(b.X, b.Y, b.Width, b.Height, at, r.Width); err != nil {
				bad = append(bad, badBlock{b, err})
			}
		}
	}
	return bad
}
