package ejecta

import (
	"math"
)

// piece is a square of pixels standing in a cell: position of its first
// column and row, side 1<<level, and its share of the cell's weight.
type piece struct {
	x, y  int32
	level uint8
	w     float64
}

// Cells is the gathering of one crater's valid pixels into cells: which pixel
// belongs where, and the squares whose covariances stand for the cell's.
type Cells struct {
	Layout  *Layout
	N       int
	Ring    []int     // of each cell
	Rho, Az []float64 // area-weighted mean position of each cell
	Weight  []float64 // ground area of valid pixels
	Pixels  []int     // valid pixels
	Full    []int     // all pixels

	member []int32      // cell of each pixel, -1 when in none
	sides  []blockSides // of Blocks
	pieces []piece
	start  []int // pieces of cell i are pieces[start[i]:start[i+1]]
}

// Gather assigns the valid pixels to cells. A cell is kept when at least half
// of its pixels are valid, a large one when a quarter is: it stands where two or
// four smaller ones would, of which some would be kept.
func Gather(s *Samples, l *Layout, valid []bool) *Cells {
	if l.Blocks {
		return gatherBlocks(s, l, valid)
	}
	return gatherPolar(s, l, valid)
}

// partOf is the share of a cell that must be valid, as a divisor.
func partOf(large bool) int {
	if large {
		return 4
	}
	return 2
}

func gatherPolar(s *Samples, l *Layout, valid []bool) *Cells {
	raw := make([]int32, s.Len())
	first := l.firstCells()
	total := make([]int, first[l.Rings])
	good := make([]int, len(total))
	k := -1
	for i := range raw {
		raw[i] = -1
		if k = l.ringNear(s.Rho[i], k); k < 0 {
			continue
		}
		c := first[k] + sectorOf(s.Az[i], l.across(k))
		total[c]++
		raw[i] = int32(c)
		if valid[i] {
			good[c]++
		}
	}
	c := &Cells{Layout: l, member: raw}
	index := c.keepCells(total, good, ringsOfCells(first), func(i int) int { return partOf(l.Wide > 0 && i >= first[l.Wide]) })
	c.remap(s, index, valid)
	c.polarPieces(s)
	return c
}

// ringsOfCells returns the ring of a cell, from the first cells of the rings.
func ringsOfCells(first []int) func(int) int {
	k := 0
	return func(cell int) int {
		for cell >= first[k+1] {
			k++
		}
		return k
	}
}

// keepCells numbers the cells with enough valid pixels.
func (c *Cells) keepCells(total, good []int, ring func(int) int, least func(int) int) []int32 {
	index := make([]int32, len(total))
	for i := range total {
		index[i] = -1
		if good[i] > 0 && least(i)*good[i] >= total[i] {
			index[i] = int32(c.N)
			c.N++
			c.Ring = append(c.Ring, ring(i))
			c.Pixels = append(c.Pixels, good[i])
			c.Full = append(c.Full, total[i])
		}
	}
	return index
}

// remap turns raw cell numbers into kept ones and takes the mean positions.
func (c *Cells) remap(s *Samples, index []int32, valid []bool) {
	c.Weight = make([]float64, c.N)
	c.Rho = make([]float64, c.N)
	c.Az = make([]float64, c.N)
	east := make([]float64, c.N)
	north := make([]float64, c.N)
	for i, r := range c.member {
		if r < 0 || !valid[i] || index[r] < 0 {
			c.member[i] = -1
			continue
		}
		k := index[r]
		c.member[i] = k
		a := s.Area[i]
		sin, cos := s.Sin[i], s.Cos[i]
		c.Weight[k] += a
		c.Rho[k] += a * s.Rho[i]
		east[k] += a * sin
		north[k] += a * cos
	}
	for k := range c.N {
		c.Rho[k] /= c.Weight[k]
		c.Az[k] = math.Atan2(east[k], north[k])
	}
}

// polarPieces covers each cell by aligned squares: a square counts wholly for
// the cell of its middle pixel, so that no two cells share one and white noise
// stays independent between cells.
func (c *Cells) polarPieces(s *Samples) {
	levels := make([]uint8, c.Layout.Rings)
	for k := range levels {
		levels[k] = uint8(c.Layout.blockLevel(k, s.PixelsPerRadius))
	}
	g := newBlockGrid(s)
	var squares []piece
	var owner []int32
	for i, m := range c.member {
		if m < 0 {
			continue
		}
		lv := levels[c.Ring[m]]
		half := int32(1) << lv >> 1
		if s.X[i]&(1<<lv-1) != half || s.Y[i]&(1<<lv-1) != half {
			continue
		}
		g.set(s.X[i], s.Y[i], lv, int32(len(squares)))
		squares = append(squares, piece{s.X[i] >> lv << lv, s.Y[i] >> lv << lv, lv, 0})
		owner = append(owner, m)
	}
	for i, m := range c.member {
		if m < 0 {
			continue
		}
		if n := g.get(s.X[i], s.Y[i], levels[c.Ring[m]]); n >= 0 {
			squares[n].w += s.Area[i]
		}
	}
	c.setPieces(s, squares, owner)
}

// setPieces sorts the squares by cell, gives a cell that caught none its own
// pixels, and makes the weights of each cell add to one.
func (c *Cells) setPieces(s *Samples, squares []piece, owner []int32) {
	count := make([]int, c.N)
	for _, m := range owner {
		count[m]++
	}
	for i, m := range c.member {
		if m >= 0 && count[m] <= 0 {
			squares = append(squares, piece{s.X[i], s.Y[i], 0, s.Area[i]})
			owner = append(owner, m)
			count[m]--
		}
	}
	c.start = make([]int, c.N+1)
	for m, n := range count {
		c.start[m+1] = c.start[m] + max(n, -n)
	}
	next := append([]int(nil), c.start[:c.N]...)
	c.pieces = make([]piece, len(squares))
	sum := make([]float64, c.N)
	for j, p := range squares {
		c.pieces[next[owner[j]]] = p
		next[owner[j]]++
		sum[owner[j]] += p.w
	}
	for m := range c.N {
		for j := c.start[m]; j < c.start[m+1]; j++ {
			c.pieces[j].w /= sum[m]
		}
	}
}

// blockGrid looks up squares by any pixel inside them.
type blockGrid struct {
	x0, y0 int32
	width  [maxBlockLevel + 1]int32
	number [maxBlockLevel + 1][]int32
	x1, y1 int32
}

func newBlockGrid(s *Samples) *blockGrid {
	g := &blockGrid{}
	for i := range s.X {
		g.x0, g.x1 = min(g.x0, s.X[i]), max(g.x1, s.X[i])
		g.y0, g.y1 = min(g.y0, s.Y[i]), max(g.y1, s.Y[i])
	}
	return g
}

func (g *blockGrid) at(x, y int32, lv uint8) int32 {
	return (y>>lv-g.y0>>lv)*g.width[lv] + x>>lv - g.x0>>lv
}

func (g *blockGrid) set(x, y int32, lv uint8, n int32) {
	if g.number[lv] == nil {
		g.width[lv] = g.x1>>lv - g.x0>>lv + 1
		g.number[lv] = make([]int32, g.width[lv]*(g.y1>>lv-g.y0>>lv+1))
		for i := range g.number[lv] {
			g.number[lv][i] = -1
		}
	}
	g.number[lv][g.at(x, y, lv)] = n
}

func (g *blockGrid) get(x, y int32, lv uint8) int32 {
	if g.number[lv] == nil {
		return -1
	}
	return g.number[lv][g.at(x, y, lv)]
}
