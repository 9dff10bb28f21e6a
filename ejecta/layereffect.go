package ejecta

import (
	"math"
	"slices"
)

// aroundStep is the distance in degrees between the azimuths of a [LayerView];
// aroundOrder is the highest harmonic in it.
const (
	aroundStep  = 15
	aroundOrder = 4
)

// LayerView is how the excess of a crater looks with its covariates fitted
// beside it, or without.
type LayerView struct {
	RimExcess, RimExcessSE float64
	Score                  float64   // of a blanket with b of 3, in standard errors: the error of the rim excess is also that of b
	DirectionP             float64   // of the harmonics to order 4; NaN when none was tested
	Ring, RingSE           []float64 // excess of each ring of the tests, NaN where it has none
	Around, AroundSE       []float64 // what the rim excess has more or less than its mean at 0, 15, 30 ... degrees clockwise from north; nil without a test
}

// LayerEffect is what the covariates of a crater do to it. It is empty where
// there is no covariate, and has no curves where there is nothing to see with or
// without.
type LayerEffect struct {
	Layers         []string  // covariates
	Slope, SlopeSE []float64 // of each: what a unit of it changes the species by; nil when they cannot be told apart
	Edges          []float64 // of the rings, crater radii
	Without, With  LayerView
}

// Kept is the effect as a finding holds it: nil without covariates.
func (l LayerEffect) Kept() *LayerEffect {
	if l.Layers == nil {
		return nil
	}
	return &l
}

// TakenShare is the share of the rim excess that all covariates take together;
// NaN when there was hardly any.
func (l *LayerEffect) TakenShare() float64 {
	if !(l.Without.Score > 2) {
		return math.NaN()
	}
	return 1 - l.With.RimExcess/l.Without.RimExcess
}

// LayerEffect reads a measured crater once more without its covariates, under the
// scales that hold without them.
func (e *Evidence) LayerEffect(m *Measurement, set Settings, in AlarmInputs) LayerEffect {
	set = set.WithDefaults()
	if e.Gram == nil || len(e.Covariates) == 0 || set.NoCovariates {
		return LayerEffect{}
	}
	cols := e.covariateColumns()
	rest := lessColumns(e.nuisance(set), cols)
	variance, scale := e.Variance*in.NullScale, in.without(allLayers)
	bare := e.blanketBeside(rest, scale.Excess)
	var d *Directional
	if m.Direction != nil {
		d = directional(e.Gram, rest, e.centrePrior(bare), e.Variance*scale.Direction)
	}
	out := LayerEffect{
		Layers: slices.Clone(e.Covariates), Edges: slices.Clone(e.Layout.Edges),
		Without: e.layerView(e.Gram.dropped(cols), bare, d, e.Variance*scale.Excess),
		With:    e.layerView(e.Gram, m.Blanket, m.Direction, variance),
	}
	out.Slope, out.SlopeSE = e.slopesHere(set, variance)
	if bare.P < set.Alpha || m.Blanket.P < set.Alpha || out.Without.DirectionP < set.Alpha || out.With.DirectionP < set.Alpha {
		return out
	}
	return out.withoutCurves()
}

// withoutCurves keeps the numbers only.
func (l LayerEffect) withoutCurves() LayerEffect {
	l.Edges = nil
	for _, v := range []*LayerView{&l.Without, &l.With} {
		v.Ring, v.RingSE, v.Around, v.AroundSE = nil, nil, nil, nil
	}
	return l
}

// slopesHere are the slopes of the covariates at a crater, with free ring means
// and low harmonics of a blanket beside them; what the map knows of a slope is one
// observation more.
func (e *Evidence) slopesHere(set Settings, variance float64) (value, se []float64) {
	cols := e.covariateColumns()
	n := len(cols)
	lobes := append(span(colCos, colCos+flatOrders), span(colSin, colSin+flatOrders)...)
	block, score := directionSweep(e.Gram, append(lessColumns(e.nuisance(set), cols), lobes...)).sub(cols)
	for i, c := range cols {
		p := e.Gram.pullOf(c)
		block[i*n+i] += p.ridge
		score[i] += p.ridge * p.mean
	}
	cov := inverse(block, n)
	if cov == nil {
		return nil, nil
	}
	for i := range n {
		se = append(se, math.Sqrt(cov[i*n+i]*variance))
	}
	return multiply(cov, n, score), se
}

func (e *Evidence) layerView(g *Gram, bl Blanket, d *Directional, variance float64) LayerView {
	v := LayerView{RimExcess: bl.Amplitude, RimExcessSE: bl.SE, Score: bl.Z, DirectionP: math.NaN()}
	if r, ok := fitRadial(g, &e.Layout, bl, variance); ok {
		v.Ring, v.RingSE = r.Ring, r.RingSE
	}
	if d != nil {
		_, v.DirectionP = d.omnibus(aroundOrder)
		v.Around, v.AroundSE = d.around()
	}
	return v
}

// around is the fitted sum of the first harmonics at azimuths round the crater,
// with its standard errors.
func (d *Directional) around() (value, se []float64) {
	h, cov := d.estimate(append(span(0, aroundOrder), span(Orders, Orders+aroundOrder)...))
	if cov == nil {
		return nil, nil
	}
	for az := 0.0; az < 360; az += aroundStep {
		w := make([]float64, 2*aroundOrder)
		for k := range aroundOrder {
			w[aroundOrder+k], w[k] = math.Sincos(float64(k+1) * az * math.Pi / 180)
		}
		value = append(value, dot(w, h.value))
		se = append(se, math.Sqrt(quadratic(cov, len(w), w)))
	}
	return value, se
}

// dropped is the Gram matrix as it would be had some columns after the rings
// never been in the design.
func (g *Gram) dropped(cols []int) *Gram {
	var kept []int
	place := make([]int, g.P)
	for i := range g.P {
		place[i] = len(kept)
		if !slices.Contains(cols, i) {
			kept = append(kept, i)
		}
	}
	n := len(kept)
	out := &Gram{P: n, Rings: g.Rings, Cells: g.Cells, M: make([]float64, n*n)}
	for a, i := range kept {
		for b, j := range kept {
			out.M[a*n+b] = g.at(i, j)
		}
	}
	for _, p := range g.pulls {
		if !slices.Contains(cols, p.col) {
			p.col = place[p.col]
			out.pulls = append(out.pulls, p)
		}
	}
	return out
}
