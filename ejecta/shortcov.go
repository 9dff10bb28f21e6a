package ejecta

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/gonum"
)

// On a map hardly larger than the rings, the correlation of far pixels rests
// on a handful of pairs or is not measured at all, and the covariance of the
// cells may be that of no noise. Then it is cut short: multiplied by a
// correlation that ends at a reach, shorter and shorter until the product is a
// covariance. Covariance tapering after Furrer, Genton & Nychka (2006), Journal
// of Computational and Graphical Statistics 15, 502 (from memory), with the
// spherical correlation.

// longestReach is the first reach tried, crater radii; it is halved until the
// covariance can be factorised.
const (
	longestReach  = 16.0
	shortestReach = 1e-3
)

// shorten multiplies the lower triangle of the covariance of cells.
func shorten(c *Cells, cov []float64, reach float64) []float64 {
	out := append([]float64(nil), cov...)
	for i := range c.N {
		for j := range i {
			out[i*c.N+j] *= spherical(cellDistance(c, i, j) / reach)
		}
	}
	return out
}

// cellDistance is the distance of the means of two cells, crater radii.
func cellDistance(c *Cells, i, j int) float64 {
	ri, rj := c.Rho[i], c.Rho[j]
	return math.Sqrt(math.Max(0, ri*ri+rj*rj-2*ri*rj*math.Cos(c.Az[i]-c.Az[j])))
}

func spherical(h float64) float64 {
	if h >= 1 {
		return 0
	}
	return 1 - 1.5*h + 0.5*h*h*h
}

// factorised returns the Cholesky factor of a covariance given by its lower
// triangle, with a little added to the diagonal where needed.
func factorised(a []float64, n int) (blas64.Triangular, bool) {
	trace := 0.0
	for i := range n {
		trace += a[i*n+i]
	}
	for jitter := 1e-6; jitter < 1e-2; jitter *= 30 {
		b := make([]float64, n*n)
		for i := range n {
			copy(b[i*n:i*n+i+1], a[i*n:])
			b[i*n+i] += jitter * trace / float64(n)
		}
		// The unblocked form: a few hundred rows are too few for the blocked
		// one, whose goroutines would compete with the workers.
		if (gonum.Implementation{}).Dpotf2(blas.Lower, n, b, n) {
			return blas64.Triangular{N: n, Stride: n, Data: b, Uplo: blas.Lower, Diag: blas.NonUnit}, true
		}
	}
	return blas64.Triangular{}, false
}
