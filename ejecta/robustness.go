package ejecta

import (
	"fmt"
	"math"
)

// Robustness is how a claim stands under other choices that could as well have
// been made: other rings, a centre elsewhere within its error, another fall-off,
// another estimator, layers in or out. Rings are left out exactly, see [leftOut]; nothing is read
// again.
type Robustness struct {
	Tried      int
	Overturned []string // choices under which the verdict is another
}

// Share is the part of the choices under which the verdict stays; NaN when none
// was tried.
func (r Robustness) Share() float64 {
	if r.Tried == 0 {
		return math.NaN()
	}
	return 1 - float64(len(r.Overturned))/float64(r.Tried)
}

// choice is another way to measure the same crater.
type choice struct {
	name     string
	gram     *Gram
	nuisance []int
	node     int  // of the exponent at which the excess is tested
	plain    bool // means and harmonics in place of blanket and patterns
}

// outcome is what a verdict rests on.
type outcome struct {
	excess bool
	lead   *classFit // nil without a direction
}

// same reports whether two outcomes give one verdict.
func (o outcome) same(p outcome) bool {
	if o.excess != p.excess || (o.lead == nil) != (p.lead == nil) {
		return false
	}
	return o.lead == nil || sameDirection(*o.lead, *p.lead)
}

// nodeOfThree is the painted exponent of the customary test.
const nodeOfThree = 5

// Robustness tries the choices on a crater with something to claim; it needs the
// ground to be kept. A crater without a claim has none.
func (e *Evidence) Robustness(m *Measurement, set Settings, in AlarmInputs) (r Robustness) {
	set = set.WithDefaults()
	claim := outcome{excess: m.Blanket.P < set.Alpha}
	if m.Finding.Pattern.Directional() {
		claim.lead = &m.Classes[0]
	}
	if e.ground == nil || !claim.excess && claim.lead == nil {
		return r
	}
	rays := m.rays
	for _, c := range e.choices(m, set) {
		r.Tried++
		if !claim.same(e.outcomeOf(c, m, set, in, &rays)) {
			r.Overturned = append(r.Overturned, c.name)
		}
	}
	return r
}

// outcomeOf measures a crater another way.
func (e *Evidence) outcomeOf(c choice, m *Measurement, set Settings, in AlarmInputs, rays *rayNull) outcome {
	variance := e.Variance * in.NullScale
	sw := c.gram.Without([]int{colConst}, span(colPlane, colPlane+2), c.nuisance)
	bl := fitBlanket(sw, variance)
	if c.plain {
		return e.plainOutcome(c, bl, m, set, variance)
	}
	score, info := sw.at(colDecay+c.node, colValue), sw.at(colDecay+c.node, colDecay+c.node)
	o := outcome{excess: info > 0 && upperTail(score/math.Sqrt(info*variance)) < set.Alpha}
	if m.Direction == nil {
		return o
	}
	d := directional(c.gram, c.nuisance, e.centrePrior(bl), variance)
	test := d.testLike(bl, e.Coverage >= fullCoverage, in.Seed, *rays)
	*rays = test.rays
	if test.P < set.Alpha {
		lead := d.lead()
		o.lead = &lead
	}
	return o
}

// plainOrders is the highest harmonic of the plain test of a direction.
const plainOrders = 6

// plainOutcome takes the area mean for the excess and the chi-square of the first
// harmonics for the direction: no blanket, no search over patterns.
func (e *Evidence) plainOutcome(c choice, bl Blanket, m *Measurement, set Settings, variance float64) (o outcome) {
	if r, ok := fitRadial(c.gram, &e.Layout, bl, variance); ok {
		o.excess = upperTail(r.Excess/r.ExcessSE) < set.Alpha
	}
	if m.Direction == nil {
		return o
	}
	d := directional(c.gram, c.nuisance, e.centrePrior(bl), variance)
	if _, p := d.omnibus(plainOrders); p < set.Alpha {
		lead := d.lead()
		o.lead = &lead
	}
	return o
}

// choices lists the ways that can be tried here.
func (e *Evidence) choices(m *Measurement, set Settings) (out []choice) {
	under := e.under(m)
	base := e.ground.widened(e.Gram, under)
	own := append(e.nuisance(set), span(e.Gram.P, base.P)...)
	rest := e.ground.leaveOut(base, under)
	for _, w := range e.ringChoices() {
		out = append(out, choice{w.name, rest.without(e.cellsIn(w.out)), own, nodeOfThree, false})
	}
	for _, az := range []float64{0, 90, 180, 270} {
		name := fmt.Sprintf("the centre moved by its error towards %.0f degrees", az)
		out = append(out, choice{name, base.moved(e.centrePrior(m.Blanket), az), own, nodeOfThree, false})
	}
	for _, b := range []float64{2, 4} {
		out = append(out, choice{fmt.Sprintf("a decay exponent of %g", b), base, own, nearestNode(b), false})
	}
	out = append(out, choice{"area mean and first harmonics in place of blanket and patterns", base, own, nodeOfThree, true})
	return append(out, e.layerChoices(base, own)...)
}

// ringsOut is a choice of rings to leave out.
type ringsOut struct {
	name string
	out  func(ring int) bool
}

// shortOuter is the nearer end of the rings that is tried.
const shortOuter = 5.5

func (e *Evidence) ringChoices() []ringsOut {
	middle := func(k int) float64 { return math.Sqrt(e.Layout.Edges[k] * e.Layout.Edges[k+1]) }
	out := []ringsOut{{"the first ring left out", func(k int) bool { return k == 0 }}}
	if e.Layout.Rings >= 8 {
		out = append(out, ringsOut{"the first two rings left out", func(k int) bool { return k < 2 }})
	}
	if e.Layout.Outer > shortOuter {
		out = append(out, ringsOut{fmt.Sprintf("rings that end at %g radii", shortOuter), func(k int) bool { return middle(k) > shortOuter }})
	}
	for from := range 4 {
		out = append(out, ringsOut{fmt.Sprintf("every fourth ring left out, from %d", from+1), func(k int) bool { return k%4 == from }})
	}
	return out
}

// cellsIn lists the cells of the rings to leave out.
func (e *Evidence) cellsIn(out func(ring int) bool) (gone []int) {
	for i, k := range e.ground.cells.Ring {
		if out(k) {
			gone = append(gone, i)
		}
	}
	return gone
}

// oneEach has a column for each of the given cells, which takes it out of every
// sum of squares.
func oneEach(n int, cells []int) []float64 {
	out := make([]float64, n*len(cells))
	for j, i := range cells {
		out[i*len(cells)+j] = 1
	}
	return out
}

// sideBySide joins the columns of two matrices of n rows.
func sideBySide(n int, a, b []float64) []float64 {
	p, q := len(a)/n, len(b)/n
	out := make([]float64, 0, len(a)+len(b))
	for i := range n {
		out = append(append(out, a[i*p:(i+1)*p]...), b[i*q:(i+1)*q]...)
	}
	return out
}

// moved is the matrix as it would be with the centre moved towards an azimuth,
// to first order: by is the displacement times the slope of the blanket.
func (g *Gram) moved(by, azimuth float64) *Gram {
	sin, cos := math.Sincos(azimuth * math.Pi / 180)
	return g.plusValue(func(j int) float64 { return by * (cos*g.at(colCentre, j) + sin*g.at(colCentre+1, j)) })
}

// layerChoices leave out what is fitted beside the blanket.
func (e *Evidence) layerChoices(base *Gram, own []int) (out []choice) {
	for _, l := range []struct {
		name string
		cols []int
	}{
		{"the covariates left out", e.covariateColumns()},
		{"the levels of the strips left out", e.stripColumns()},
		{"the neighbours' blankets left out", e.neighbourColumns()},
	} {
		if len(l.cols) > 0 {
			out = append(out, choice{l.name, base, lessColumns(own, l.cols), nodeOfThree, false})
		}
	}
	return out
}
