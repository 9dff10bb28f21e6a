package ejecta

import (
	"math"

	"gonum.org/v1/gonum/interp"
)

// decayStep is the step of the exponent grid; where the data hold the exponent
// to fewer than fewSteps of them, decayFine steps lie within its interval.
const (
	decayStep = 0.02
	fewSteps  = 50
	decayFine = 200
)

// decayCurve is score and information of the template rho^-b along b.
type decayCurve struct {
	b, s, g []float64
}

// decayLine gives score and information at any b.
type decayLine struct{ s, logG interp.NotAKnotCubic }

// lineThrough interpolates score and information, given at decayNodes.
func lineThrough(s, g []float64) *decayLine {
	var l decayLine
	lg := make([]float64, len(g))
	for j, v := range g {
		lg[j] = math.Log(math.Max(v, 1e-300))
	}
	if l.s.Fit(decayNodes[:], s) != nil || l.logG.Fit(decayNodes[:], lg) != nil {
		panic("ejecta: decay nodes are not increasing")
	}
	return &l
}

// along samples n steps from lo to hi, no farther than the nodes.
func (l *decayLine) along(lo, hi float64, n int) decayCurve {
	first, last := decayNodes[0], decayNodes[len(decayNodes)-1]
	lo, hi = math.Max(lo, first), math.Min(hi, last)
	c := decayCurve{make([]float64, n+1), make([]float64, n+1), make([]float64, n+1)}
	for i := range n + 1 {
		b := math.Min(lo+(hi-lo)*float64(i)/float64(n), last)
		c.b[i], c.s[i], c.g[i] = b, l.s.Predict(b), math.Exp(l.logG.Predict(b))
	}
	return c
}

// whole samples all exponents.
func (l *decayLine) whole() decayCurve {
	first, last := decayNodes[0], decayNodes[len(decayNodes)-1]
	return l.along(first, last, int((last-first)/decayStep+0.5))
}

// curveThrough samples score and information, given at decayNodes, along b.
func curveThrough(s, g []float64) decayCurve { return lineThrough(s, g).whole() }

// curveOf is curveThrough with a finer grid round the peak, and a finer one still,
// where the exponent is so well known that the grid would round the ends of its
// interval inward. Outside of the finer grid lies nothing that any interval holds.
func curveOf(s, g []float64) decayCurve {
	l := lineThrough(s, g)
	c := l.whole()
	for range 3 {
		step := c.b[1] - c.b[0]
		_, peak := c.peak()
		in := c.decayInterval(peak, 2*chi95)
		if !(in[1]-in[0] < fewSteps*step) {
			break
		}
		c = l.along(in[0]-step, in[1]+step, decayFine)
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

// farthest is the largest squared score of either sign.
func (c decayCurve) farthest() (gain float64) {
	for i, s := range c.s {
		gain = math.Max(gain, s*s/c.g[i])
	}
	return gain
}

// amplitude is A at a point of the curve, without what the search along b adds:
// the largest score of a search in one more direction has the mean square
// z^2 + 1 of the score at its true place, as the length of a polarisation
// vector has (Wardle & Kronberg 1974, Astrophys. J. 194, 249).
func (c decayCurve) amplitude(i int) float64 {
	return math.Sqrt(math.Max(c.gain(i)-1, 0) / c.g[i])
}

// driftAt is dA/db of the best amplitude A = s/g at an exponent.
func (c decayCurve) driftAt(b float64) float64 {
	i := 1
	for i+2 < len(c.b) && c.b[i] < b {
		i++
	}
	return (c.s[i+1]/c.g[i+1] - c.s[i-1]/c.g[i-1]) / (c.b[i+1] - c.b[i-1])
}

// decayInterval is the range of b with z^2max - z^2(b) <= x.
func (c decayCurve) decayInterval(peak, x float64) [2]float64 {
	lo, hi := math.NaN(), math.NaN()
	for i, b := range c.b {
		if peak-c.gain(i) <= x {
			if math.IsNaN(lo) {
				lo = b
			}
			hi = b
		}
	}
	return [2]float64{lo, hi}
}

// amplitudeInterval is the range of A with
// min over b of (A^2 g_b - 2 A s_b) + z^2max <= x.
func (c decayCurve) amplitudeInterval(peak, x float64) [2]float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
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
	return [2]float64{lo, hi}
}
