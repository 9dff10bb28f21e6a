package ejecta

import (
	"math/rand/v2"
	"testing"
)

// The p of irregular rays holds its size on bare ground, where the measured
// blanket is noise as often below zero as above, and under a faint blanket.
func TestSizeOfIrregularRays(t *testing.T) {
	g := newAxisGround(t, "exp5")
	rng := rand.New(rand.NewPCG(8, 8))
	var none [2 * Orders]float64
	const n, sigma = 300, 0.4
	for _, blanket := range []float64{0, 3} {
		below := 0
		for range n {
			d := g.draw(0, &none, rng)
			if d.testRays(Blanket{Z: blanket + rng.NormFloat64(), Sigma: sigma}, rng.Uint64(), new(rayNull)).P < 0.05 {
				below++
			}
		}
		// Binomial with n = 300: 15 with standard deviation 3.8.
		if below < 7 || below > 26 {
			t.Errorf("blanket of %g sigma: %d of %d below .05", blanket, below, n)
		}
	}
}

// The weights add to one, so that the weighted bound is one.
func TestFamilyWeights(t *testing.T) {
	sum := 0.0
	for _, w := range familyWeights {
		sum += w
	}
	within(t, "sum of weights", sum, 1, 1e-12)
}

func BenchmarkRays(b *testing.B) {
	g := newAxisGround(b, "exp5")
	var none [2 * Orders]float64
	d := g.draw(0, &none, rand.New(rand.NewPCG(8, 8)))
	r := d.newRayTest(0.3, 0.16)
	for b.Loop() {
		r.moments(d, rayDraws, rand.New(rand.NewPCG(1, 2)))
	}
}
