package ejecta

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// SpeciesEvidence is what the contrast of two species needs of each: the
// directional content and the blanket amplitude for b = 3 with its error.
type SpeciesEvidence struct {
	Direction *Directional
	Amplitude float64
	SE        float64

	h, cov []float64 // set by Compact
}

// Compact keeps the coefficients that a contrast needs and lets go of the
// rest, so that a catalogue's worth of evidence fits in memory.
func (s *SpeciesEvidence) Compact() {
	if s.Direction != nil {
		s.h, s.cov = s.Direction.coefficients()
		s.Direction = nil
	}
}

// coefficients returns the harmonics to order 2 and their covariance, nil when
// the species has no directional information.
func (s *SpeciesEvidence) coefficients() (h, cov []float64) {
	if s.Direction != nil {
		return s.Direction.coefficients()
	}
	return s.h, s.cov
}

// Scores returns the four coefficients in units of their own errors, standard
// normal under no direction; nil when there are none.
func (s *SpeciesEvidence) Scores() []float64 {
	h, cov := s.coefficients()
	if h == nil {
		return nil
	}
	return multiply(inverse(symmetricRoot(cov), 4), 4, h)
}

// contrastResult is the test that two species share one azimuthal shape.
type contrastResult struct {
	chi2, p, ratio float64
}

// testContrast tests H0: the directional coefficients of b are q >= 0 times
// those of a, with q the ratio of the blankets, free:
//
//	T = min_q (h_b - q h_a)' V^-1 (h_b - q h_a) + (A_b - q A_a)^2 / v
//	V = V_b + q^2 V_a - q r (V_ab + V_ab')
//
// which is chi-square with 4 degrees of freedom. r is the correlation of the
// two species' noise, from the null positions. ok is false when either species
// has no directional information.
func testContrast(a, b SpeciesEvidence, r float64) (res contrastResult, ok bool) {
	ha, va := a.coefficients()
	hb, vb := b.coefficients()
	if ha == nil || hb == nil || !(a.SE > 0) || !(b.SE > 0) {
		return res, false
	}
	cross := crossCovariance(va, vb, r)
	t := func(q float64) float64 { return contrastAt(ha, hb, va, vb, cross, a, b, r, q) }
	q := minimiseRatio(t, a, b)
	res = contrastResult{chi2: t(q), ratio: q}
	res.p = ChiSquareP(res.chi2, 4)
	return res, true
}

func contrastAt(ha, hb, va, vb, cross []float64, a, b SpeciesEvidence, r, q float64) float64 {
	v := make([]float64, 16)
	d := make([]float64, 4)
	for i := range 4 {
		d[i] = hb[i] - q*ha[i]
		for j := range 4 {
			v[i*4+j] = vb[i*4+j] + q*q*va[i*4+j] - q*(cross[i*4+j]+cross[j*4+i])
		}
	}
	inv := inverse(v, 4)
	if inv == nil {
		return math.Inf(1)
	}
	e := b.Amplitude - q*a.Amplitude
	return quadratic(inv, 4, d) + e*e/(b.SE*b.SE+q*q*a.SE*a.SE-2*q*r*a.SE*b.SE)
}

// crossCovariance is r Va^1/2 Vb^1/2 with symmetric roots.
func crossCovariance(va, vb []float64, r float64) []float64 {
	ra, rb := symmetricRoot(va), symmetricRoot(vb)
	c := make([]float64, 16)
	for i := range 4 {
		for j := range 4 {
			for k := range 4 {
				c[i*4+j] += r * ra[i*4+k] * rb[k*4+j]
			}
		}
	}
	return c
}

func symmetricRoot(v []float64) []float64 {
	var e mat.EigenSym
	e.Factorize(mat.NewSymDense(4, append([]float64(nil), v...)), true)
	val := e.Values(nil)
	var u mat.Dense
	e.VectorsTo(&u)
	out := make([]float64, 16)
	for k, l := range val {
		root := math.Sqrt(math.Max(l, 0))
		for i := range 4 {
			for j := range 4 {
				out[i*4+j] += root * u.At(i, k) * u.At(j, k)
			}
		}
	}
	return out
}

// minimiseRatio searches q on a logarithmic grid round the ratio of errors and
// refines the best by golden section; q = 0 is included.
func minimiseRatio(t func(float64) float64, a, b SpeciesEvidence) float64 {
	unit := b.SE / a.SE
	q := func(i int) float64 { return unit * math.Tan(float64(i)*math.Pi/2/61) }
	best := 0
	for i := range 61 {
		if t(q(i)) < t(q(best)) {
			best = i
		}
	}
	lo, hi := q(max(best-1, 0)), q(min(best+1, 60))
	const golden = 0.6180339887498949
	for range 40 {
		x, y := hi-golden*(hi-lo), lo+golden*(hi-lo)
		if t(x) < t(y) {
			hi = y
		} else {
			lo = x
		}
	}
	m := (lo + hi) / 2
	if t(0) < t(m) {
		return 0
	}
	return m
}

// Compare contrasts two species at one crater. r is the correlation of their
// noise.
func Compare(a, b *Finding, ea, eb SpeciesEvidence, r float64) Contrast {
	nan := math.NaN()
	c := Contrast{CraterIndex: a.CraterIndex, SpeciesA: a.Species, SpeciesB: b.Species, Status: StatusOK,
		Statistic: nan, P: nan, Q: nan, AmplitudeRatio: nan, AxisDifference: nan, AxisDifferenceSE: nan, UpperLimitA: nan, UpperLimitB: nan}
	for _, f := range []*Finding{a, b} {
		if f.Status != StatusOK {
			c.Status = f.Status
			c.Sentence = "not compared: " + f.Species + " " + string(f.Status)
			return c
		}
	}
	res, ok := testContrast(ea, eb, r)
	if !ok {
		c.Status = StatusNotTestable
		return c
	}
	c.Statistic, c.P, c.AmplitudeRatio = res.chi2, res.p, res.ratio
	c.UpperLimitA, c.UpperLimitB = ea.directionalLimit(), eb.directionalLimit()
	if a.Pattern.Directional() && b.Pattern.Directional() {
		c.axes(a, b)
	}
	return c
}

// directionalLimit is the 95 % upper limit of the largest order-2 amplitude:
// its estimate plus 1.645 of its error.
func (s *SpeciesEvidence) directionalLimit() float64 {
	h, cov := s.coefficients()
	best := math.NaN()
	for k := range 2 {
		amp := math.Hypot(h[k], h[2+k])
		se := math.Sqrt((cov[k*4+k] + cov[(2+k)*4+2+k]) / 2)
		if v := amp + quantile95*se; !(v < best) {
			best = v
		}
	}
	return best
}

func (c *Contrast) axes(a, b *Finding) {
	period := 360.0
	if a.Pattern == PatternBilateral || b.Pattern == PatternBilateral {
		period = 180
	}
	c.AxisDifference = math.Abs(math.Remainder(b.Axis-a.Axis, period))
	c.AxisDifferenceSE = math.Hypot(a.AxisSE, b.AxisSE)
}
