package geom

import (
	"fmt"
	"math"
	"sort"
)

// PolarGrid is the cells round one crater: rings of range times sectors of
// azimuth. Sector 0 begins at north; sectors run clockwise.
//
// Every interval is half-open: an inner edge belongs to its ring, an outer edge
// to the next one, and the outer edge of the last ring to no cell. So every
// place within reach is in exactly one cell. The zero value has no cells.
type PolarGrid struct {
	Edges   []float64 // range of the ring edges in crater radii, ascending, one more than rings
	Sectors int       // number of equal sectors, at least 1
}

// Rings returns the number of rings.
func (g PolarGrid) Rings() int { return max(len(g.Edges)-1, 0) }

// Cells returns the number of cells.
func (g PolarGrid) Cells() int { return g.Rings() * g.Sectors }

// Valid returns an error unless the edges ascend from a value >= 0 and there is
// at least one ring and one sector.
func (g PolarGrid) Valid() error {
	if g.Rings() < 1 || g.Sectors < 1 {
		return fmt.Errorf("polar grid of %d rings and %d sectors: at least one of each is needed", g.Rings(), g.Sectors)
	}
	if !(g.Edges[0] >= 0) || math.IsInf(g.Edges[g.Rings()], 0) {
		return fmt.Errorf("polar grid from %g to %g radii: edges must be finite and not negative", g.Edges[0], g.Edges[g.Rings()])
	}
	for i := 1; i < len(g.Edges); i++ {
		if !(g.Edges[i] > g.Edges[i-1]) {
			return fmt.Errorf("polar grid: ring edge %d (%g) is not above edge %d (%g)", i, g.Edges[i], i-1, g.Edges[i-1])
		}
	}
	return nil
}

// Cell returns the cell of a place at range rho (crater radii) and azimuth
// (radians, any number of turns): ring*Sectors + sector. ok is false outside the
// rings and for NaN.
func (g PolarGrid) Cell(rho, azimuth float64) (cell int, ok bool) {
	ring, ok := g.Ring(rho)
	if !ok {
		return 0, false
	}
	sector, ok := g.Sector(azimuth)
	if !ok {
		return 0, false
	}
	return ring*g.Sectors + sector, true
}

// Ring returns the ring that holds range rho.
func (g PolarGrid) Ring(rho float64) (ring int, ok bool) {
	n := g.Rings()
	if n < 1 || !(rho >= g.Edges[0]) || !(rho < g.Edges[n]) {
		return 0, false
	}
	return sort.Search(n, func(i int) bool { return rho < g.Edges[i+1] }), true
}

// Sector returns the sector that holds an azimuth in radians. The edges are
// exactly those of [PolarGrid.SectorEdge].
func (g PolarGrid) Sector(azimuth float64) (sector int, ok bool) {
	az := WrapAzimuth(azimuth)
	if g.Sectors < 1 || math.IsNaN(az) {
		return 0, false
	}
	s := min(int(az*(float64(g.Sectors)/twoPi)), g.Sectors-1)
	for s > 0 && az < g.SectorEdge(s) {
		s--
	}
	for s < g.Sectors-1 && az >= g.SectorEdge(s+1) {
		s++
	}
	return s, true
}

// SectorEdge returns the azimuth in radians at which sector s begins.
func (g PolarGrid) SectorEdge(s int) float64 { return twoPi * float64(s) / float64(g.Sectors) }

// SectorMid returns the azimuth in radians of the middle of sector s.
func (g PolarGrid) SectorMid(s int) float64 { return twoPi * (float64(s) + 0.5) / float64(g.Sectors) }

// RingMid returns the area-weighted mean range of ring k in crater radii,
//
//	2/3 (hi^3 - lo^3) / (hi^2 - lo^2)
//
// The curvature of the body is left out: it matters only for rings that reach
// over a good part of it.
func (g PolarGrid) RingMid(k int) float64 {
	lo, hi := g.Edges[k], g.Edges[k+1]
	return 2 * (lo*lo + lo*hi + hi*hi) / (3 * (lo + hi))
}

// RingArea returns the area of ring k in squared crater radii, on a plane.
func (g PolarGrid) RingArea(k int) float64 {
	lo, hi := g.Edges[k], g.Edges[k+1]
	return math.Pi * (hi - lo) * (hi + lo)
}

// EqualEdges returns n+1 edges from inner to outer, equally spaced, with both
// ends exact. It panics unless n >= 1 and inner < outer.
func EqualEdges(inner, outer float64, n int) []float64 {
	if n < 1 || !(inner < outer) {
		panic("geom: EqualEdges needs n >= 1 and inner < outer")
	}
	e := make([]float64, n+1)
	for i := range e {
		e[i] = inner + (outer-inner)*float64(i)/float64(n)
	}
	e[n] = outer
	return e
}
