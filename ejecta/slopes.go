package ejecta

import "math"

// Slope is what the map as a whole says of a covariate: the change of the
// species for a unit of the layer, and how much that varies from place to place.
type Slope struct{ Mean, SD float64 }

// minSlopes is the number of places from which a slope of the map is believed.
const minSlopes = 20

// SlopeSurvey gathers the slopes that single places give.
type SlopeSurvey struct{ found map[string][]Estimate }

// Add takes the slopes of a place without a crater, in rings' own means beside
// the plane, and adds them to the survey.
func (s *SlopeSurvey) Add(e *Evidence) {
	if e.Gram == nil || len(e.Covariates) == 0 {
		return
	}
	cols := e.covariateColumns()
	value, cov := directionSweep(e.Gram, lessColumns(e.nuisance(Settings{}), cols)).solve(cols)
	if cov == nil {
		return
	}
	if s.found == nil {
		s.found = map[string][]Estimate{}
	}
	for i, name := range e.Covariates {
		v := cov[i*len(cols)+i] * e.Variance
		if v > 0 && !math.IsInf(v, 0) {
			s.found[name] = append(s.found[name], Estimate{value[i], v})
		}
	}
}

// Slope is the mean over the places and the scatter of the true slopes round
// it, by [RandomEffects]. ok is false when too few places tell.
func (s *SlopeSurvey) Slope(name string) (slope Slope, places int, ok bool) {
	list := s.found[name]
	if len(list) < minSlopes {
		return slope, len(list), false
	}
	mean, se, tau := RandomEffects(list)
	return Slope{mean, math.Hypot(tau, se)}, len(list), true
}

// pull is the belief in a column's coefficient before the crater is looked at,
// in units of the Gram matrix: its mean and the inverse of its variance.
type pull struct {
	col         int
	mean, ridge float64
}

// pullOf is the belief in a column; zero when its coefficient is free.
func (g *Gram) pullOf(c int) pull {
	for _, p := range g.pulls {
		if p.col == c {
			return p
		}
	}
	return pull{}
}

// believe adds the one observation that stands for a belief.
func (g *Gram) believe(p pull) {
	if p.ridge > 0 {
		g.M[p.col*g.P+colValue] += p.ridge * p.mean
		g.M[colValue*g.P+p.col] += p.ridge * p.mean
	}
}

// pullsOf turns the slopes that the map gives into beliefs.
func (e *Evidence) pullsOf(covariates []Field) (out []pull) {
	for i, c := range e.covariateColumns() {
		if s := covariates[i].Slope; s != nil && s.SD > 0 {
			out = append(out, pull{c, s.Mean, e.Variance / (s.SD * s.SD)})
		}
	}
	return out
}
