package ejecta

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// rayLobes is the number of lobes in the non-negative fit.
const rayLobes = 36

// rayTest is the non-negative fit of lobes every 10 degrees, the test for
// irregular rays. No direction may hold less than nothing: the lobes a_j >= 0
// carry the whole excess, so their sum answers to the blanket A measured from
// the rings, and their unevenness to the directional score s. The statistic is
// the chi-square gained over a symmetric blanket,
//
//	T = max over a >= 0 of 2 a's - a'Ga - (sum a - A)^2/v  + min(A, 0)^2/v
//
// (with ring means free, the constraint would be empty without the last two
// terms: a constant can be added to all lobes). Its null distribution, a
// mixture of chi-squares that depends on A, is matched by a scaled chi-square
// with the moments of simulated symmetric blankets of the same size.
type rayTest struct {
	gram      []float64 // n x n, with the blanket's term
	n         int
	amplitude float64
	variance  float64 // of the amplitude
}

func (d *Directional) newRayTest(amplitude, variance float64) *rayTest {
	n := len(rayBasis.turned)
	r := &rayTest{gram: make([]float64, n*n), n: n, amplitude: amplitude, variance: variance}
	for i := range n {
		var w [2 * Orders]float64
		for j, v := range rayBasis.turned[i] {
			if v != 0 {
				row := d.Info[j*2*Orders : (j+1)*2*Orders]
				for k, u := range row {
					w[k] += v * u
				}
			}
		}
		for j := range n {
			r.gram[i*n+j] = dot(w[:], rayBasis.turned[j][:]) + 1/variance
		}
	}
	return r
}

// statistic is T for a directional score and a measured blanket.
func (r *rayTest) statistic(score []float64, amplitude float64) float64 {
	s := make([]float64, r.n)
	for i := range s {
		s[i] = dot(rayBasis.turned[i][:], score) + amplitude/r.variance
	}
	_, t := r.fit(s)
	a := math.Max(amplitude, 0)
	return t - a*a/r.variance
}

// fit maximises 2 a's - a'Ga over a >= 0 by the active-set method of Lawson &
// Hanson (1974), Solving Least Squares Problems, chapter 23.
func (r *rayTest) fit(s []float64) (a []float64, t float64) {
	n := r.n
	a = make([]float64, n)
	var passive []int
	for range 3 * n {
		best, gain := -1, 1e-12
		for i := range n {
			g := r.gram[i*n+i]
			if g <= 0 || a[i] > 0 {
				continue
			}
			slope := s[i]
			for _, j := range passive {
				slope -= r.gram[i*n+j] * a[j]
			}
			if v := slope / math.Sqrt(g); v > gain && !slices.Contains(passive, i) {
				best, gain = i, v
			}
		}
		if best < 0 || gain < 1e-6 {
			break
		}
		passive = r.solvePassive(a, s, append(passive, best))
	}
	for i, v := range a {
		t += v * s[i]
	}
	return a, t
}

// solvePassive solves for the free amplitudes, stepping back to the boundary
// and dropping those that would turn negative.
func (r *rayTest) solvePassive(a, s []float64, passive []int) []int {
	for len(passive) > 0 {
		z := r.unconstrained(s, passive)
		step, hit := 1.0, -1
		for k, i := range passive {
			if z[k] <= 0 {
				if f := a[i] / (a[i] - z[k]); hit < 0 || f < step {
					step, hit = f, k
				}
			}
		}
		if hit < 0 {
			for k, i := range passive {
				a[i] = z[k]
			}
			return passive
		}
		for k, i := range passive {
			a[i] += step * (z[k] - a[i])
		}
		a[passive[hit]] = 0
		passive = append(passive[:hit], passive[hit+1:]...)
	}
	return passive
}

// unconstrained solves the normal equations of the chosen lobes by Cholesky.
func (r *rayTest) unconstrained(s []float64, set []int) []float64 {
	m := len(set)
	var l [rayLobes * rayLobes]float64
	x := make([]float64, m)
	for i := range m {
		row := r.gram[set[i]*r.n:]
		for j := range i + 1 {
			v := row[set[j]]
			for k := range j {
				v -= l[i*m+k] * l[j*m+k]
			}
			if i == j {
				l[i*m+i] = math.Sqrt(math.Max(v, 1e-10*row[set[i]]))
			} else {
				l[i*m+j] = v / l[j*m+j]
			}
		}
		v := s[set[i]]
		for k := range i {
			v -= l[i*m+k] * x[k]
		}
		x[i] = v / l[i*m+i]
	}
	for i := m - 1; i >= 0; i-- {
		for k := i + 1; k < m; k++ {
			x[i] -= l[k*m+i] * x[k]
		}
		x[i] /= l[i*m+i]
	}
	return x
}

// rayMoments are mean and variance of T under a symmetric blanket.
type rayMoments struct{ mean, variance float64 }

// roughRays are moments typical of full coverage, good enough to tell that a
// statistic is unremarkable.
func roughRays(snr float64) rayMoments {
	m := 7 + 1.8*math.Max(snr, 0)
	return rayMoments{m, 2 * m}
}

func (m rayMoments) p(t float64) float64 {
	scale := m.variance / (2 * m.mean)
	return ChiSquareP(t/scale, m.mean/scale)
}

// moments simulates T under a symmetric blanket of the measured size with this
// crater's own information.
func (r *rayTest) moments(d *Directional, draws int, rng *rand.Rand) rayMoments {
	l := d.root()
	if l == nil {
		return roughRays(r.amplitude / math.Sqrt(r.variance))
	}
	const n = 2 * Orders
	z, s := make([]float64, n), make([]float64, n)
	sum, sum2 := 0.0, 0.0
	for range draws {
		for i := range z {
			z[i] = rng.NormFloat64()
		}
		for i := range n {
			s[i] = dot(l[i*n:i*n+i+1], z)
		}
		t := r.statistic(s, math.Max(r.amplitude, 0)+math.Sqrt(r.variance)*rng.NormFloat64())
		sum += t
		sum2 += t * t
	}
	mean := sum / float64(draws)
	return rayMoments{mean, sum2/float64(draws) - mean*mean}
}

// root is the lower Cholesky factor of the information, or nil.
func (d *Directional) root() []float64 {
	const n = 2 * Orders
	a := append([]float64(nil), d.Info[:]...)
	trace := 0.0
	for i := range n {
		trace += a[i*n+i]
	}
	for i := range n {
		a[i*n+i] += 1e-9 * trace
	}
	t, ok := lapack64.Potrf(blas64.Symmetric{N: n, Stride: n, Data: a, Uplo: blas.Lower})
	if !ok {
		return nil
	}
	return t.Data
}
