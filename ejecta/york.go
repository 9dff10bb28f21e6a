package ejecta

import "math"

// Line is a straight line B = Intercept + Slope * A through points with errors
// in both.
type Line struct {
	Slope, SlopeSE         float64
	Intercept, InterceptSE float64
	Chi2                   float64 // with Freedom degrees
	Freedom                int
	OK                     bool // false: the points allow no line
}

func noLine() Line {
	nan := math.NaN()
	return Line{Slope: nan, SlopeSE: nan, Intercept: nan, InterceptSE: nan, Chi2: nan}
}

// yorkSteps bounds the iteration, which settles in about ten steps.
const yorkSteps = 500

// YorkLine fits a line through points with errors in both coordinates, which
// may be correlated: York, Evensen, Lopez Martinez & De Basabe Delgado (2004),
// Am. J. Phys. 72, 367, equations 13. The standard errors are those of the
// adjusted points, not multiplied by the scatter. Least squares in one
// coordinate alone would flatten the slope by the errors in the other.
func YorkLine(pairs []Pair, correlation float64) Line {
	l := noLine()
	y := york{pairs: pairs, r: correlation}
	slope := y.start()
	for range yorkSteps {
		next, ok := y.step(slope)
		if !ok {
			return l
		}
		done := math.Abs(next-slope) <= 1e-13*math.Max(1, math.Abs(next))
		slope = next
		if done {
			break
		}
	}
	return y.finish(slope)
}

// york is the state of a fit: weights and adjusted distances at a slope.
type york struct {
	pairs               []Pair
	r                   float64
	w, beta             []float64
	meanA, meanB, total float64
}

// start is the slope of the major axis of the scaled points: it has the right
// sign, and it is not flattened.
func (y *york) start() float64 {
	var ma, mb, saa, sbb, sab float64
	n := float64(len(y.pairs))
	for _, p := range y.pairs {
		ma, mb = ma+p.A/n, mb+p.B/n
	}
	for _, p := range y.pairs {
		saa += (p.A - ma) * (p.A - ma)
		sbb += (p.B - mb) * (p.B - mb)
		sab += (p.A - ma) * (p.B - mb)
	}
	d := sbb - saa
	if sab == 0 {
		return 0
	}
	return (d + math.Sqrt(d*d+4*sab*sab)) / (2 * sab)
}

// step makes one iteration; ok is false when all points lie at one A.
func (y *york) step(slope float64) (next float64, ok bool) {
	y.weigh(slope)
	var above, below float64
	for i, p := range y.pairs {
		u, v := p.A-y.meanA, p.B-y.meanB
		above += y.w[i] * y.beta[i] * v
		below += y.w[i] * y.beta[i] * u
	}
	next = above / below
	return next, finite(next)
}

// weigh fills the weights, means and adjusted distances at a slope.
func (y *york) weigh(slope float64) {
	n := len(y.pairs)
	y.w, y.beta = make([]float64, n), make([]float64, n)
	y.meanA, y.meanB, y.total = 0, 0, 0
	for i, p := range y.pairs {
		y.w[i] = 1 / (p.SEB*p.SEB + slope*slope*p.SEA*p.SEA - 2*slope*y.r*p.SEA*p.SEB)
		y.total += y.w[i]
		y.meanA += y.w[i] * p.A
		y.meanB += y.w[i] * p.B
	}
	y.meanA, y.meanB = y.meanA/y.total, y.meanB/y.total
	for i, p := range y.pairs {
		u, v := p.A-y.meanA, p.B-y.meanB
		y.beta[i] = y.w[i] * (u*p.SEB*p.SEB + slope*v*p.SEA*p.SEA - (slope*u+v)*y.r*p.SEA*p.SEB)
	}
}

// finish returns the line at the final slope.
func (y *york) finish(slope float64) Line {
	y.weigh(slope)
	l := Line{Slope: slope, Intercept: y.meanB - slope*y.meanA, Freedom: len(y.pairs) - 2, OK: true}
	meanBeta, _ := weightedMean(y.beta, y.w)
	spread := 0.0
	for i, p := range y.pairs {
		spread += y.w[i] * square(y.beta[i]-meanBeta)
		l.Chi2 += y.w[i] * square(p.B-l.Intercept-slope*p.A)
	}
	l.SlopeSE = 1 / math.Sqrt(spread)
	l.InterceptSE = math.Sqrt(1/y.total + square((y.meanA+meanBeta)*l.SlopeSE))
	return l
}
