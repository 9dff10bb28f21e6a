package ejecta

import (
	"math"
	"testing"
)

// A correlation that rises again at far lags is that of no noise: the whitener
// cuts it short instead of giving up, and leaves near cells as they are.
func TestShortenedCovariance(t *testing.T) {
	const n = 40
	c := &Cells{N: n, Layout: &Layout{Rings: 1, Sectors: n}}
	for i := range n {
		c.Rho, c.Az = append(c.Rho, 6), append(c.Az, 2*math.Pi*float64(i)/n)
		c.Ring, c.Weight = append(c.Ring, 0), append(c.Weight, 1)
	}
	cov := make([]float64, n*n)
	for i := range n {
		for j := range i + 1 {
			cov[i*n+j] = math.Cos(float64(i-j)) * math.Min(1, 0.5+math.Abs(float64(i-j))/n) // no covariance
		}
		cov[i*n+i] = 1
	}
	if _, ok := factorised(cov, n); ok {
		t.Fatal("the example is a covariance after all")
	}
	l, rings, err := factoriseCells(c, cov)
	if err != nil || !(rings[0] > 0) {
		t.Fatalf("rings %v, error %v", rings, err)
	}
	for i := range n {
		sum := 0.0
		for k := range i + 1 {
			sum += l.Data[i*n+k] * l.Data[i*n+k]
		}
		if math.Abs(sum-1) > 0.02 {
			t.Errorf("variance of cell %d is %g", i, sum)
		}
	}
}

func TestSphericalCorrelation(t *testing.T) {
	for _, c := range []struct{ h, want float64 }{{0, 1}, {0.5, 0.3125}, {1, 0}, {2, 0}} {
		if got := spherical(c.h); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("spherical(%g) = %g, want %g", c.h, got, c.want)
		}
	}
}
