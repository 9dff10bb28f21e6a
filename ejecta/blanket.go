package ejecta

import (
	"math"

	"gonum.org/v1/gonum/interp"
)

// chi-square thresholds of a one-parameter profile interval.
const (
	chi68 = 1.0
	chi95 = 3.841458820694124
)

// decayStep is the step of the exponent grid.
const decayStep = 0.02

// minDecaySNR is the signal to noise below which the exponent is not
// reported: the likelihood is then too flat to hold it. Down to minProfileSNR
// the amplitude is still that of the best exponent, since an amplitude that
// changed its meaning where exponents begin would be biased there.
const (
	minDecaySNR   = 6
	minProfileSNR = 4
)

// Blanket is the fitted symmetric ejecta blanket A rho^-b.
type Blanket struct {
	Z            float64 // matched-filter score for b = 3
	P            float64 // one-sided
	Amplitude    float64 // A, in the unit of the species
	SE           float64
	Amplitude68  [2]float64
	Amplitude95  [2]float64
	Decay        float64 // b, NaN when unconstrained
	DecaySE      float64
	Decay95      [2]float64
	Sigma        float64 // standard error of A at b = 3: the crater's sensitivity
	Unconstraint bool    // b could not be measured
}

// decayCurve is score and information of the template rho^-b along b.
type decayCurve struct {
	b, s, g []float64
}

// fitBlanket fits A rho^-b by profile likelihood over b in [0.5, 7]:
//
//	z^2(b) = max(s_b, 0)^2 / g_b,  A(b) = s_b / g_b
//
// The Gram matrix must have constant, plane and other nuisance eliminated.
// variance is the pixel variance times the null scale.
func fitBlanket(g *Gram, variance float64) Blanket {
	curve := newDecayCurve(g, variance)
	s3, g3 := g.at(colDecay+5, colValue)/variance, g.at(colDecay+5, colDecay+5)/variance
	if !(g3 > 0) {
		return missingBlanket()
	}
	bl := Blanket{Z: s3 / math.Sqrt(g3), Sigma: 1 / math.Sqrt(g3)}
	bl.P = upperTail(bl.Z)
	best, peak := curve.peak()
	if math.Sqrt(peak) < minProfileSNR {
		return bl.fixedDecay(s3, g3)
	}
	bl.Amplitude = curve.s[best] / curve.g[best]
	bl.putDecay(curve, best, peak)
	bl.Amplitude68[0], bl.Amplitude68[1] = curve.amplitudeInterval(peak, chi68)
	bl.Amplitude95[0], bl.Amplitude95[1] = curve.amplitudeInterval(peak, chi95)
	bl.SE = (bl.Amplitude68[1] - bl.Amplitude68[0]) / 2
	return bl
}

// putDecay reports the exponent where the data hold it.
func (bl *Blanket) putDecay(curve decayCurve, best int, peak float64) {
	if math.Sqrt(peak) < minDecaySNR {
		bl.withoutDecay()
		return
	}
	bl.Decay = curve.b[best]
	lo, hi := curve.decayInterval(peak, chi68)
	bl.DecaySE = (hi - lo) / 2
	bl.Decay95[0], bl.Decay95[1] = curve.decayInterval(peak, chi95)
}

func (bl *Blanket) withoutDecay() {
	nan := math.NaN()
	bl.Decay, bl.DecaySE, bl.Decay95, bl.Unconstraint = nan, nan, [2]float64{nan, nan}, true
}

func missingBlanket() Blanket {
	nan := math.NaN()
	pair := [2]float64{nan, nan}
	return Blanket{Z: nan, P: nan, Amplitude: nan, SE: nan, Amplitude68: pair, Amplitude95: pair,
		Decay: nan, DecaySE: nan, Decay95: pair, Sigma: nan, Unconstraint: true}
}

// fixedDecay reports A for the customary exponent when the data cannot hold b.
func (bl Blanket) fixedDecay(s, g float64) Blanket {
	bl.Amplitude, bl.SE = s/g, 1/math.Sqrt(g)
	x := math.Sqrt(chi95) * bl.SE
	bl.Amplitude68 = [2]float64{bl.Amplitude - bl.SE, bl.Amplitude + bl.SE}
	bl.Amplitude95 = [2]float64{bl.Amplitude - x, bl.Amplitude + x}
	bl.withoutDecay()
	return bl
}

func newDecayCurve(g *Gram, variance float64) decayCurve {
	return curveThrough(decayNodesOf(g, variance))
}

// curveThrough interpolates score and information, given at decayNodes, along b.
func curveThrough(s, g []float64) decayCurve {
	lg := make([]float64, len(g))
	for j, v := range g {
		lg[j] = math.Log(math.Max(v, 1e-300))
	}
	var fs, fg interp.NotAKnotCubic
	if fs.Fit(decayNodes[:], s) != nil || fg.Fit(decayNodes[:], lg) != nil {
		panic("ejecta: decay nodes are not increasing")
	}
	first, last := decayNodes[0], decayNodes[len(decayNodes)-1]
	n := int((last-first)/decayStep+0.5) + 1
	c := decayCurve{make([]float64, n), make([]float64, n), make([]float64, n)}
	for i := range n {
		b := math.Min(first+float64(i)*decayStep, last)
		c.b[i], c.s[i], c.g[i] = b, fs.Predict(b), math.Exp(fg.Predict(b))
	}
	return c
}

func (c decayCurve) gain(i int) float64 {
	s := math.Max(c.s[i], 0)
	return s * s / c.g[i]
}

func (c decayCurve) peak() (best int, gain float64) {
	for i := range c.b {
		if v := c.gain(i); v > gain {
			best, gain = i, v
		}
	}
	return best, gain
}

// decayInterval is the range of b with z^2max - z^2(b) <= x.
func (c decayCurve) decayInterval(peak, x float64) (lo, hi float64) {
	lo, hi = math.NaN(), math.NaN()
	for i, b := range c.b {
		if peak-c.gain(i) <= x {
			if math.IsNaN(lo) {
				lo = b
			}
			hi = b
		}
	}
	return lo, hi
}

// amplitudeInterval is the range of A with
// min over b of (A^2 g_b - 2 A s_b) + z^2max <= x.
func (c decayCurve) amplitudeInterval(peak, x float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for i := range c.b {
		// A^2 g - 2 A s + peak - x = 0
		disc := c.s[i]*c.s[i] - c.g[i]*(peak-x)
		if disc < 0 {
			continue
		}
		r := math.Sqrt(disc)
		lo = math.Min(lo, (c.s[i]-r)/c.g[i])
		hi = math.Max(hi, (c.s[i]+r)/c.g[i])
	}
	return lo, hi
}

// at is the blanket's value at a range. Where the data cannot hold the exponent
// it is that of the customary one: the best exponent may then be any, and a slow
// one would carry the blanket into the far field.
func (bl Blanket) at(rho float64) float64 {
	if bl.Unconstraint {
		return bl.Z * bl.Sigma * math.Pow(rho, -directionalDecay)
	}
	return bl.Amplitude * math.Pow(rho, -bl.Decay)
}

// exponent is the fitted b, or the customary one where the data cannot hold it.
func (bl Blanket) exponent() float64 {
	if bl.Unconstraint {
		return directionalDecay
	}
	return bl.Decay
}

// Detection levels: the power of the one-sided test at p < 0.001 is
// Phi(A/sigma - 3.0902), the normal quantiles of 0.001 and 0.95 give the rest.
const (
	quantile999 = 3.090232306167813
	quantile95  = 1.6448536269514722
)

// Limits returns the rim excess found half the time and nineteen times in
// twenty at p < 0.001, and the one-sided 95 % upper limit. A negative estimate
// counts as zero in the limit, so that a low fluctuation does not exclude what
// the data cannot see.
func (bl Blanket) Limits() (half, most, upper float64) {
	half = quantile999 * bl.Sigma
	most = (quantile999 + quantile95) * bl.Sigma
	upper = math.Max(bl.Z*bl.Sigma, 0) + quantile95*bl.Sigma
	return half, most, upper
}
