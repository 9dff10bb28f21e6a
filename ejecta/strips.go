package ejecta

import (
	"fmt"
	"math"
	"sort"
)

// Strips of a mosaic may stand at levels of their own. A crater whose near
// ground is crossed by a seam gets a column for each strip but the widest, so
// that steps are fitted beside everything else.

// Limits of the strip columns.
const (
	maxStrips  = 6    // with a level of their own, the widest included
	stripReach = 4.0  // radii within which a seam counts
	leastStrip = 0.03 // share of the near ground that makes a strip count
	stepLimit  = 3.5  // standard errors of the largest of several steps
	seamAlarm  = "seam_step"
	growthOfP  = 10.0 // factor by which p must rise to be called another
)

// StripFields turns the strip number of every pixel, NaN where unknown, into
// the columns of the strips that cross the near ground, widest first; the
// widest itself has none. Without a seam there are no columns.
func StripFields(s *Samples, number []float64) []Field {
	area := map[float64]float64{}
	total := 0.0
	for i, v := range number {
		if s.Rho[i] < stripReach && !math.IsNaN(v) {
			area[v] += s.Area[i]
			total += s.Area[i]
		}
	}
	var list []float64
	for v, a := range area {
		if a > leastStrip*total {
			list = append(list, v)
		}
	}
	sort.Slice(list, func(i, j int) bool {
		a, b := area[list[i]], area[list[j]]
		return a > b || a == b && list[i] < list[j]
	})
	var out []Field
	for k, v := range list[:min(len(list), maxStrips)] {
		if k > 0 {
			out = append(out, Field{Name: fmt.Sprintf("strip %g beside %g", v, list[0]), Values: indicator(number, v)})
		}
	}
	return out
}

// indicator is 1 on the pixels of a strip, 0 elsewhere.
func indicator(number []float64, strip float64) []float64 {
	out := make([]float64, len(number))
	for i, v := range number {
		if v == strip {
			out[i] = 1
		}
	}
	return out
}

// StripTrack is the azimuth along which strips run, degrees as an axis: square
// to the direction in which their shares change. NaN without strips.
func StripTrack(s *Samples, strips []Field) float64 {
	var ee, en, nn float64
	for _, f := range strips {
		e, n := gradient(s, f.Values)
		ee, en, nn = ee+e*e, en+e*n, nn+n*n
	}
	if !(ee+nn > 0) {
		return math.NaN()
	}
	across := 0.5 * math.Atan2(2*en, nn-ee) // azimuth of the largest change
	return wrapTurn(across*180/math.Pi+90, 180)
}

// gradient is the mean product of a field with east and north, each of mean
// zero over the near disc.
func gradient(s *Samples, v []float64) (east, north float64) {
	for i, x := range v {
		if s.Rho[i] < stripReach {
			sin, cos := math.Sincos(s.Az[i])
			east += s.Area[i] * x * s.Rho[i] * sin
			north += s.Area[i] * x * s.Rho[i] * cos
		}
	}
	return east, north
}

// stripColumns are the columns of the strips in the Gram matrix.
func (e *Evidence) stripColumns() []int {
	first := colRings + e.Gram.Rings + len(e.Neighbours) + len(e.Covariates)
	return span(first, first+len(e.Strips))
}

// step is the largest difference of level between two strips.
type step struct {
	height, se float64
	words      string
}

// largestStep fits the levels of the strips beside rings, plane and low
// harmonics of a blanket and takes the difference that is farthest from
// nothing.
func (e *Evidence) largestStep(set Settings, variance float64) (best step, ok bool) {
	set.NoStrips = true
	lobes := append(span(colCos, colCos+flatOrders), span(colSin, colSin+flatOrders)...)
	level, cov := directionSweep(e.Gram, append(e.nuisance(set), lobes...)).solve(e.stripColumns())
	if cov == nil {
		return best, false
	}
	n := len(level)
	for i := range n {
		best.consider(level[i], math.Sqrt(cov[i*n+i]*variance), e.Strips[i])
		for j := range i {
			v := cov[i*n+i] + cov[j*n+j] - 2*cov[i*n+j]
			best.consider(level[i]-level[j], math.Sqrt(v*variance), e.Strips[i]+" less "+e.Strips[j])
		}
	}
	return best, best.se > 0
}

func (s *step) consider(height, se float64, words string) {
	if se > 0 && (s.se == 0 || math.Abs(height/se) > math.Abs(s.height/s.se)) {
		*s = step{height, se, words}
	}
}

// solve is the joint estimate of some columns' coefficients and its covariance
// in units of the pixel variance; nil when they cannot be told apart.
func (g *Gram) solve(cols []int) (value, cov []float64) {
	block, score := g.sub(cols)
	if cov = inverse(block, len(cols)); cov == nil {
		return nil, nil
	}
	return multiply(cov, len(cols), score), cov
}

// seamAlarmOf asks whether strips stand at levels of their own, and what became
// of the direction when they were allowed to.
func (e *Evidence) seamAlarmOf(m *Measurement, set Settings, in AlarmInputs) Alarm {
	switch {
	case !in.StripLayer:
		return e.seamAlarmWithout(m, set, in)
	case len(e.Strips) == 0:
		return Alarm{Name: seamAlarm, Limit: math.NaN(), Unit: "unit of the species", Detail: "no seam crosses the near ground"}
	}
	s, ok := e.largestStep(set, e.Variance*in.NullScale)
	if !ok {
		return notRun(seamAlarm, "the strips cannot be told from the rings")
	}
	a := over(seamAlarm, math.Abs(s.height), stepLimit*s.se, "unit of the species", "%s: a step of %.3g, standard error %.2g", s.words, s.height, s.se)
	if m.Direction == nil {
		return a
	}
	bare := set
	bare.NoStrips = true
	p0, p1 := e.retest(e.Gram, e.nuisance(bare), m, in), m.Finding.AsymmetryP
	a.Raised = a.Raised || lostBeside(p0, p1, set.WithDefaults().Alpha)
	a.Detail += fmt.Sprintf("; p of the direction without levels for the strips %s, with them %s", probability(p0), probability(p1))
	return a
}

// lostBeside reports whether a direction that passes without some columns fails
// with them, and clearly so.
func lostBeside(without, with, alpha float64) bool {
	return without < alpha && with >= alpha && with >= growthOfP*without
}

// retest is the p of the direction beside other nuisance columns.
func (e *Evidence) retest(g *Gram, nuisance []int, m *Measurement, in AlarmInputs) float64 {
	d := directional(g, nuisance, e.centrePrior(m.Blanket), e.Variance*in.NullScale)
	return d.test(m.Blanket, e.Coverage >= fullCoverage, in.Seed).P
}

// stripSet is the strips round a crater, from a layer or found in the map, by the
// share of each cell that lies in them; the rest is a strip too, number -1.
type stripSet struct {
	shares [][]float64
	names  []string
	rest   string
}

// stripsBeside are the strips that a direction stands beside.
func (e *Evidence) stripsBeside(m *Measurement) stripSet {
	if len(e.Strips) > 0 {
		return stripSet{e.ground.strips, e.Strips, "the widest strip"}
	}
	s := stripSet{rest: "the ground outside the strips that were found"}
	for i := range m.seams {
		s.shares = append(s.shares, e.ground.cells.paintSeams([]seamLine{m.seams[i].seamLine}))
		s.names = append(s.names, m.seams[i].words())
	}
	return s
}

// oneStripAlarmOf leaves out one strip after the other: a direction that rests
// on one alone may be that strip's own trouble. The value is the largest p.
func (e *Evidence) oneStripAlarmOf(m *Measurement, set Settings, in AlarmInputs) Alarm {
	const name = "one_strip"
	switch {
	case !in.StripLayer && len(m.seams) == 0:
		return notRun(name, noLayer+": strip")
	case len(m.Classes) == 0:
		return notRun(name, noDirectionOf)
	case e.ground == nil || len(e.Strips)+len(m.seams) == 0:
		return notRun(name, "no seam crosses the near ground")
	}
	strips := e.stripsBeside(m)
	worst, strip := 0.0, ""
	for k := -1; k < len(strips.names); k++ {
		if e.nearShare(&strips, k) > 0.5 {
			continue // the rest cannot tell
		}
		if p := e.withoutStrip(&strips, k, m, set, in); p > worst {
			worst, strip = p, strips.name(k)
		}
	}
	if strip == "" {
		return notRun(name, "one strip holds most of the near ground")
	}
	a := over(name, worst, set.WithDefaults().Alpha, "p", "%s left out: p of the direction %s", strip, probability(worst))
	a.Raised = a.Raised && worst >= growthOfP*m.Finding.AsymmetryP
	return a
}

// withoutStrip is the p of the direction with one strip left out.
func (e *Evidence) withoutStrip(strips *stripSet, k int, m *Measurement, set Settings, in AlarmInputs) float64 {
	g := e.ground.widened(e.Gram, sideBySide(e.ground.cells.N, e.under(m), e.cellsOf(strips, k)))
	return e.retest(g, append(e.nuisance(set), span(e.Gram.P, g.P)...), m, in)
}

// name is what strip k is called.
func (s *stripSet) name(k int) string {
	if k < 0 {
		return s.rest
	}
	return s.names[k]
}

// share is the share of cell i in strip k.
func (s *stripSet) share(k, i int) float64 {
	if k >= 0 {
		return s.shares[k][i]
	}
	rest := 1.0
	for _, in := range s.shares {
		rest -= in[i]
	}
	return rest
}

// nearShare is the share of the ejecta range's cells that lie in a strip.
func (e *Evidence) nearShare(strips *stripSet, k int) float64 {
	c := e.ground.cells
	in, all := 0, 0
	for i := range c.N {
		if c.Rho[i] < excessOuter {
			all++
			in += counted(strips.share(k, i) > 0.5)
		}
	}
	return share(in, all)
}

// cellsOf has a column for every cell that lies mostly in a strip: with them the
// strip says nothing any more.
func (e *Evidence) cellsOf(strips *stripSet, k int) []float64 {
	c := e.ground.cells
	var inside []int
	for i := range c.N {
		if strips.share(k, i) > 0.5 {
			inside = append(inside, i)
		}
	}
	return oneEach(c.N, inside)
}
