package ejecta

import "math"

// chi-square thresholds of a one-parameter profile interval.
const (
	chi68 = 1.0
	chi95 = 3.841458820694124
	// chi90 is that of a one-sided limit of 95 per cent.
	chi90 = quantile95 * quantile95
)

// minDecaySNR is the signal to noise below which the exponent is not
// reported: the likelihood is then too flat to hold it. Down to minProfileSNR,
// where nothing is seen any more, the amplitude is still that of the best
// exponent, since an amplitude that changed its meaning where exponents begin
// would be biased there, and its intervals too narrow. The interval of the
// exponent is given as far down: were it given only with the exponent, those
// that noise had lifted over the limit would take their signal for larger than
// it is, and the interval would hold the truth too seldom.
const (
	minDecaySNR   = 6
	minProfileSNR = 2
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
	Decay95      [2]float64 // given for weaker signals than Decay
	Sigma        float64    // standard error of A at b = 3: the crater's sensitivity
	Unconstraint bool       // b could not be measured
	Upper        float64    // one-sided 95 % limit of A, the exponent left open; NaN where A is that of b = 3

	drift float64 // by how much the A that fits best grows with b, at the exponent used
}

// fitBlanket fits A rho^-b by profile likelihood over b in [0.5, 7]:
//
//	z^2(b) = max(s_b, 0)^2 / g_b,  A(b) = s_b / g_b
//
// The Gram matrix must have constant, plane and other nuisance eliminated.
// variance is the pixel variance times the null scale.
func fitBlanket(g *Gram, variance float64) Blanket {
	curve := curveOf(decayNodesOf(g, variance))
	s3, g3 := g.at(colDecay+5, colValue)/variance, g.at(colDecay+5, colDecay+5)/variance
	if !(g3 > 0) {
		return missingBlanket()
	}
	bl := Blanket{Z: s3 / math.Sqrt(g3), Sigma: 1 / math.Sqrt(g3), Upper: math.NaN()}
	bl.P = upperTail(bl.Z)
	best, peak := curve.peak()
	bl.drift = curve.driftAt(directionalDecay)
	if math.Sqrt(peak) < minProfileSNR {
		return bl.fixedDecay(curve, s3, g3)
	}
	bl.Amplitude = curve.amplitude(best)
	bl.Amplitude68, bl.Amplitude95 = curve.amplitudeInterval(peak, chi68), curve.amplitudeInterval(peak, chi95)
	bl.SE = (bl.Amplitude68[1] - bl.Amplitude68[0]) / 2
	bl.Upper = curve.amplitudeInterval(peak, chi90)[1]
	bl.keepZero()
	bl.putDecay(curve, best, peak)
	return bl
}

// putDecay reports the exponent where the data hold it.
func (bl *Blanket) putDecay(curve decayCurve, best int, peak float64) {
	bl.Decay95 = curve.decayInterval(peak, chi95)
	if math.Sqrt(peak) < minDecaySNR {
		bl.withoutDecay()
		return
	}
	in := curve.decayInterval(peak, chi68)
	bl.Decay, bl.DecaySE = curve.b[best], (in[1]-in[0])/2
	bl.drift = curve.driftAt(bl.Decay)
}

func (bl *Blanket) withoutDecay() {
	bl.Decay, bl.DecaySE, bl.Unconstraint = math.NaN(), math.NaN(), true
}

func missingBlanket() Blanket {
	nan := math.NaN()
	pair := [2]float64{nan, nan}
	return Blanket{Z: nan, P: nan, Amplitude: nan, SE: nan, Amplitude68: pair, Amplitude95: pair,
		Decay: nan, DecaySE: nan, Decay95: pair, Sigma: nan, Unconstraint: true, Upper: nan}
}

// fixedDecay reports A for the customary exponent when nothing is seen. Its
// intervals leave the exponent open.
func (bl Blanket) fixedDecay(curve decayCurve, s, g float64) Blanket {
	bl.Amplitude, bl.SE = s/g, 1/math.Sqrt(g)
	peak := curve.farthest()
	bl.Amplitude68 = widened(curve.amplitudeInterval(peak, chi68), bl.Amplitude, bl.SE)
	bl.Amplitude95 = widened(curve.amplitudeInterval(peak, chi95), bl.Amplitude, math.Sqrt(chi95)*bl.SE)
	bl.Decay95 = [2]float64{math.NaN(), math.NaN()}
	bl.withoutDecay()
	bl.keepZero()
	return bl
}

// keepZero lets an interval leave zero out only where the test of a blanket does:
// without a blanket there is no exponent, and the best of all exponents passes any
// limit of one of them too often.
func (bl *Blanket) keepZero() {
	for _, c := range []struct {
		in  *[2]float64
		chi float64
	}{{&bl.Amplitude68, chi68}, {&bl.Amplitude95, chi95}} {
		if bl.Z*bl.Z < c.chi {
			*c.in = widened(*c.in, 0, 0)
		}
	}
}

// widened is an interval stretched until it holds v - x and v + x.
func widened(in [2]float64, v, x float64) [2]float64 {
	return [2]float64{math.Min(in[0], v-x), math.Max(in[1], v+x)}
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

// customarySD is how much exponents differ between craters where the data do
// not tell: common practice.
const customarySD = 0.7

// exponentSE is the standard error of exponent.
func (bl Blanket) exponentSE() float64 {
	if bl.Unconstraint {
		return customarySD
	}
	return bl.DecaySE
}

// meanOver is the area mean of the blanket from lo to hi.
func (bl Blanket) meanOver(lo, hi float64) float64 {
	const pieces = 8
	sum, step := 0.0, (hi-lo)/pieces
	for i := range pieces {
		a := lo + float64(i)*step
		sum += ringMean(bl, a, a+step) * (2*a + step) * step
	}
	return sum / (hi*hi - lo*lo)
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
// the data cannot see. Where the amplitude is that of the best exponent, the
// limit leaves the exponent open too, lest it fall below the amplitude.
func (bl Blanket) Limits() (half, most, upper float64) {
	half = quantile999 * bl.Sigma
	most = (quantile999 + quantile95) * bl.Sigma
	upper = math.Max(bl.Z*bl.Sigma, 0) + quantile95*bl.Sigma
	if bl.Upper > upper || !bl.Unconstraint {
		upper = bl.Upper
	}
	return half, most, upper
}
