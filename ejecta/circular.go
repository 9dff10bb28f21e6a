package ejecta

import "math"

// CircularMean returns the mean direction of angles in radians, in 0..2 pi,
// and the mean resultant length, 0 (no direction) to 1 (all alike): Fisher
// (1993), Statistical Analysis of Circular Data, section 2.3. Nil weights are
// equal. NaN angles and angles without weight are left out; with none left
// both results are NaN. Where the resultant is zero the direction has no
// meaning.
func CircularMean(angles, weights []float64) (mean, resultant float64) {
	return foldedMean(angles, weights, 1)
}

// AxialMean is [CircularMean] for axes, whose two ends are the same: the
// angles are doubled first and the mean, in 0..pi, is halved back. The
// resultant is that of the doubled angles.
func AxialMean(axes, weights []float64) (mean, resultant float64) {
	return foldedMean(axes, weights, 2)
}

// HourMean returns the mean of local times in hours, in 0..24, so that 23 h
// and 1 h average to 0 h, and their mean resultant length.
func HourMean(hours, weights []float64) (mean, resultant float64) {
	angles := make([]float64, len(hours))
	for i, h := range hours {
		angles[i] = h * (math.Pi / 12)
	}
	mean, resultant = CircularMean(angles, weights)
	return mean * (12 / math.Pi), resultant
}

func foldedMean(angles, weights []float64, fold float64) (mean, resultant float64) {
	if weights != nil && len(weights) != len(angles) {
		panic("ejecta: a circular mean needs a weight for each angle")
	}
	s, c, total := 0.0, 0.0, 0.0
	for i, a := range angles {
		w := 1.0
		if weights != nil {
			w = weights[i]
		}
		if math.IsNaN(a) || !(w > 0) {
			continue
		}
		sin, cos := math.Sincos(fold * a)
		s += w * sin
		c += w * cos
		total += w
	}
	if total == 0 {
		return math.NaN(), math.NaN()
	}
	return wrapTurn(math.Atan2(s, c), 2*math.Pi) / fold, math.Min(1, math.Hypot(s, c)/total)
}

// wrapTurn reduces an angle to [0, turn).
func wrapTurn(a, turn float64) float64 {
	a = math.Mod(a, turn)
	if a < 0 {
		a += turn
	}
	if a >= turn {
		a = 0
	}
	return a
}

// AngleDifference returns a - b in radians, reduced to [-pi, pi].
func AngleDifference(a, b float64) float64 { return math.Remainder(a-b, 2*math.Pi) }

// AxisDifference returns the difference a - b of two axes in radians, reduced
// to [-pi/2, pi/2].
func AxisDifference(a, b float64) float64 { return math.Remainder(a-b, math.Pi) }

// besselRatios returns I_k(kappa)/I_(k-1)(kappa) for k = 1..n by the downward
// recurrence 1/(2k/kappa + next), which is stable: Amos (1974), Math. Comput.
// 28, 239. kappa must be positive.
func besselRatios(kappa float64, n int) []float64 {
	ratio := make([]float64, n)
	top := n + 20 + int(math.Sqrt(40*kappa))
	r := kappa / (float64(top) + math.Hypot(float64(top), kappa))
	for k := top; k > 0; k-- {
		r = 1 / (2*float64(k)/kappa + r)
		if k <= n {
			ratio[k-1] = r
		}
	}
	return ratio
}

// asymptotic is the concentration from which the series in 1/kappa are exact to
// the last digit.
const asymptotic = 500

// A1 returns I1(kappa)/I0(kappa), the mean resultant length of a von Mises
// distribution of concentration kappa >= 0.
func A1(kappa float64) float64 {
	switch {
	case !(kappa >= 0):
		return math.NaN()
	case kappa == 0:
		return 0
	case kappa > asymptotic: // Abramowitz & Stegun 9.7.1
		t := 1 / kappa
		return 1 - t*(1./2+t*(1./8+t*(1./8+t*(25./128+t*(13./32+t*1073./1024)))))
	}
	return besselRatios(kappa, 1)[0]
}

// A1Inverse returns the concentration kappa of the von Mises distribution with
// the given mean resultant length, the root of I1/I0 to the last digits: the
// maximum-likelihood estimate (Mardia & Jupp 2000, Directional Statistics,
// section 5.3). It is 0 at 0, +Inf at 1 and NaN outside 0..1.
func A1Inverse(resultant float64) float64 {
	switch {
	case !(resultant >= 0 && resultant <= 1):
		return math.NaN()
	case resultant == 0:
		return 0
	case resultant == 1:
		return math.Inf(1)
	}
	// Banerjee et al. (2005), J. Mach. Learn. Res. 6, 1345: within 10 % or so.
	r2 := resultant * resultant
	kappa := resultant * (2 - r2) / ((1 - resultant) * (1 + resultant))
	for range 50 {
		a := A1(kappa)
		slope := 1 - a/kappa - a*a
		if kappa > asymptotic { // the difference above has lost its digits
			slope = 0.5 / (kappa * kappa) * (1 + 0.5/kappa)
		}
		step := (a - resultant) / slope
		next := kappa - step
		if !(next > 0) {
			next = kappa / 2
		}
		done := math.Abs(next-kappa) <= 4e-16*kappa
		kappa = next
		if done {
			break
		}
	}
	return kappa
}

// VonMisesHarmonics returns c[k-1] = 2 I_k(kappa)/I_0(kappa) for k = 1..n, so
// that
//
//	f(theta) = 1 + sum c_k cos k(theta - mu)
//
// is the von Mises lobe of concentration kappa >= 0 with mean 1 over the
// circle. It is stable for any kappa; terms beyond n of about 6 sqrt(kappa)
// are below 1e-7.
func VonMisesHarmonics(kappa float64, n int) []float64 {
	if !(kappa >= 0) || n < 0 {
		panic("ejecta: VonMisesHarmonics needs kappa >= 0 and n >= 0")
	}
	c := make([]float64, n)
	if kappa == 0 {
		return c
	}
	product := 2.0
	for k, r := range besselRatios(kappa, n) {
		product *= r
		c[k] = product
	}
	return c
}

// VonMises returns the von Mises lobe of concentration kappa >= 0 at an angle
// theta (radians) from its middle, scaled to mean 1 over the circle:
// exp(kappa cos theta)/I0(kappa).
func VonMises(kappa, theta float64) float64 {
	s := math.Sin(theta / 2)
	return math.Exp(-2*kappa*s*s) / scaledI0(kappa)
}

// scaledI0 returns exp(-kappa) I0(kappa), from 1 = exp(-kappa)(I0 + 2 I1 +
// 2 I2 + ...).
func scaledI0(kappa float64) float64 {
	if kappa == 0 {
		return 1
	}
	if kappa > asymptotic {
		t := 1 / (8 * kappa)
		return (1 + t*(1+t*(9./2+t*(75./2+t*3675./8)))) / math.Sqrt(2*math.Pi*kappa)
	}
	sum, product := 1.0, 2.0
	for _, r := range besselRatios(kappa, 20+int(math.Sqrt(40*kappa))) {
		product *= r
		sum += product
	}
	return 1 / sum
}
