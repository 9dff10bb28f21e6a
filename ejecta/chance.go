package ejecta

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// upperTail is the chance that a standard normal score exceeds z, with full
// relative precision far out.
func upperTail(z float64) float64 { return 0.5 * math.Erfc(z/math.Sqrt2) }

// scoreLimit is the score of the smallest and largest p that ScoreOf tells
// from 0 and 1.
const scoreLimit = 37.5

// ScoreOf returns the standard normal score with the one-sided upper tail p,
// cut at -37.5 and 37.5 for p = 1 and 0.
func ScoreOf(p float64) float64 {
	switch {
	case math.IsNaN(p):
		return p
	case p <= 0:
		return scoreLimit
	case p >= 1:
		return -scoreLimit
	case p > 0.5:
		return distuv.UnitNormal.Quantile(1 - p)
	}
	z := -distuv.UnitNormal.Quantile(math.Max(p, 1e-300))
	// One Newton step on the logarithm keeps far tails exact.
	for range 2 {
		t := upperTail(z)
		if t <= 0 {
			break
		}
		density := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
		z += math.Log(t/p) * t / density
	}
	return math.Min(z, scoreLimit)
}

// ChiSquareP returns the chance that a chi-square variable with dof degrees
// of freedom exceeds x.
func ChiSquareP(x, dof float64) float64 {
	if !(x > 0) {
		if math.IsNaN(x) {
			return x
		}
		return 1
	}
	return mathext.GammaIncRegComp(dof/2, x/2)
}

// TubeP returns the chance that the largest score along a closed
// one-parameter family of unit templates exceeds z, by the tube formula
//
//	p = min(1, length/(2 pi) exp(-z^2/2))
//
// where length is the length of the curve the templates draw on the unit
// sphere, in radians (Hotelling 1939, Am. J. Math. 61, 440; Davies 1987,
// Biometrika 74, 33). For z <= 0 it is 1.
func TubeP(length, z float64) float64 {
	if !(z > 0) {
		if math.IsNaN(z) {
			return z
		}
		return 1
	}
	return math.Min(1, length/(2*math.Pi)*math.Exp(-z*z/2))
}

// cauchyCeiling caps the p values that CauchyP combines. A bound such as the
// tube formula reports 1 for every unremarkable score; taken literally, a
// single 1 would outweigh any discovery of the other tests.
const cauchyCeiling = 0.99

// CauchyP combines the p values of dependent tests of one hypothesis,
//
//	t = mean tan((1/2 - p) pi),  p = 1/2 - atan(t)/pi
//
// which holds its size whatever their dependence, the better the smaller p
// (Liu & Xie 2020, J. Am. Stat. Assoc. 115, 393). Nil weights are equal; NaN p
// values are left out with their weight. It returns NaN when none is left.
func CauchyP(p, weights []float64) float64 {
	if weights != nil && len(weights) != len(p) {
		panic("ejecta: CauchyP needs a weight for each p value")
	}
	t, total := 0.0, 0.0
	for i, v := range p {
		w := 1.0
		if weights != nil {
			w = weights[i]
		}
		if math.IsNaN(v) || w == 0 {
			continue
		}
		t += w * cauchyScore(math.Min(v, cauchyCeiling))
		total += w
	}
	if total == 0 {
		return math.NaN()
	}
	return cauchyTail(t / total)
}

func cauchyScore(p float64) float64 {
	if p < 0.25 { // full precision for small p
		return 1 / math.Tan(math.Max(p, 1e-300)*math.Pi)
	}
	return math.Tan((0.5 - p) * math.Pi)
}

func cauchyTail(t float64) float64 {
	if t > 1 {
		return math.Atan(1/t) / math.Pi
	}
	return 0.5 - math.Atan(t)/math.Pi
}

// BonferroniP returns the smallest p times the number of tests, at most 1.
// NaN p values are left out; it returns NaN when none is left.
func BonferroniP(p ...float64) float64 {
	least, n := math.NaN(), 0
	for _, v := range p {
		if math.IsNaN(v) {
			continue
		}
		n++
		if !(least <= v) {
			least = v
		}
	}
	return math.Min(1, float64(n)*least)
}

// BinomialP returns the chance of k or more successes in n trials of
// probability p: the check of an observed false-alarm count.
func BinomialP(k, n int, p float64) float64 {
	if k <= 0 {
		return 1
	}
	return mathext.RegIncBeta(float64(k), float64(n-k+1), p)
}
