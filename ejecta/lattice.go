package ejecta

// lattice is the squares of some cells prepared for one noise model: every
// square carries its place in the tables of its own and finer levels, so that
// a pair is looked up by one subtraction.
type lattice struct {
	noise *Noise
	cells *Cells
	place [maxBlockLevel + 1][]int32 // by stride
	minus [maxBlockLevel + 1][]int32 // its negative
	w     []float64                  // weights of the squares
	cell  []int32                    // cells of the squares
	runs  []latticeRun
	inner bool // all differences lie within the tables
}

// latticeRun is successive squares of one level.
type latticeRun struct {
	from, to int
	level    uint8
}

func (n *Noise) lattice(c *Cells) *lattice {
	l := &lattice{noise: n, cells: c, w: make([]float64, len(c.pieces)), cell: make([]int32, len(c.pieces))}
	for i, p := range c.pieces {
		l.w[i] = p.w
		l.extendRuns(i, p.level)
	}
	for i := range c.N {
		for k := c.start[i]; k < c.start[i+1]; k++ {
			l.cell[k] = int32(i)
		}
	}
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

// locate finds the places of the squares in the tables.
func (l *lattice) locate() {
	for s := range l.place {
		t := &l.noise.table[s][s]
		side := int32(2*t.halfX + 1)
		l.place[s], l.minus[s] = make([]int32, len(l.w)), make([]int32, len(l.w))
		for i, p := range l.cells.pieces {
			l.place[s][i] = (p.y>>s)*side + p.x>>s
			l.minus[s][i] = -l.place[s][i]
		}
	}
	t := &l.noise.table[maxBlockLevel][maxBlockLevel]
	wide, high := l.cells.extent()
	l.inner = wide <= int32(t.halfX)<<maxBlockLevel && high <= int32(t.halfY)<<maxBlockLevel
}

// extent is the largest difference of columns and of rows between squares.
func (c *Cells) extent() (wide, high int32) {
	if len(c.pieces) == 0 {
		return 0, 0
	}
	first := c.pieces[0]
	x0, x1, y0, y1 := first.x, first.x, first.y, first.y
	for _, p := range c.pieces {
		x0, x1, y0, y1 = min(x0, p.x), max(x1, p.x), min(y0, p.y), max(y1, p.y)
	}
	return x1 - x0, y1 - y0
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
	if !l.inner {
		a := c.pieces[c.start[i]:c.start[i+1]]
		for j := first; j < len(out); j++ {
			out[j] = l.noise.covariance(a, c.pieces[c.start[j]:c.start[j+1]])
		}
		return
	}
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
	mine, theirs := l.place[r.level], l.minus[r.level]
	t := &l.noise.table[min(own, r.level)][max(own, r.level)]
	if own < r.level {
		mine, theirs = l.minus[own], l.place[own]
	}
	middle := int32(t.halfY*(2*t.halfX+1) + t.halfX)
	for k := begin; k < end; k += 4 {
		from, weight := fourSquares(mine[k:end], l.w[k:end], middle)
		sumFour(t.c, from, weight, theirs[r.from:r.to], l.w[r.from:r.to], l.cell[r.from:r.to], out)
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

// sumFour adds the pairs of four squares, at from with weights v, with many, at
// offsets at with weights w, to the sums of the many's cells.
func sumFour(c []float32, from [4]int32, v [4]float64, at []int32, w []float64, cell []int32, out []float64) {
	w, cell = w[:len(at)], cell[:len(at)]
	for m, x := range at {
		a := v[0]*float64(c[from[0]+x]) + v[1]*float64(c[from[1]+x])
		b := v[2]*float64(c[from[2]+x]) + v[3]*float64(c[from[3]+x])
		out[cell[m]] += w[m] * (a + b)
	}
}

// covariance is the same for squares of any place, lags beyond the tables
// taking their last value.
func (n *Noise) covariance(a, b []piece) float64 {
	sum := 0.0
	for i := range a {
		p := &a[i]
		part := 0.0
		for j := range b {
			q := &b[j]
			if p.level <= q.level {
				part += q.w * float64(n.table[p.level][q.level].at(q.x-p.x, q.y-p.y))
			} else {
				part += q.w * float64(n.table[q.level][p.level].at(p.x-q.x, p.y-q.y))
			}
		}
		sum += p.w * part
	}
	return sum
}
