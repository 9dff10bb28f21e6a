package ejecta

import (
	"math"
)

// Directional is the directional content of one crater: score and information
// of the azimuthal harmonics rho^-3 cos k az, rho^-3 sin k az after every
// symmetric profile, the plane and other nuisance have been projected out.
// Under no direction the score is normal with mean zero and covariance Info.
type Directional struct {
	Score [2 * Orders]float64
	Info  [4 * Orders * Orders]float64
}

// directional sweeps a Gram matrix for the directional tests: free ring means,
// plane, the within-ring trace of any blanket, further nuisance, and a centre
// that may be displaced with prior standard deviation centre (in the unit of
// the species, per crater radius of rho^-4). variance is pixel variance times
// null scale.
func directional(g *Gram, nuisance []int, centre, variance float64) *Directional {
	sw := directionSweep(g, nuisance)
	if centre > 0 {
		ridge := variance / (centre * centre)
		sw.eliminate(colCentre, ridge, 0)
		sw.eliminate(colCentre+1, ridge, 0)
		sw.mirror()
	}
	d := &Directional{}
	const n = 2 * Orders
	for i := range n {
		d.Score[i] = sw.at(colCos+i, colValue) / variance
		for j := range n {
			d.Info[i*n+j] = sw.at(colCos+i, colCos+j) / variance
		}
	}
	return d
}

// directionSweep takes every symmetric profile, the plane and other nuisance out
// of all columns.
func directionSweep(g *Gram, nuisance []int) *Gram {
	smooth := []int{colDecay + 1, colDecay + 3, colDecay + 5, colDecay + 7, colDecay + 11}
	return g.Without([]int{colConst}, span(colRings, colRings+g.Rings), span(colPlane, colPlane+2), smooth, nuisance)
}

// score returns matched-filter numerator and information of a template.
func (d *Directional) score(a *[2 * Orders]float64) (s, g float64) {
	const n = 2 * Orders
	s = dot(a[:], d.Score[:])
	for i, v := range a {
		if v != 0 { // the matrix is symmetric: its upper triangle will do
			g += v * (v*d.Info[i*n+i] + 2*dot(a[i+1:], d.Info[i*n+i+1:(i+1)*n]))
		}
	}
	return s, g
}

// z is the matched-filter score, standard normal under no direction.
func (d *Directional) z(a *[2 * Orders]float64) float64 {
	s, g := d.score(a)
	if !(g > 0) {
		return 0
	}
	return s / math.Sqrt(g)
}

// scan holds the scores of a family along its directions.
type scan struct {
	z      []float64
	best   int
	length float64 // Lambda, the length of the path of unit whitened templates
}

// scan scores all directions of a family and measures the length of its path,
//
//	Lambda = sum of arccos(u_t . u_t+1)
func (d *Directional) scan(f *family) scan {
	sc := scan{z: make([]float64, len(f.turned))}
	var first, prev [2 * Orders]float64 // unit templates times Info
	var last []float64
	for t := range f.turned {
		a := &f.turned[t]
		cur, g := d.whitened(a)
		if g <= 0 {
			return scan{z: sc.z}
		}
		sc.z[t] = dot(a[:], d.Score[:]) / math.Sqrt(g)
		if sc.z[t] > sc.z[sc.best] {
			sc.best = t
		}
		last = scaled(a, g)
		if t == 0 {
			first = cur
		} else {
			sc.length += arc(dot(prev[:], last))
		}
		prev = cur
	}
	sc.length += arc(dot(first[:], last))
	return sc
}

func scaled(a *[2 * Orders]float64, g float64) []float64 {
	r := 1 / math.Sqrt(g)
	out := make([]float64, len(a))
	for i, v := range a {
		out[i] = v * r
	}
	return out
}

func (d *Directional) whitened(a *[2 * Orders]float64) (w [2 * Orders]float64, g float64) {
	const n = 2 * Orders
	for j, v := range a {
		if v == 0 {
			continue
		}
		axpy(v, d.Info[j*n:(j+1)*n], w[:])
	}
	g = dot(a[:], w[:])
	if g > 0 {
		r := 1 / math.Sqrt(g)
		for i := range w {
			w[i] *= r
		}
	}
	return w, g
}

func arc(c float64) float64 { return math.Acos(math.Max(-1, math.Min(1, c))) }

// omnibus is the chi-square of the harmonics 1..order with its p.
func (d *Directional) omnibus(order int) (chi2, p float64) {
	h, inv := d.estimate(append(span(0, order), span(Orders, Orders+order)...))
	if inv == nil {
		return math.NaN(), math.NaN()
	}
	chi2 = dot(h.score, multiply(inv, len(h.score), h.score))
	return chi2, ChiSquareP(chi2, float64(len(h.score)))
}

// harmonics are some harmonics' scores and generalised least-squares estimates.
type harmonics struct{ score, value []float64 }

// estimate solves for the given columns alone; the inverse of their information
// is the estimates' covariance, nil when there is none.
func (d *Directional) estimate(cols []int) (h harmonics, cov []float64) {
	n := len(cols)
	m := make([]float64, n*n)
	h.score = make([]float64, n)
	for a, i := range cols {
		h.score[a] = d.Score[i]
		for b, j := range cols {
			m[a*n+b] = d.Info[i*2*Orders+j]
		}
	}
	if cov = inverse(m, n); cov != nil {
		h.value = multiply(cov, n, h.score)
	}
	return h, cov
}

// coefficients returns the generalised least-squares estimate of the harmonics
// up to order 2, [cos1, cos2, sin1, sin2], and its covariance.
func (d *Directional) coefficients() (h, cov []float64) {
	e, cov := d.estimate([]int{0, 1, Orders, Orders + 1})
	return e.value, cov
}
