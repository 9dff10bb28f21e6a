package ejecta

import "math"

// Departure is how far one pair lies from the bias that all pairs share: the
// craters that two surveys see differently, once a common offset is allowed for.
type Departure struct {
	Sigma float64 // difference less bias, over its standard error
	P, Q  float64 // two-sided; over the pairs of the species
}

// Departures are those of pairs in their order, NaN where a pair lacks a number.
// The bias was found from the same pairs; among many that matters little.
func (g *Agreement) Departures(pairs []Pair) []Departure {
	out, p := make([]Departure, len(pairs)), make([]float64, len(pairs))
	for i, x := range pairs {
		out[i] = Departure{math.NaN(), math.NaN(), math.NaN()}
		if x.usable() && finite(g.Bias) {
			out[i].Sigma = (x.B - x.A - g.Bias) / combinedError(x.SEA, x.SEB, g.Correlation)
			out[i].P = 2 * upperTail(math.Abs(out[i].Sigma))
		}
		p[i] = out[i].P
	}
	for i, q := range QValues(p) {
		out[i].Q = q
	}
	return out
}
