package ejecta

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Pair is one quantity measured twice: by A and by B.
type Pair struct{ A, SEA, B, SEB float64 }

// usable reports whether both sides have a number and a positive error.
func (p Pair) usable() bool {
	return finite(p.A) && finite(p.B) && finite(p.SEA) && finite(p.SEB) && p.SEA > 0 && p.SEB > 0
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// Agreement says how well two surveys measure the same thing.
type Agreement struct {
	Species, Unit, Quantity string
	Pairs                   int     // with a number and an error on both sides
	Correlation             float64 // of the errors, as assumed

	Bias, BiasSE     float64 // weighted mean of B - A
	MedianDifference float64
	Line             Line    // B = Intercept + Slope * A
	Chi2             float64 // of the differences about the bias
	Freedom          int
	P                float64 // of a larger Chi2, given the stated errors
	Scatter          float64 // robust scatter of the differences over their errors; 1 is as stated
	Beyond2          float64 // share of differences beyond two errors from the bias
	Implied          float64 // correlation of the errors that would make the scatter as stated; NaN if none would
}

// minAgreement is the number of pairs below which nothing is said.
const minAgreement = 5

// NewAgreement compares two sets of measurements of one quantity. correlation,
// below 1 and not negative, is that of the errors of A and B: two maps made of
// the same observations share noise, and then their differences are smaller
// than their errors say.
func NewAgreement(pairs []Pair, correlation float64) Agreement {
	nan := math.NaN()
	var used []Pair
	for _, p := range pairs {
		if p.usable() {
			used = append(used, p)
		}
	}
	g := Agreement{Pairs: len(used), Correlation: correlation, Bias: nan, BiasSE: nan, MedianDifference: nan,
		Line: noLine(), Chi2: nan, P: nan, Scatter: nan, Beyond2: nan, Implied: nan}
	if len(used) < minAgreement {
		return g
	}
	g.differences(used)
	g.Line = YorkLine(used, correlation)
	g.Implied = impliedCorrelation(used)
	return g
}

// differences fills bias and scatter.
func (g *Agreement) differences(pairs []Pair) {
	d, w := make([]float64, len(pairs)), make([]float64, len(pairs))
	for i, p := range pairs {
		d[i] = p.B - p.A
		w[i] = 1 / square(combinedError(p.SEA, p.SEB, g.Correlation))
	}
	var total float64
	g.Bias, total = weightedMean(d, w)
	g.BiasSE, g.MedianDifference, g.Freedom = 1/math.Sqrt(total), Median(d), len(d)-1
	g.Chi2 = 0
	z, beyond := make([]float64, len(d)), 0
	for i := range d {
		z[i] = (d[i] - g.Bias) * math.Sqrt(w[i])
		g.Chi2 += z[i] * z[i]
		if math.Abs(z[i]) > 2 {
			beyond++
		}
	}
	g.P = distuv.ChiSquared{K: float64(g.Freedom)}.Survival(g.Chi2)
	_, g.Scatter = MAD(z)
	g.Beyond2 = float64(beyond) / float64(len(d))
}

func square(x float64) float64 { return x * x }

func weightedMean(x, w []float64) (mean, total float64) {
	for i := range x {
		mean += w[i] * x[i]
		total += w[i]
	}
	return mean / total, total
}

// impliedCorrelation is the correlation of the errors at which the chi-square
// of the differences equals its expectation, by bisection; NaN when the scatter
// is larger than independent errors explain.
func impliedCorrelation(pairs []Pair) float64 {
	over := func(r float64) float64 {
		g := Agreement{Correlation: r}
		g.differences(pairs)
		return g.Chi2 - float64(g.Freedom)
	}
	lo, hi := 0.0, 0.9999
	switch {
	case over(lo) > 0:
		return math.NaN()
	case over(hi) < 0:
		return 1
	}
	for range 50 {
		mid := (lo + hi) / 2
		if over(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// Sentence says in words whether A and B agree.
func (g *Agreement) Sentence() string {
	if g.Pairs < minAgreement {
		return fmt.Sprintf("%d pairs are too few to say whether the two agree", g.Pairs)
	}
	bias := "no bias beyond its error"
	if math.Abs(g.Bias) > 2*g.BiasSE {
		bias = fmt.Sprintf("B is %s by %.3g", higherOrLower(g.Bias), math.Abs(g.Bias))
	}
	return bias + "; " + g.slopePhrase() + "; " + g.scatterPhrase()
}

func higherOrLower(x float64) string {
	if x < 0 {
		return "lower"
	}
	return "higher"
}

func (g *Agreement) slopePhrase() string {
	switch {
	case !g.Line.OK:
		return "no slope could be fitted"
	case math.Abs(g.Line.Slope-1) > 2*g.Line.SlopeSE:
		return fmt.Sprintf("slope %.3g ± %.2g is not 1", g.Line.Slope, g.Line.SlopeSE)
	}
	return fmt.Sprintf("slope %.3g ± %.2g", g.Line.Slope, g.Line.SlopeSE)
}

func (g *Agreement) scatterPhrase() string {
	switch {
	case g.P < 0.01:
		return "they scatter more than their errors say"
	case g.P > 0.99:
		return fmt.Sprintf("they scatter less than independent errors would: shared noise with a correlation of about %.2g explains it", g.Implied)
	}
	return "they scatter as their errors say"
}
