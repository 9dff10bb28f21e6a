package ejecta

import "math"

// Probe is the quick reading of a null position.
type Probe struct {
	Omnibus  float64 // chi-square of the harmonics to order 6; NaN when not tested
	Z        float64 // blanket score
	Evidence SpeciesEvidence
}

// Probe reads what the null scale and the noise correlation need, with a null
// scale of one.
func (e *Evidence) Probe(set Settings) Probe {
	set = set.WithDefaults()
	q := Probe{Omnibus: math.NaN(), Z: math.NaN()}
	if e.Gram == nil {
		return q
	}
	sw := e.Gram.Without([]int{colConst}, span(colPlane, colPlane+2), e.nuisance(set))
	bl := fitBlanket(sw, e.Variance)
	q.Z = bl.Z
	if e.Status != StatusOK {
		return q
	}
	d := directional(e.Gram, e.nuisance(set), 0, e.Variance)
	q.Omnibus, _ = d.omnibus(6)
	q.Evidence = SpeciesEvidence{Direction: d, Amplitude: bl.Z * bl.Sigma, SE: bl.Sigma}
	return q
}
