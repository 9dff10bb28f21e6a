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
	DirectionP             float64   // of the harmonics to order 4; NaN when none was tested
	Ring, RingSE           []float64 // excess of each ring of the tests, NaN where it has none
	Around, AroundSE       []float64 // what the rim excess has more or less than its mean at 0, 15, 30 ... degrees clockwise from north; nil without a test
}

// LayerEffect is what the covariates of a crater do to it. It is empty where
// there is no covariate, or nothing to see with or without.
type LayerEffect struct {
	Layers        []string  // covariates
	Edges         []float64 // of the rings, crater radii
	Without, With LayerView
}

// LayerEffect reads a measured crater once more without its covariates.
func (e *Evidence) LayerEffect(m *Measurement, set Settings, scale float64) LayerEffect {
	set = set.WithDefaults()
	if e.Gram == nil || len(e.Covariates) == 0 || set.NoCovariates {
		return LayerEffect{}
	}
	cols := e.covariateColumns()
	rest := lessColumns(e.nuisance(set), cols)
	variance := e.Variance * scale
	bare := e.blanketBeside(rest, scale)
	var d *Directional
	if m.Direction != nil {
		d = directional(e.Gram, rest, e.centrePrior(bare), variance)
	}
	out := LayerEffect{
		Layers: slices.Clone(e.Covariates), Edges: slices.Clone(e.Layout.Edges),
		Without: e.layerView(e.Gram.dropped(cols), bare, d, variance),
		With:    e.layerView(e.Gram, m.Blanket, m.Direction, variance),
	}
	if bare.P < set.Alpha || m.Blanket.P < set.Alpha || out.Without.DirectionP < set.Alpha || out.With.DirectionP < set.Alpha {
		return out
	}
	return LayerEffect{}
}

func (e *Evidence) layerView(g *Gram, bl Blanket, d *Directional, variance float64) LayerView {
	v := LayerView{RimExcess: bl.Amplitude, RimExcessSE: bl.SE, DirectionP: math.NaN()}
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
