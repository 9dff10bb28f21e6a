package ejecta

import "math"

// KnownNoise returns the noise model of a stationary field whose covariance at
// a lag of dx columns and dy rows is known, for lags up to maxLag pixels: what
// an oracle would use in place of a [NoiseSurvey]. The pixel variance is
// cov(0, 0); [Noise.Variance] returns it for every place.
func KnownNoise(cov func(dx, dy float64) float64, maxLag int) *Noise {
	pad := 4
	for pad < 2*(maxLag+1<<(maxBlockLevel+1)+1) {
		pad *= 2
	}
	variance := cov(0, 0)
	if !(variance > 0) {
		panic("ejecta: KnownNoise needs a positive variance")
	}
	c := make([]float64, pad*pad)
	for y := range pad {
		for x := range pad {
			c[y*pad+x] = cov(float64(wrapLag(x, pad)), float64(wrapLag(y, pad))) / variance
		}
	}
	n := newNoise(c, pad, maxLag)
	n.mean = variance
	return n
}

// Plus returns the evidence of the values of e plus a times those of t, as if
// the sum had been collected: injection without another look at the map. Both
// must come from the same samples, mask, extra columns and noise model; it
// panics when their cells or columns differ.
func (e *Evidence) Plus(t *Evidence, a float64) *Evidence {
	if e.Gram == nil || t.Gram == nil || e.Gram.P != t.Gram.P || e.Gram.Cells != t.Gram.Cells {
		panic("ejecta: Plus needs two pieces of evidence of one geometry")
	}
	out := *e
	out.Gram = e.Gram.plusValue(func(j int) float64 { return a * t.Gram.at(colValue, j) })
	out.ground = e.ground.plus(t.ground, a)
	out.Offset += a * t.Offset
	out.Rings = append([]RingSum(nil), e.Rings...)
	for i := range out.Rings {
		out.Rings[i].Mean += a * t.Rings[i].Mean
	}
	out.Sectors = append([]SectorSum(nil), e.Sectors...)
	for i := range out.Sectors {
		out.Sectors[i].Mean += a * t.Sectors[i].Mean
	}
	return &out
}

// plusValue returns the products with something added to the values, of which
// the products with column j are given.
func (g *Gram) plusValue(added func(j int) float64) *Gram {
	out := *g
	out.M = append([]float64(nil), g.M...)
	for j := colValue + 1; j < g.P; j++ {
		v := g.at(colValue, j) + added(j)
		out.M[colValue*g.P+j], out.M[j*g.P+colValue] = v, v
	}
	// The square of the sum needs a product that is not at hand; nothing asks
	// for it.
	out.M[colValue*g.P+colValue] = math.NaN()
	return &out
}

// Directions returns the directional content of a site whose centre is known
// exactly, for a null scale; nil when there is none.
func (e *Evidence) Directions(scale float64) *Directional {
	if e.Gram == nil {
		return nil
	}
	return directional(e.Gram, e.nuisance(Settings{}), 0, e.Variance*scale)
}

// ContrastTest tests that two species share one azimuthal shape, up to a free
// ratio of their blankets: chi-square on 4 degrees of freedom, its p and the
// ratio b over a. r is the correlation of the two species' noise. ok is false
// when either holds no directional information.
func ContrastTest(a, b SpeciesEvidence, r float64) (chi2, p, ratio float64, ok bool) {
	res, ok := testContrast(a, b, r)
	return res.chi2, res.p, res.ratio, ok
}
