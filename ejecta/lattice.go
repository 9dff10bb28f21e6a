package ejecta

// lattice is the squares of some cells prepared for one noise model: every
// square carries its place in the tables for squares of any level and its own, so
// that a pair is looked up by one subtraction.
type lattice struct {
	cells *Cells
	table [maxBlockLevel + 1][maxBlockLevel + 1]*lagTable // by level of the one and of the other
	place [maxBlockLevel + 1][]int32                      // by level of the other; negative for the finer of two
	minus []int32                                         // negative of the place for others of its own level
	w     []float64                                       // weights of the squares
	cell  []int32                                         // cells of the squares
	runs  []latticeRun
	sums  []float64 // room for one row
}

// latticeRun is successive squares of one level.
type latticeRun struct {
	from, to int
	level    uint8
}

func (n *Noise) lattice(c *Cells) *lattice {
	l := &lattice{cells: c, w: make([]float64, len(c.pieces)), sums: make([]float64, len(c.pieces)), cell: make([]int32, len(c.pieces))}
	for i, p := range c.pieces {
		l.w[i] = p.w
		l.extendRuns(i, p.level)
	}
	for i := range c.N {
		for k := c.start[i]; k < c.start[i+1]; k++ {
			l.cell[k] = int32(i)
		}
	}
	l.findTables(n.lags)
	l.locate()
	return l
}

func (l *lattice) extendRuns(i int, level uint8) {
	if k := len(l.runs); k > 0 && l.runs[k-1].level == level {
		l.runs[k-1].to = i + 1
		return
	}
	l.runs = append(l.runs, latticeRun{i, i + 1, level})
}

// squareBox holds the corners of the squares of one level.
type squareBox struct {
	some           bool
	x0, x1, y0, y1 int32
}

func (b *squareBox) add(p piece) {
	if !b.some {
		*b = squareBox{true, p.x, p.x, p.y, p.y}
	}
	b.x0, b.x1, b.y0, b.y1 = min(b.x0, p.x), max(b.x1, p.x), min(b.y0, p.y), max(b.y1, p.y)
}

// findTables gets the tables that hold all differences between squares.
func (l *lattice) findTables(lags *lagTables) {
	var boxes [maxBlockLevel + 1]squareBox
	for _, p := range l.cells.pieces {
		boxes[p.level].add(p)
	}
	for a := range boxes {
		for b := a; b < len(boxes); b++ {
			s, t := &boxes[a], &boxes[b]
			if s.some && t.some {
				wide, high := max(s.x1-t.x0, t.x1-s.x0), max(s.y1-t.y0, t.y1-s.y0)
				l.table[a][b] = lags.between(uint8(a), uint8(b), int(wide), int(high))
				l.table[b][a] = l.table[a][b]
			}
		}
	}
}

// locate finds the places of the squares in the tables.
func (l *lattice) locate() {
	l.minus = make([]int32, len(l.w))
	for other := range l.place {
		l.place[other] = make([]int32, len(l.w))
		for i, p := range l.cells.pieces {
			if t := l.table[p.level][other]; t != nil {
				step := min(int(p.level), other)
				at := (p.y>>step)*int32(2*t.halfX+1) + p.x>>step
				if int(p.level) < other {
					at = -at
				}
				l.place[other][i] = at
				if int(p.level) == other {
					l.minus[i] = -at
				}
			}
		}
	}
}

// covariance sums the correlation over all pairs of two cells' squares.
func (l *lattice) covariance(i, j int) float64 {
	row := make([]float64, j+1)
	l.row(i, j, row)
	return row[j]
}

// row computes the covariances of cell i with the cells first..len(out)-1. The
// squares of one cell are all of one level.
func (l *lattice) row(i, first int, out []float64) {
	c := l.cells
	clear(out)
	from, to := c.start[first], c.start[len(out)]
	for _, r := range l.runs {
		r.from, r.to = max(r.from, from), min(r.to, to)
		if r.from < r.to {
			l.sumRun(i, r, out)
		}
	}
}

// sumRun adds the pairs of the squares of cell i and of one run: in the tables
// the finer square is the first.
func (l *lattice) sumRun(i int, r latticeRun, out []float64) {
	begin, end := l.cells.start[i], l.cells.start[i+1]
	own := l.cells.pieces[begin].level
	mine, theirs := l.place[r.level], l.place[own]
	if own == r.level {
		theirs = l.minus
	}
	t := l.table[own][r.level]
	middle := int32(t.halfY*(2*t.halfX+1) + t.halfX)
	sums := l.sums[:r.to-r.from]
	clear(sums)
	for k := begin; k < end; k += 4 {
		from, weight := fourSquares(mine[k:end], l.w[k:end], middle)
		addFour(t.c, from, weight, theirs[r.from:r.to], sums)
	}
	l.fold(sums, r.from, out)
}

// fold adds the sums of the squares from a place on, weighed, to those of their
// cells.
func (l *lattice) fold(sums []float64, from int, out []float64) {
	w := l.w[from : from+len(sums)]
	for j := int(l.cell[from]); len(sums) > 0; j++ {
		n := l.cells.start[j+1] - l.cells.start[j]
		part := 0.0
		for m, v := range sums[:n] {
			part += w[m] * v
		}
		out[j] += part
		sums, w = sums[n:], w[n:]
	}
}

// fourSquares are the first four squares of a list; those it lacks weigh
// nothing.
func fourSquares(place []int32, w []float64, middle int32) (from [4]int32, weight [4]float64) {
	for q := range from {
		from[q] = middle + place[min(q, len(place)-1)]
	}
	copy(weight[:], w)
	return from, weight
}

// addFour adds the correlations of four squares, at from with weights v, with each
// of many at other places.
func addFour(c []float32, from [4]int32, v [4]float64, at []int32, sums []float64) {
	sums = sums[:len(at)]
	for m, x := range at {
		a := v[0]*float64(c[from[0]+x]) + v[1]*float64(c[from[1]+x])
		b := v[2]*float64(c[from[2]+x]) + v[3]*float64(c[from[3]+x])
		sums[m] += a + b
	}
}
