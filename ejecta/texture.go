package ejecta

import (
	"fmt"
	"math"
)

// The noise model knows the mean level of the noise near a crater. Patchy ground
// has more of a direction everywhere than that noise explains. How much is
// measured round the crater itself: at ghosts, places in its far field that are
// read as if they were craters.

const (
	ghosts       = 12
	ghostRange   = 0.6 // of the outer range: where they stand
	ghostOrders  = 3   // of their harmonics; cells are too coarse for more
	ghostReach   = 4.0 // radii of a ghost
	ghostPoints  = 3   // of a cell along and across
	ghostColumns = 2 * ghostOrders
	leastOuter   = 5.0 // radii: nearer outer ends leave no room for ghosts
	textureAlarm = "uneven_ground"

	// textureLimit is what even ground exceeds about once in twenty.
	textureLimit = 1.35
)

// paintGhosts returns a row per cell with the columns of every ghost.
func (c *Cells) paintGhosts(outer float64) []float64 {
	out := make([]float64, c.N*ghosts*ghostColumns)
	for i := range c.N {
		row := out[i*ghosts*ghostColumns : (i+1)*ghosts*ghostColumns]
		for n := range ghostPoints * ghostPoints {
			along, deep := (float64(n%ghostPoints)+0.5)/ghostPoints-0.5, (float64(n/ghostPoints)+0.5)/ghostPoints-0.5
			east, north := c.inside(i, along, deep)
			for j := range ghosts {
				sin, cos := math.Sincos(2 * math.Pi * float64(j) / ghosts)
				paintGhost(east-ghostRange*outer*sin, north-ghostRange*outer*cos, row[j*ghostColumns:])
			}
		}
	}
	return out
}

// paintGhost adds the harmonics rho^-3 cos k az, rho^-3 sin k az round a ghost.
func paintGhost(east, north float64, row []float64) {
	rho := math.Hypot(east, north)
	if rho < 1 || rho > ghostReach {
		return
	}
	sin, cos := east/rho, north/rho
	c := math.Pow(rho, -directionalDecay) / (ghostPoints * ghostPoints)
	q := 0.0
	for k := range ghostOrders {
		c, q = c*cos-q*sin, q*cos+c*sin
		row[2*k] += c
		row[2*k+1] += q
	}
}

// texture is the mean chi-square of the ghosts' harmonics over their number,
// beside the crater's own harmonics and what was found of the ground: one on
// ground without more than the noise. NaN where there is no room.
func (e *Evidence) texture(m *Measurement, set Settings, variance float64) float64 {
	if e.Layout.Outer < leastOuter {
		return math.NaN()
	}
	c := e.ground.cells
	under := e.under(m)
	first := e.Gram.P + len(under)/c.N
	g := e.ground.widened(e.Gram, sideBySide(c.N, under, c.paintGhosts(e.Layout.Outer)))
	sw := directionSweep(g, append(e.nuisance(set), append(span(e.Gram.P, first), span(colCos, colCos+2*Orders)...)...))
	sum, n := 0.0, 0.0
	for j := range ghosts {
		from := first + j*ghostColumns
		block, value := sw.sub(span(from, from+ghostColumns))
		if inv := inverse(block, ghostColumns); inv != nil {
			sum += quadratic(inv, ghostColumns, value) / variance
			n += ghostColumns
		}
	}
	return sum / n
}

// textureAlarmOf distrusts a direction that is not plain at the unevenness of
// the ground round it. The value is the p that allows for it.
func (e *Evidence) textureAlarmOf(m *Measurement, set Settings, in AlarmInputs) Alarm {
	switch {
	case len(m.Classes) == 0:
		return notRun(textureAlarm, noDirectionOf)
	case e.ground == nil:
		return notRun(textureAlarm, "the ground round the crater was not kept")
	}
	ratio := e.texture(m, set, e.Variance*in.NullScale)
	if math.IsNaN(ratio) {
		return notRun(textureAlarm, fmt.Sprintf("the rings end at %.1f radii; %g are needed", e.Layout.Outer, leastOuter))
	}
	m.groundP = m.Finding.AsymmetryP
	if ratio > textureLimit {
		m.groundP = e.unevenP(m, set, in, ratio)
	}
	a := over(textureAlarm, m.groundP, set.WithDefaults().Alpha, "p on this ground",
		"places in the far field have %.2f times the direction that the noise explains; with that as noise p %s", ratio, probability(m.groundP))
	a.Raised = a.Raised && m.groundP > m.Finding.AsymmetryP
	return a
}

// unevenP is the p of the direction with a variance so many times as large.
func (e *Evidence) unevenP(m *Measurement, set Settings, in AlarmInputs, times float64) float64 {
	in.NullScale *= times
	bl := m.Blanket
	bl.Sigma, bl.Z = bl.Sigma*math.Sqrt(times), bl.Z/math.Sqrt(times)
	g := e.ground.widened(e.Gram, e.under(m))
	d := directional(g, append(e.nuisance(set), span(e.Gram.P, g.P)...), e.centrePrior(bl), e.Variance*in.NullScale)
	return d.test(bl, e.Coverage >= fullCoverage, in.Seed).P
}
