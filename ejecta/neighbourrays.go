package ejecta

import (
	"fmt"
	"math"
	"slices"
)

// The blanket of a neighbour has a column, its mean. A bright neighbour whose
// blanket went to one side, or to two, leaves more than that: where it is plain
// enough to matter, its first harmonics get columns too, and everything that is
// asked of the crater is asked beside them.

const (
	rayedOrders = 6 // of a neighbour's blanket: sides, axes, rays
	rayColumns  = 2 * rayedOrders
	sidedChance = 0.01 // that a blanket alike all round is taken for one with sides
	brightScore = 5.0  // standard errors of its mean from which they count
)

// Disc is a crater's rim as another one sees it, in radii of that one.
type Disc struct{ East, North, Radius float64 }

// sidedNeighbours are the neighbours whose blankets have harmonics of their own
// in the evidence.
type sidedNeighbours struct {
	count  int
	before float64 // p of the direction without them; NaN when none was tested
}

// sideColumns are the columns of those harmonics, the last of all.
func (e *Evidence) sideColumns() []int {
	return span(e.Gram.P-rayColumns*e.sides.count, e.Gram.P)
}

// allowSides gives bright neighbours whose blankets are plainly not alike all
// round their columns, once. It needs the ground to be kept.
func (e *Evidence) allowSides(set Settings, scale float64, seed uint64) {
	if e.ground == nil || e.sides.count > 0 || len(e.discs) == 0 {
		return
	}
	variance := e.Variance * scale
	var found [][]float64
	for _, d := range e.brightNeighbours(set, variance) {
		if rays := e.ground.paintRays(d); e.sided(rays, set, variance) {
			found = append(found, rays)
		}
	}
	if len(found) == 0 {
		return
	}
	before := e.directionBefore(set, scale, seed)
	for _, rays := range found {
		e.extend(rays)
	}
	e.sides = sidedNeighbours{len(found), before}
}

// directionBefore is the p of the direction as the evidence stands.
func (e *Evidence) directionBefore(set Settings, scale float64, seed uint64) float64 {
	if e.Status != StatusOK {
		return math.NaN()
	}
	nuisance := e.nuisance(set)
	bl := e.blanketBeside(nuisance, scale)
	d := directional(e.Gram, nuisance, e.centrePrior(bl), e.Variance*scale)
	return d.test(bl, e.Coverage >= fullCoverage, seed).P
}

// brightNeighbours are those whose blanket is plain on this crater's ground.
func (e *Evidence) brightNeighbours(set Settings, variance float64) (out []Disc) {
	own := e.neighbourColumns()
	sw := directionSweep(e.Gram, append(lessColumns(e.nuisance(set), own), span(colCos, colCos+2*flatOrders)...))
	known := slices.DeleteFunc(slices.Clone(own), func(c int) bool { return !(sw.at(c, c) > sweepTolerance*e.Gram.at(c, c)) })
	mean, cov := sw.solve(known)
	for k := range mean {
		d := e.discs[known[k]-own[0]]
		if d.Radius > 0 && mean[k] > brightScore*math.Sqrt(cov[k*len(known)+k]*variance) {
			out = append(out, d)
		}
	}
	return out
}

// sided reports whether the blanket of a neighbour, by the harmonics of it, is
// plainly not the same all round, beside every harmonic of the crater's own.
func (e *Evidence) sided(rays []float64, set Settings, variance float64) bool {
	g := e.ground.widened(e.Gram, append([]float64(nil), rays...))
	sw := directionSweep(g, append(e.nuisance(set), span(colCos, colCos+2*Orders)...))
	block, score := sw.sub(span(e.Gram.P, g.P))
	inv := inverse(block, len(score))
	return inv != nil && ChiSquareP(quadratic(inv, len(score), score)/variance, float64(len(score))) < sidedChance
}

// extend gives the evidence further nuisance columns, a row for each cell; they
// are whitened in place.
func (e *Evidence) extend(columns []float64) {
	old := e.ground
	e.Gram = old.widened(e.Gram, columns)
	wide := *old.x
	wide.p, wide.data = e.Gram.P, sideBySide(wide.n, old.x.data, columns)
	next := *old
	next.x, next.known = &wide, nil
	e.ground = &next
}

// sidesWords says what became of the direction beside the sides of neighbours;
// empty without such neighbours. lost is a direction that is gone.
func (e *Evidence) sidesWords(m *Measurement, set Settings) (detail string, lost bool) {
	if e.sides.count == 0 {
		return "", false
	}
	p0, p1 := e.sides.before, m.Finding.AsymmetryP
	return fmt.Sprintf("; p of the direction %s, and %s beside the sides of the blankets of %d bright neighbours, which are not alike all round", probability(p0), probability(p1), e.sides.count),
		lostBeside(p0, p1, set.WithDefaults().Alpha)
}

// paintRays returns a row per cell with the first harmonics of a neighbour's
// blanket, averaged over the pixels of the cell as the values are.
func (g *ground) paintRays(d Disc) []float64 {
	out := make([]float64, g.cells.N*rayColumns)
	for i, m := range g.cells.member {
		if m >= 0 {
			row := out[int(m)*rayColumns : (int(m)+1)*rayColumns]
			d.paintPixel(g.samples, i, g.samples.Area[i]/g.cells.Weight[m], row)
		}
	}
	return out
}

// Of a neighbour's blanket pixels are divided where it bends within one.
const (
	rayNear  = 3.0 // radii of the neighbour
	rayParts = 3   // along and across
)

// paintPixel adds one pixel of some weight.
func (d Disc) paintPixel(s *Samples, i int, weight float64, row []float64) {
	east, north := s.Rho[i]*s.Sin[i]-d.East, s.Rho[i]*s.Cos[i]-d.North
	if math.Hypot(east, north) > rayNear*d.Radius {
		d.addHarmonics(east, north, weight, row)
		return
	}
	for k := range rayParts * rayParts {
		rho, sin, cos := s.subRho(i, ((float64(k%rayParts)+0.5)/rayParts)-0.5, ((float64(k/rayParts)+0.5)/rayParts)-0.5)
		d.addHarmonics(rho*sin-d.East, rho*cos-d.North, weight/(rayParts*rayParts), row)
	}
}

// addHarmonics adds one point, given from the neighbour's centre.
func (d Disc) addHarmonics(east, north, weight float64, row []float64) {
	rho := math.Hypot(east, north)
	if rho == 0 {
		return
	}
	sin, cos := north/rho, east/rho
	c, s := weight*math.Pow(math.Max(rho/d.Radius, 1), -directionalDecay), 0.0
	for k := range rayedOrders {
		c, s = c*cos-s*sin, s*cos+c*sin
		row[2*k] += c
		row[2*k+1] += s
	}
}
