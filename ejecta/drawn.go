package ejecta

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// NoiseDraws draws what noise alone would have given at a site: the products of
// the value column with all others, normal with the covariance that the other
// products are. Mask, cells, neighbours and covariates are the site's own; its
// values, and with them any blanket it has, play no part. A covariate whose slope
// the map knows acts with that slope.
type NoiseDraws struct {
	e    *Evidence
	root []float64 // lower factor of the products of all columns but the value
	sd   float64   // of a pixel
}

// NoiseDraws prepares draws with a null scale; nil when the site holds no
// products.
func (e *Evidence) NoiseDraws(scale float64) *NoiseDraws {
	if e.Gram == nil {
		return nil
	}
	n := e.Gram.P - 1
	for _, ridge := range []float64{1e-11, 1e-9, 1e-7} { // some columns depend on others
		a := make([]float64, n*n)
		for i := range n {
			copy(a[i*n:], e.Gram.M[(i+1)*e.Gram.P+1:(i+2)*e.Gram.P])
			a[i*n+i] += ridge*a[i*n+i] + 1e-300
		}
		if t, ok := lapack64.Potrf(blas64.Symmetric{N: n, Stride: n, Data: a, Uplo: blas.Lower}); ok {
			return &NoiseDraws{e, t.Data, math.Sqrt(e.Variance * scale)}
		}
	}
	return nil
}

// Draw returns the evidence of one draw. The plain means of rings and sectors
// stay those of the map.
func (n *NoiseDraws) Draw(rng *rand.Rand) *Evidence {
	g := n.e.Gram
	size := g.P - 1
	z := make([]float64, size)
	for i := range z {
		z[i] = n.sd * rng.NormFloat64()
	}
	slopes := make([]float64, len(g.pulls))
	for i, p := range g.pulls {
		slopes[i] = p.mean + math.Sqrt(n.e.Variance/p.ridge)*rng.NormFloat64()
	}
	out := *n.e
	out.ground = nil
	out.Gram = g.plusValue(func(j int) float64 {
		v := dot(n.root[(j-1)*size:(j-1)*size+j], z[:j]) - g.at(colValue, j)
		for i, p := range g.pulls {
			v += slopes[i] * g.at(p.col, j)
		}
		return v
	})
	return &out
}

// LimitCheck counts what became of a blanket of the size of a limit.
type LimitCheck struct {
	Trials  int
	Half    int // found at Detectable50
	Most    int // found at Detectable95
	Allowed int // upper limit no lower than the planted Detectable50
}

// Add plants symmetric blankets of the two limits into one piece of evidence and
// counts.
func (c *LimitCheck) Add(e *Evidence, half, most float64, set Settings, scale float64) {
	nuisance := e.nuisance(set.WithDefaults())
	at := e.Inject(PatternSymmetric, half, 0).blanketBeside(nuisance, scale)
	c.Trials++
	c.Half += counted(at.P < DetectionLevel)
	_, _, upper := at.Limits()
	c.Allowed += counted(upper >= half)
	c.Most += counted(e.Inject(PatternSymmetric, most, 0).blanketBeside(nuisance, scale).P < DetectionLevel)
}

func counted(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// Merge adds the counts of another check.
func (c *LimitCheck) Merge(o LimitCheck) {
	c.Trials, c.Half, c.Most, c.Allowed = c.Trials+o.Trials, c.Half+o.Half, c.Most+o.Most, c.Allowed+o.Allowed
}

// Limits are the detection limits of the site and the upper limit that its values
// give; NaN without products.
func (e *Evidence) Limits(set Settings, scale float64) (half, most, upper float64) {
	if e.Gram == nil {
		return math.NaN(), math.NaN(), math.NaN()
	}
	return e.blanketBeside(e.nuisance(set.WithDefaults()), scale).Limits()
}

// CheckLimits plants blankets of the limits of the site into draws of its own
// noise.
func (n *NoiseDraws) CheckLimits(draws int, set Settings, scale float64, rng *rand.Rand) (c LimitCheck) {
	half, most, _ := n.e.Limits(set, scale)
	for range draws {
		c.Add(n.Draw(rng), half, most, set, scale)
	}
	return c
}
