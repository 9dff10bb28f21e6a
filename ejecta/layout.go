package ejecta

import "math"

// Layout says how the pixels round a crater are gathered before the tests.
//
// Craters of five pixels radius or more use polar cells; smaller ones use the
// pixels themselves near the rim and blocks farther out, because polar cells of a
// pixel or two throw information away. Up to eight pixels the cells of the far
// rings, where the templates have next to nothing, are twice as wide.
type Layout struct {
	Inner, Outer float64 // range of the tests, crater radii
	Rings        int
	Sectors      int  // 0 when Blocks
	Wide         int  // first ring whose cells span two sectors; 0 when none do
	Blocks       bool // pixel and block elements instead of polar cells
	Edges        []float64
	shapes       []blockShape // of Blocks, the largest first
}

// Size limits, in pixels per crater radius.
const (
	MinRadialPixels      = 1.5 // below this no profile is attempted
	MinDirectionalPixels = 3.0 // below this no direction is claimed
	blockPixels          = 5.0 // below this pixels and blocks replace cells
)

// NewLayout chooses the layout for a crater of the given radius in pixels.
// The tests start at inner, but no nearer than 1 + 1.5/pixels crater radii, so
// that no pixel they use touches the rim, and end at outer (8 is customary);
// rings are equal in the logarithm of the range. inner, rings and sectors of 0
// take the default by size.
func NewLayout(pixels, inner, outer float64, rings, sectors int) Layout {
	l := Layout{Inner: math.Max(inner, 1+1.5/pixels), Outer: outer, Rings: 12, Sectors: 24}
	switch {
	case pixels < blockPixels:
		l.Blocks, l.Rings, l.Sectors, l.shapes = true, 6, 0, blockShapes(pixels)
	case pixels < 8:
		l.Rings, l.Sectors, l.Wide = 10, 24, 7
	}
	if rings > 0 && !l.Blocks {
		l.Rings, l.Wide = rings, (l.Wide*rings+l.Rings-1)/l.Rings
	}
	if sectors > 0 && !l.Blocks {
		l.Sectors, l.Wide = sectors, 0
	}
	l.Edges = logEdges(l.Inner, l.Outer, l.Rings)
	return l
}

func logEdges(lo, hi float64, n int) []float64 {
	e := make([]float64, n+1)
	for i := range e {
		e[i] = lo * math.Pow(hi/lo, float64(i)/float64(n))
	}
	e[0], e[n] = lo, hi
	return e
}

// ring returns the ring of a range, or -1 outside the tests.
func (l *Layout) ring(rho float64) int {
	if !(rho >= l.Edges[0] && rho < l.Edges[l.Rings]) {
		return -1
	}
	lo, hi := 0, l.Rings-1
	for lo < hi {
		if mid := (lo + hi) / 2; rho < l.Edges[mid+1] {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return lo
}

// ringNear is ring for one that most often is the ring of the last pixel.
func (l *Layout) ringNear(rho float64, last int) int {
	if last >= 0 && rho >= l.Edges[last] && rho < l.Edges[last+1] {
		return last
	}
	return l.ring(rho)
}

func (l *Layout) sector(az float64) int { return sectorOf(az, l.Sectors) }

func sectorOf(az float64, sectors int) int {
	t := az / (2 * math.Pi)
	t -= math.Floor(t)
	return min(int(t*float64(sectors)), sectors-1)
}

// wide reports whether the cells of a ring span two sectors.
func (l *Layout) wide(ring int) bool { return l.Wide > 0 && ring >= l.Wide }

// across is the number of cells of a ring.
func (l *Layout) across(ring int) int {
	if l.wide(ring) {
		return (l.Sectors + 1) / 2
	}
	return l.Sectors
}

// arc is the width of the cells of a ring, radians.
func (l *Layout) arc(ring int) float64 {
	return 2 * math.Pi / float64(max(l.across(ring), 1))
}

// firstCells are the numbers of the first cells of the rings, and of all cells.
func (l *Layout) firstCells() []int {
	first := make([]int, l.Rings+1)
	for k := range l.Rings {
		first[k+1] = first[k] + l.across(k)
	}
	return first
}

// blockLevel is the side (as a power of two) of the squares that stand for
// the pixels of a ring when covariances are summed: about two across a cell.
func (l *Layout) blockLevel(ring int, pixels float64) int {
	width := (l.Edges[ring+1] - l.Edges[ring]) * pixels
	arc := l.arc(ring) * l.Edges[ring] * pixels
	return clampLevel(math.Min(width, arc) / 1.6)
}

func clampLevel(side float64) int {
	level := 0
	for level < maxBlockLevel && float64(int(2)<<level) <= side {
		level++
	}
	return level
}
