package ejecta

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// QValues returns the false-discovery q value of each p value by the step-up
// rule of Benjamini & Hochberg (1995), J. R. Stat. Soc. B 57, 289: q is the
// smallest rate at which the test would be rejected, so that "q <= rate"
// rejects. NaN p values are no tests: they are not counted and come back NaN.
// Valid under independence and positive regression dependence.
func QValues(p []float64) []float64 {
	return stepUp(p, 1)
}

// QValuesAnyDependence is the variant of Benjamini & Yekutieli (2001), Ann.
// Stat. 29, 1165, valid under any dependence and stricter by 1 + 1/2 + ... +
// 1/m.
func QValuesAnyDependence(p []float64) []float64 {
	factor := 0.0
	for k := range countTests(p) {
		factor += 1 / float64(k+1)
	}
	return stepUp(p, factor)
}

// QValuesAdaptive multiplies the q values by an estimate of the share of true
// nulls, #{p > 1/2} + 1 over m/2, at most 1: Storey, Taylor & Siegmund (2004),
// J. R. Stat. Soc. B 66, 187. It returns that share too.
func QValuesAdaptive(p []float64) (q []float64, nulls float64) {
	m := countTests(p)
	above := 1
	for _, v := range p {
		if v > 0.5 {
			above++
		}
	}
	nulls = math.Min(1, 2*float64(above)/math.Max(1, float64(m)))
	return stepUp(p, nulls), nulls
}

func countTests(p []float64) int {
	m := 0
	for _, v := range p {
		if !math.IsNaN(v) {
			m++
		}
	}
	return m
}

// testOrder returns the indices of the tests by ascending p, ties in their
// given order.
func testOrder(p []float64) []int {
	order := make([]int, 0, len(p))
	for i, v := range p {
		if math.IsNaN(v) {
			continue
		}
		if v < 0 || v > 1 {
			panic("ejecta: p value outside 0..1")
		}
		order = append(order, i)
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(p[a], p[b]), a-b) })
	return order
}

func stepUp(p []float64, factor float64) []float64 {
	order := testOrder(p)
	q := make([]float64, len(p))
	for i := range q {
		q[i] = math.NaN()
	}
	m := float64(len(order))
	least := 1.0
	for k := len(order) - 1; k >= 0; k-- {
		i := order[k]
		// The ratio first: for the largest p it is exactly one, and q >= p holds
		// to the last digit.
		least = math.Min(least, p[i]*(factor*(m/float64(k+1))))
		q[i] = least
	}
	return q
}

// EmpiricalNull is the normal distribution that the scores of craters without
// a signal follow on the user's own map. Mean 0 and Sigma 1 are what a right
// noise model gives.
type EmpiricalNull struct {
	Mean, Sigma float64
	Share       float64 // estimated share of nulls among the tests, 0..1
	Tests       int
	Fitted      bool // false: too few tests, the theoretical null was kept
}

// minEmpirical is the number of tests below which the null is not fitted: its
// sigma would be uncertain by more than about 10 %.
const minEmpirical = 200

// LocalFDR returns for each one-sided p value the probability that it is
// false, with the null fitted to the bulk of the scores z = -Phi^-1(p)
// (Efron 2004, J. Am. Stat. Assoc. 99, 96) and the mixture density by the
// Grenander estimator, which makes the result monotone in p (Strimmer 2008,
// BMC Bioinformatics 9, 303). NaN stays NaN.
//
// It is the fallback for surveys whose noise scale is in doubt, so it never
// makes a result surer than the theoretical null does: a fitted mean below 0
// counts as 0 and a fitted sigma below 1 as 1. The mean local rate of any
// selection estimates its false share, but in catalogues so small that
// leastRate stands for what they cannot tell.
func LocalFDR(p []float64) ([]float64, EmpiricalNull) {
	order := testOrder(p)
	z := make([]float64, len(order)) // descending
	for k, i := range order {
		z[k] = ScoreOf(p[i])
	}
	null := fitNull(z)
	mean, sigma := math.Max(null.Mean, 0), math.Max(null.Sigma, 1)
	tail := make([]float64, len(z))
	for k := range z {
		tail[k] = upperTail((z[k] - mean) / sigma)
	}
	density := grenander(tail)
	out := make([]float64, len(p))
	for i := range out {
		out[i] = math.NaN()
	}
	for k, i := range order {
		out[i] = math.Max(math.Min(1, null.Share/density[k]), leastRate(p[i]))
	}
	return out, null
}

// leastRate is the least probability that a test with this p is false, when it
// was as likely false as not before: 1/(1 + 1/(-e p ln p)) (Sellke, Bayarri &
// Berger 2001, Am. Stat. 55, 62). A catalogue of few craters cannot tell its own
// share of false ones, and its smallest p is no such probability.
func leastRate(p float64) float64 {
	if !(p > 0) {
		return 0
	}
	odds := 1.0
	if p < 1/math.E {
		odds = -math.E * p * math.Log(p)
	}
	return odds / (1 + odds)
}

// fitNull fits a normal distribution truncated to the window from 2 sigma
// below to 1 sigma above the median, where signals are few, by maximum
// likelihood. z is sorted, descending.
func fitNull(z []float64) EmpiricalNull {
	null := EmpiricalNull{Sigma: 1, Share: 1, Tests: len(z)}
	if len(z) < minEmpirical {
		return null
	}
	at := func(share float64) float64 { return z[len(z)-1-int(share*float64(len(z)-1))] }
	mid := at(0.5)
	scale := mid - at(0.1587) // the lower half: signals swell the upper one
	if !(scale > 0) {
		return null
	}
	lo, hi := mid-2*scale, mid+scale
	in, below := window(z, lo, hi)
	if len(in) < minEmpirical/4 {
		return null
	}
	null.Mean, null.Sigma = truncatedNormal(in, lo, hi, mid, scale)
	null.Fitted = true
	mass := distuv.UnitNormal.CDF((hi - null.Mean) / null.Sigma)
	null.Share = math.Min(1, float64(below)/(float64(len(z))*mass))
	return null
}

// window returns the values in [lo, hi) and the number below hi.
func window(z []float64, lo, hi float64) (in []float64, below int) {
	for _, v := range z {
		if v < hi {
			below++
			if v >= lo {
				in = append(in, v)
			}
		}
	}
	return in, below
}

// truncatedNormal returns the maximum-likelihood mean and sigma of normal
// values seen only in [lo, hi), from a start. In the natural parameters
// (mu/s^2, -1/2s^2) the likelihood is concave; damped Newton steps climb it.
func truncatedNormal(x []float64, lo, hi, mean, sigma float64) (float64, float64) {
	n := float64(len(x))
	s1, s2 := 0.0, 0.0
	for _, v := range x {
		t := (v - mean) / sigma
		s1 += t / n
		s2 += t * t / n
	}
	lo, hi = (lo-mean)/sigma, (hi-mean)/sigma
	a, b := 0.0, -0.5
	total, m := tiltedMoments(a, b, lo, hi)
	cur := a*s1 + b*s2 - math.Log(total)
	for step := 1.0; step > 1e-9; {
		g1, g2 := s1-m[0], s2-m[1]
		v11, v12, v22 := m[1]-m[0]*m[0], m[2]-m[0]*m[1], m[3]-m[1]*m[1]
		det := v11*v22 - v12*v12
		na, nb := a+step*(v22*g1-v12*g2)/det, b+step*(v11*g2-v12*g1)/det
		total, nm := tiltedMoments(na, nb, lo, hi)
		next := na*s1 + nb*s2 - math.Log(total)
		if nb > -0.02 || !(next > cur) { // sigma above 5 times the start is no fit
			step /= 2
			continue
		}
		a, b, cur, m, step = na, nb, next, nm, 1
	}
	v := -0.5 / b
	return mean + sigma*a*v, sigma * math.Sqrt(v)
}

// tiltedMoments integrates exp(ax+bx^2) over [lo, hi] by Simpson's rule and
// returns the integral and the first four moments.
func tiltedMoments(a, b, lo, hi float64) (total float64, m [4]float64) {
	const steps = 200
	h := (hi - lo) / steps
	for i := range steps + 1 {
		x := lo + float64(i)*h
		w := float64(2 + 2*(i%2))
		if i == 0 || i == steps {
			w = 1
		}
		w *= h / 3 * math.Exp(x*(a+b*x))
		total += w
		for k := range m {
			w *= x
			m[k] += w
		}
	}
	for k := range m {
		m[k] /= total
	}
	return total, m
}

// grenander returns, at each of the ascending p values, the slope of the least
// concave majorant of their distribution function: the maximum-likelihood
// decreasing density on 0..1. At its jumps the higher value stands, without
// which a single outstanding crater would never count.
func grenander(p []float64) []float64 {
	n := len(p)
	type corner struct{ x, y float64 }
	hull := []corner{{0, 0}}
	slope := func(a, b corner) float64 { return (b.y - a.y) / math.Max(b.x-a.x, 1e-300) }
	push := func(c corner) {
		for len(hull) > 1 && slope(hull[len(hull)-2], hull[len(hull)-1]) <= slope(hull[len(hull)-1], c) {
			hull = hull[:len(hull)-1]
		}
		hull = append(hull, c)
	}
	for k, x := range p {
		push(corner{x, float64(k+1) / float64(n)})
	}
	push(corner{1, 1})
	out := make([]float64, n)
	seg := 1
	for k, x := range p {
		for seg < len(hull)-1 && x > hull[seg].x {
			seg++
		}
		out[k] = slope(hull[seg-1], hull[seg])
	}
	return out
}
