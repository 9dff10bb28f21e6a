package ejecta

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// EpochNoise is how the noise of the times of day goes together: they show the
// same ground. It is measured at null positions on the ground common to all.
type EpochNoise struct {
	Blanket   []float64 // covariance of the blanket scores, K x K; 1 on the diagonal where the noise model is right
	Direction []float64 // of the scores of the harmonics
	Places    float64   // number of null positions that they rest on; +Inf when known
	epochs    int
}

// KnownEpochNoise has one correlation between all epochs, known exactly.
func KnownEpochNoise(epochs int, r float64) EpochNoise {
	m := make([]float64, epochs*epochs)
	for i := range m {
		m[i] = r
	}
	for i := range epochs {
		m[i*epochs+i] = 1
	}
	return EpochNoise{m, m, math.Inf(1), epochs}
}

// beliefPlaces is the weight, in null positions, of all sizes together when the
// covariance of one class of sizes is wanted.
const beliefPlaces = 60

// minEpochPlaces is the least number of null positions for a covariance.
const minEpochPlaces = 20

// NewEpochNoise estimates the covariance from the scores of null positions,
// place by place and epoch by epoch, as [Probe.EpochScores] gives them, over the
// root of the null scale: that of the size class, pulled towards that of all
// sizes. Variances are taken from there too: where the noise is correlated over
// more than a crater, blankets vary more than the noise model says. Places that lack an
// epoch do not count. ok is false when there are too few.
func NewEpochNoise(epochs int, class, all [][][]float64) (n EpochNoise, ok bool) {
	own, total := whole(class), whole(all)
	if len(total) < minEpochPlaces {
		return EpochNoise{}, false
	}
	n = EpochNoise{epochs: epochs, Places: math.Min(float64(len(total)), float64(len(own)+beliefPlaces))}
	n.Blanket = pulled(moments(epochs, own, 0, 1), moments(epochs, total, 0, 1), len(own))
	n.Direction = pulled(moments(epochs, own, 1, 5), moments(epochs, total, 1, 5), len(own))
	return n, true
}

// AtMost is the noise with no more places behind it than so many: null positions
// that overlap are not as good as so many apart.
func (n EpochNoise) AtMost(places int) EpochNoise {
	n.Places = math.Min(n.Places, float64(places))
	return n
}

// whole keeps the places that have all epochs.
func whole(places [][][]float64) (out [][][]float64) {
	lacking := func(scores []float64) bool { return len(scores) != 5 }
	for _, p := range places {
		if len(p) > 0 && !slices.ContainsFunc(p, lacking) {
			out = append(out, p)
		}
	}
	return out
}

// moments are the mean products of some scores: their covariance about zero,
// which is their expectation at a place without a crater. Scores are pulled in to
// four errors, so that an uncatalogued crater does not set them alone.
func moments(epochs int, places [][][]float64, from, to int) []float64 {
	c := make([]float64, epochs*epochs)
	n := float64(max(1, len(places)*(to-from)))
	for _, p := range places {
		for i := range epochs {
			for j := range epochs {
				for k := from; k < to; k++ {
					c[i*epochs+j] += pulledIn(p[i][k]) * pulledIn(p[j][k]) / n
				}
			}
		}
	}
	return c
}

func pulledIn(x float64) float64 { return math.Max(-4, math.Min(4, x)) }

// pulled is the mean of the covariances of a class and of all.
func pulled(class, all []float64, places int) []float64 {
	w := float64(places) / float64(places+beliefPlaces)
	out := make([]float64, len(all))
	for i := range out {
		out[i] = w*class[i] + (1-w)*all[i]
	}
	return out
}

// of takes some epochs out of the noise.
func (n EpochNoise) of(m []float64, keep []int) []float64 {
	out := make([]float64, 0, len(keep)*len(keep))
	for _, i := range keep {
		for _, j := range keep {
			out = append(out, m[i*n.epochs+j])
		}
	}
	return out
}

// mean is the mean correlation of the blankets of two epochs.
func (n EpochNoise) mean(keep []int) float64 {
	sum, m, k := 0.0, n.of(n.Blanket, keep), len(keep)
	for i := range k {
		for j := range i {
			sum += m[i*k+j] / math.Sqrt(m[i*k+i]*m[j*k+j])
		}
	}
	return 2 * sum / float64(k*(k-1))
}

// ratioP is the p of a chi-square whose covariance was estimated at so many
// places: Hotelling (1931), Ann. Math. Stat. 2, 360, T^2 (n - k + 1) / (n k) is
// F with k and n - k + 1 degrees of freedom.
func (n EpochNoise) ratioP(chi2 float64, k int) float64 {
	d, rest := float64(k), n.Places-float64(k)+1
	switch {
	case math.IsInf(n.Places, 1):
		return ChiSquareP(chi2, d)
	case !(rest > 0):
		return 1
	}
	return distuv.F{D1: d, D2: rest}.Survival(chi2 * rest / (n.Places * d))
}

// quantile is the two-sided quantile of a difference, shared among several.
func (n EpochNoise) quantile(level float64, among int) float64 {
	tail := 1 - (1-level)/2/float64(among)
	if math.IsInf(n.Places, 1) {
		return distuv.UnitNormal.Quantile(tail)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n.Places}.Quantile(tail)
}

// amplitudes are the blankets of some epochs with their covariance.
type amplitudes struct {
	a, v []float64
	n    int
}

func newAmplitudes(list []*EpochFinding, r []float64) amplitudes {
	m := amplitudes{n: len(list)}
	for i, f := range list {
		m.a = append(m.a, f.Blanket)
		for j, g := range list {
			m.v = append(m.v, r[i*len(list)+j]*f.BlanketSE*g.BlanketSE)
		}
	}
	return m
}

// differ is the chi-square, with n-1 degrees of freedom, that all amplitudes are
// one: a'V^-1 a - (1'V^-1 a)^2 / 1'V^-1 1.
func (m amplitudes) differ() float64 {
	inv := inverse(m.v, m.n)
	if inv == nil {
		return math.NaN()
	}
	ones := make([]float64, m.n)
	for i := range ones {
		ones[i] = 1
	}
	w := multiply(inv, m.n, ones)
	s := dot(w, m.a)
	return math.Max(0, dot(m.a, multiply(inv, m.n, m.a))-s*s/dot(w, ones))
}

// common is the mean weighted by the epochs' own errors. Weights from the
// correlations too would be a little better were they known; estimated, they
// can fall below zero and carry the mean outside its values.
func (m amplitudes) common() (mean, se float64) {
	w := make([]float64, m.n)
	total := 0.0
	for i := range w {
		w[i] = 1 / m.v[i*m.n+i]
		total += w[i]
	}
	for i := range w {
		w[i] /= total
	}
	return dot(w, m.a), math.Sqrt(quadratic(m.v, m.n, w))
}

// change is the difference of two epochs with its error.
func (m amplitudes) change(i, j int) (d, se float64) {
	return m.a[j] - m.a[i], math.Sqrt(math.Max(0, m.v[i*m.n+i]+m.v[j*m.n+j]-2*m.v[i*m.n+j]))
}

// largestChange finds the pair of epochs, earlier first, that differ most.
func (m amplitudes) largestChange() (from, to int) {
	i, j := argMin(m.a), argMax(m.a)
	if i == j { // all are alike
		j = m.n - 1
	}
	return min(i, j), max(i, j)
}

// share is the smallest amplitude over the largest with its interval, by the
// theorem of Fieller (1954), J. R. Stat. Soc. B 16, 175: ratios q with
// (a - q b)^2 <= t^2 var(a - q b). NaN where the largest is not plain.
func (m amplitudes) share(t float64) (share, lo, hi float64) {
	i, j := argMin(m.a), argMax(m.a)
	vi, vj, c := m.v[i*m.n+i], m.v[j*m.n+j], m.v[i*m.n+j]
	a, b := m.a[i], m.a[j]
	// q^2 (b^2 - t^2 vj) - 2 q (a b - t^2 c) + a^2 - t^2 vi <= 0
	p2, p1, p0 := b*b-t*t*vj, a*b-t*t*c, a*a-t*t*vi
	disc := p1*p1 - p2*p0
	if !(b > 3*math.Sqrt(vj)) || !(p2 > 0) || !(disc >= 0) {
		nan := math.NaN()
		return nan, nan, nan
	}
	r := math.Sqrt(disc)
	return math.Max(0, a/b), (p1 - r) / p2, (p1 + r) / p2
}

func argMin(x []float64) int {
	best := 0
	for i, v := range x {
		if v < x[best] {
			best = i
		}
	}
	return best
}
