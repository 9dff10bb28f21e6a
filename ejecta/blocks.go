package ejecta

import "math"

// blockShape is a size of block and where it serves. Far from the rim the
// templates have next to nothing: what large blocks there have to keep is the
// background, the plane, and what tells the stripes that run on through the near
// ground. Those are along columns or rows, so that blocks are long outwards and
// narrow across, but for the corners, whose columns and rows miss the crater.
type blockShape struct {
	lx, ly uint8   // columns and rows as powers of two
	from   float64 // range of its middle, crater radii
	aside  float64 // least distance of its middle from the axes, crater radii
}

// blockShapes are the blocks for a crater, those tried first first. The limits
// keep 0.99 of the information of blocks of 4 x 4 pixels from 3.2 radii, of single
// harmonics under stripes 0.975 (TestBlocksKeepInformation): in radii where the templates decide, in pixels
// where the size of the blocks does.
func blockShapes(pixels float64) []blockShape {
	past := func(radii, px float64) float64 { return math.Max(radii, px/pixels) }
	return []blockShape{
		{3, 3, past(5, 17.5), 2.5},
		{2, 4, past(6.4, 24), 0}, {4, 2, past(6.4, 24), 0},
		{2, 3, past(4.5, 15), 0}, {3, 2, past(4.5, 15), 0},
		{2, 2, math.Min(3.2, 15/pixels), 0},
		{1, 1, 1.9, 0},
	}
}

// serves reports whether a block with its middle at a place, columns and rows in
// crater radii, is of use.
func (b *blockShape) serves(x, y float64) bool {
	x, y = math.Abs(x), math.Abs(y)
	if max(x, y) <= b.from && (x+y <= b.from || math.Hypot(x, y) <= b.from) || min(x, y) < b.aside {
		return false
	}
	return b.lx == b.ly || (b.ly > b.lx) == (y > x)
}

// blockKey is a block of 1<<lx columns and 1<<ly rows, numbered along both.
type blockKey struct {
	x, y   int32
	lx, ly uint8
}

func (k blockKey) pixels() int { return 1 << (k.lx + k.ly) }

// pieceLevel is the side, as a power of two, of the squares that stand for a block
// of which some pixels are valid: pixels where these are few, for a square counts
// as a whole.
func (k blockKey) pieceLevel(valid int) uint8 {
	side := min(k.lx, k.ly)
	switch {
	case valid == k.pixels():
		return side
	case valid <= 24 || side < 2:
		return 0
	}
	return 1
}

// middle is the middle of a block, pixels from the centre's.
func (k blockKey) middle() (x, y float64) {
	return (float64(k.x)+0.5)*float64(int(1)<<k.lx) - 0.5, (float64(k.y)+0.5)*float64(int(1)<<k.ly) - 0.5
}

// block is the block that holds a pixel: the first whose own middle lies where its
// shape serves. All pixels of a block agree, but for those that an earlier shape
// has taken.
func (l *Layout) block(s *Samples, x, y int32) blockKey {
	for i := range l.shapes {
		b := &l.shapes[i]
		k := blockKey{x >> b.lx, y >> b.ly, b.lx, b.ly}
		if dx, dy := k.middle(); b.serves(dx*s.ColRho, dy*s.RowRho) {
			return k
		}
	}
	return blockKey{x, y, 0, 0}
}

// gatherBlocks makes elements of single pixels near the rim and of larger and
// larger blocks farther out.
func gatherBlocks(s *Samples, l *Layout, valid []bool) *Cells {
	c := &Cells{Layout: l, member: make([]int32, s.Len())}
	order, total, good, rho := blockTally(s, l, valid, c.member)
	ringOf := func(i int) int { return max(l.ring(math.Min(math.Max(rho[i], l.Inner), l.Outer*0.999999)), 0) }
	index := c.keepCells(total, good, ringOf, func(i int) int { return partOf(order[i].pixels() > 4) })
	c.remap(s, index, valid)
	c.blockPieces(s, order, index)
	c.setSides(s, order, index)
	return c
}

// blockSides is the extent of a block along columns and rows, crater radii, and
// how it lies: east and north of a step along each.
type blockSides struct{ east, north [2]float64 }

// setSides notes the extents of the blocks.
func (c *Cells) setSides(s *Samples, order []blockKey, index []int32) {
	c.sides = make([]blockSides, c.N)
	sin, cos := math.Sincos(s.Rotation)
	for i, key := range order {
		if m := index[i]; m >= 0 {
			wide, high := float64(int(1)<<key.lx)*s.ColRho, float64(int(1)<<key.ly)*s.RowRho
			c.sides[m] = blockSides{[2]float64{wide * cos, high * sin}, [2]float64{-wide * sin, high * cos}}
		}
	}
}

// breadth is the side of a square as large as the block.
func (b *blockSides) breadth() float64 {
	return math.Sqrt(math.Abs(b.east[0]*b.north[1] - b.east[1]*b.north[0]))
}

// inside is a place in the block, by shares of its extents from the middle.
func (b *blockSides) inside(along, up float64) (east, north float64) {
	return along*b.east[0] + up*b.east[1], along*b.north[0] + up*b.north[1]
}

// blockPieces lets the squares of a block stand for it where all of its pixels
// are valid; where some are not, smaller squares stand for those that are.
func (c *Cells) blockPieces(s *Samples, order []blockKey, index []int32) {
	level := make([]uint8, c.N)
	for i, key := range order {
		if m := index[i]; m >= 0 {
			level[m] = key.pieceLevel(c.Pixels[m])
		}
	}
	var squares []piece
	var owner []int32
	g := newBlockGrid(s)
	for i, m := range c.member {
		if m < 0 {
			continue
		}
		x, y, lv := s.X[i], s.Y[i], level[m]
		n := g.get(x, y, lv)
		if n < 0 {
			n = int32(len(squares))
			g.set(x, y, lv, n)
			squares = append(squares, piece{x >> lv << lv, y >> lv << lv, lv, 0})
			owner = append(owner, m)
		}
		squares[n].w += s.Area[i]
	}
	c.setPieces(s, squares, owner)
}

// blockTally puts every pixel of the tests into its block, numbered in order
// of first appearance.
func blockTally(s *Samples, l *Layout, valid []bool, member []int32) (order []blockKey, total, good []int, rho []float64) {
	number := map[blockKey]int32{}
	var last blockKey
	n, ok := int32(0), false // of the last block
	for i := range member {
		member[i] = -1
		if !(s.Rho[i] >= l.Inner && s.Rho[i] < l.Outer) {
			continue
		}
		key := l.block(s, s.X[i], s.Y[i])
		if !ok || key != last {
			n, ok = number[key]
		}
		last = key
		if !ok {
			n = int32(len(order))
			number[key], ok = n, true
			order = append(order, key)
			total, good, rho = append(total, 0), append(good, 0), append(rho, 0)
		}
		member[i] = n
		total[n]++
		rho[n] += (s.Rho[i] - rho[n]) / float64(total[n])
		if valid[i] {
			good[n]++
		}
	}
	return order, total, good, rho
}
