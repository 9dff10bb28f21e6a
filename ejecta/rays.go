package ejecta

import (
	"math"
	"math/rand/v2"

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
// terms: a constant can be added to all lobes). Its null distribution given A, a
// mixture of chi-squares, is matched by a scaled chi-square with the moments of
// simulated scores.
type rayTest struct {
	gram      []float64 // n x n, with the blanket's term
	n         int
	amplitude float64
	variance  float64 // of the amplitude
	work      activeSet
	scores    [rayLobes]float64
}

func (d *Directional) newRayTest(amplitude, variance float64) *rayTest {
	n := len(rayBasis.turned)
	r := &rayTest{gram: make([]float64, n*n), n: n, amplitude: amplitude, variance: variance}
	for i := range n {
		var w [2 * Orders]float64
		for j, v := range rayBasis.turned[i] {
			if v != 0 {
				axpy(v, d.Info[j*2*Orders:(j+1)*2*Orders], w[:])
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
	s := r.scores[:r.n]
	for i := range s {
		s[i] = dot(rayBasis.turned[i][:], score)
	}
	return r.over(s, amplitude)
}

// over is T for the scores of the lobes, to which the blanket's is added.
func (r *rayTest) over(s []float64, amplitude float64) float64 {
	for i := range s {
		s[i] += amplitude / r.variance
	}
	_, t := r.fit(s)
	a := math.Max(amplitude, 0)
	return t - a*a/r.variance
}

// fit maximises 2 a's - a'Ga over a >= 0 by the active-set method of Lawson &
// Hanson (1974), Solving Least Squares Problems, chapter 23.
func (r *rayTest) fit(s []float64) (a []float64, t float64) {
	f := &r.work
	f.start(r, s)
	for range 3 * r.n {
		best := f.steepest()
		if best < 0 {
			break
		}
		f.free(best)
		f.solve()
	}
	for i, v := range f.a[:r.n] {
		t += v * s[i]
	}
	return f.a[:r.n], t
}

// activeSet is the state of a non-negative fit: the free lobes in the order of
// their coming, and the Cholesky factor of their block of the Gram matrix, to
// which a new lobe only adds a row.
type activeSet struct {
	r    *rayTest
	s    []float64
	a    [rayLobes]float64 // amplitudes
	z    [rayLobes]float64 // unconstrained solution of the free lobes
	x    [rayLobes]float64 // L x = s of the free lobes
	used [rayLobes]bool

	slope [rayLobes]float64
	list  []int
	l     [rayLobes * rayLobes]float64
}

func (f *activeSet) start(r *rayTest, s []float64) {
	f.r, f.s, f.list = r, s, f.list[:0]
	clear(f.a[:])
	clear(f.used[:])
}

// steepest is the fixed lobe along which the likelihood rises most; -1 when it
// rises along none.
func (f *activeSet) steepest() int {
	best, most := -1, 1e-6
	n := f.r.n
	slope := f.slope[:n]
	copy(slope, f.s)
	for _, j := range f.list {
		axpy(-f.a[j], f.r.gram[j*n:(j+1)*n], slope)
	}
	for i, v := range slope {
		own := f.r.gram[i*n+i]
		if v > 0 && !f.used[i] && own > 0 && v*v > most*most*own {
			best, most = i, v/math.Sqrt(own)
		}
	}
	return best
}

// free adds a lobe: a row of the factor.
func (f *activeSet) free(i int) {
	f.used[i] = true
	f.list = append(f.list, i)
	f.factor(len(f.list) - 1)
}

// factor computes a row of the Cholesky factor and of the forward solution.
func (f *activeSet) factor(k int) {
	row := f.r.gram[f.list[k]*f.r.n:]
	l := f.l[k*rayLobes : k*rayLobes+k+1]
	for j := range k {
		lj := f.l[j*rayLobes : j*rayLobes+j+1]
		l[j] = (row[f.list[j]] - dot(l[:j], lj)) / lj[j]
	}
	d := row[f.list[k]]
	l[k] = math.Sqrt(math.Max(d-dot(l[:k], l), 1e-10*d))
	f.x[k] = (f.s[f.list[k]] - dot(l[:k], f.x[:])) / l[k]
}

// solve finds the amplitudes of the free lobes, stepping back to the boundary
// and dropping those that would turn negative.
func (f *activeSet) solve() {
	for len(f.list) > 0 {
		f.backward()
		step, hit := 1.0, -1
		for k, i := range f.list {
			if f.z[k] <= 0 {
				if q := f.a[i] / (f.a[i] - f.z[k]); hit < 0 || q < step {
					step, hit = q, k
				}
			}
		}
		if hit < 0 {
			for k, i := range f.list {
				f.a[i] = f.z[k]
			}
			return
		}
		for k, i := range f.list {
			f.a[i] += step * (f.z[k] - f.a[i])
		}
		f.fix(hit)
	}
}

// fix sets a free lobe to zero and renews the rows that came after it.
func (f *activeSet) fix(k int) {
	f.a[f.list[k]], f.used[f.list[k]] = 0, false
	f.list = append(f.list[:k], f.list[k+1:]...)
	for ; k < len(f.list); k++ {
		f.factor(k)
	}
}

// backward solves L' z = x.
func (f *activeSet) backward() {
	for i := len(f.list) - 1; i >= 0; i-- {
		v := f.x[i]
		for k := i + 1; k < len(f.list); k++ {
			v -= f.l[k*rayLobes+i] * f.z[k]
		}
		f.z[i] = v / f.l[i*rayLobes+i]
	}
}

// rayMoments are mean and variance of T under a symmetric blanket.
type rayMoments struct{ mean, variance float64 }

// roughRays are moments typical of full coverage, for an information that has no
// factor to draw scores with.
func roughRays(snr float64) rayMoments {
	m := 7 + 1.8*math.Max(snr, 0)
	return rayMoments{m, 2 * m}
}

// rayNull is how the moments simulated at a crater compare with the typical
// ones. Other choices of rings and layers at the same crater change the
// information little, and the ratio holds for them; zero when not known yet.
type rayNull struct{ mean, variance float64 }

// at are the moments for a blanket of the given score.
func (n *rayNull) at(snr float64) rayMoments {
	typical := roughRays(snr)
	return rayMoments{n.mean * typical.mean, n.variance * typical.variance}
}

func (n *rayNull) keep(m rayMoments, snr float64) {
	typical := roughRays(snr)
	*n = rayNull{m.mean / typical.mean, m.variance / typical.variance}
}

func (m rayMoments) p(t float64) float64 {
	scale := m.variance / (2 * m.mean)
	return ChiSquareP(t/scale, m.mean/scale)
}

// moments simulates T with this crater's own information for the blanket that
// was measured. The rings that give the blanket are projected out of the
// directional score, so under no direction the two are independent, and T given
// the blanket has a distribution that the unknown true blanket does not enter:
// the test holds its size at any. Drawing the blanket too, round the measured
// one, counts its error twice: size 0.02 at 0.05 on bare ground.
func (r *rayTest) moments(d *Directional, draws int, rng *rand.Rand) rayMoments {
	l := d.root()
	if l == nil {
		return roughRays(r.amplitude / math.Sqrt(r.variance))
	}
	lobes, z := lobeRoots(l), make([]float64, 2*Orders)
	sum, sum2 := 0.0, 0.0
	for range draws {
		for i := range z {
			z[i] = rng.NormFloat64()
		}
		s := r.scores[:r.n]
		for i := range s {
			s[i] = dot(lobes[i*len(z):(i+1)*len(z)], z)
		}
		t := r.over(s, r.amplitude)
		sum += t
		sum2 += t * t
	}
	mean := sum / float64(draws)
	return rayMoments{mean, sum2/float64(draws) - mean*mean}
}

// lobeRoots turns standard normal numbers into scores of the lobes, a row each, by
// the lower Cholesky factor of the information.
func lobeRoots(l []float64) []float64 {
	const n = 2 * Orders
	out := make([]float64, len(rayBasis.turned)*n)
	for i := range rayBasis.turned {
		for k, v := range rayBasis.turned[i] {
			axpy(v, l[k*n:k*n+k+1], out[i*n:(i+1)*n])
		}
	}
	return out
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
