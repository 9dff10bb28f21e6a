package ejecta

import (
	"fmt"
	"math"
	"slices"
)

// The blanket of a neighbour has a column, its mean. A bright neighbour whose
// blanket went to one side, or to two, leaves more than that: where it is plain
// enough to matter, its first harmonics get columns too.

const (
	rayedOrders = 6    // of a neighbour's blanket: sides, axes, rays
	sidedChance = 0.01 // that a blanket alike all round is taken for one with sides
	brightScore = 5.0  // standard errors of its mean from which they count
)

// Disc is a crater's rim as another one sees it, in radii of that one.
type Disc struct{ East, North, Radius float64 }

// brightNeighbours are those whose blanket is plain on this crater's ground.
func (e *Evidence) brightNeighbours(set Settings, variance float64) (out []Disc) {
	own := e.neighbourColumns()
	for k, col := range own {
		if !(e.discs[k].Radius > 0) {
			continue
		}
		sw := directionSweep(e.Gram, append(lessColumns(e.nuisance(set), []int{col}), span(colCos, colCos+2*flatOrders)...))
		if g := sw.at(col, col) * variance; g > 0 && sw.at(col, colValue)/math.Sqrt(g) > brightScore {
			out = append(out, e.discs[k])
		}
	}
	return out
}

// besideNeighbours measures a direction again beside the harmonics of bright
// neighbours' blankets, and says what became of it; empty without such
// neighbours.
func (e *Evidence) besideNeighbours(m *Measurement, set Settings, in AlarmInputs) (detail string, lost bool) {
	if len(m.Classes) == 0 || e.ground == nil {
		return "", false
	}
	variance := e.Variance * in.NullScale
	bright := slices.DeleteFunc(e.brightNeighbours(set, variance), func(d Disc) bool { return !e.sided(d, set, variance) })
	if len(bright) == 0 {
		return "", false
	}
	p0 := m.Finding.AsymmetryP
	m.bright = bright
	e.standAgain(m, set, in)
	p1 := m.Finding.AsymmetryP
	return fmt.Sprintf("; p of the direction %s, and %s beside those of the blankets of %d bright neighbours, which have sides of their own", probability(p0), probability(p1), len(bright)),
		lostBeside(p0, p1, set.WithDefaults().Alpha)
}

// sided reports whether the blanket of a neighbour is plainly not the same all
// round, beside every harmonic of the crater's own.
func (e *Evidence) sided(d Disc, set Settings, variance float64) bool {
	g := e.ground.widened(e.Gram, e.ground.cells.paintRays([]Disc{d}))
	sw := directionSweep(g, append(e.nuisance(set), span(colCos, colCos+2*Orders)...))
	block, score := sw.sub(span(e.Gram.P, g.P))
	inv := inverse(block, len(score))
	return inv != nil && ChiSquareP(quadratic(inv, len(score), score)/variance, float64(len(score))) < sidedChance
}

// paintRays returns a row per cell and, for each neighbour, the first harmonics
// of its blanket outside its rim.
func (c *Cells) paintRays(list []Disc) []float64 {
	const each = 2 * rayedOrders
	out := make([]float64, c.N*each*len(list))
	for i := range c.N {
		row := out[i*each*len(list) : (i+1)*each*len(list)]
		for n := range seamPoints * seamPoints {
			east, north := c.inside(i, partMiddle(n%seamPoints), partMiddle(n/seamPoints))
			for j, d := range list {
				d.addHarmonics(east, north, row[j*each:(j+1)*each])
			}
		}
	}
	return out
}

// addHarmonics adds one point of a cell.
func (d Disc) addHarmonics(east, north float64, row []float64) {
	east, north = (east-d.East)/d.Radius, (north-d.North)/d.Radius
	rho := math.Hypot(east, north)
	if rho < 1 {
		return
	}
	sin, cos := north/rho, east/rho
	c, s := math.Pow(rho, -directionalDecay)/(seamPoints*seamPoints), 0.0
	for k := range rayedOrders {
		c, s = c*cos-s*sin, s*cos+c*sin
		row[2*k] += c
		row[2*k+1] += s
	}
}
