package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Pairs that share an offset depart as often as chance says, with correlated
// errors too; one that changed stands out, and a pair without a number has none.
func TestDepartures(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for _, r := range []float64{0, 0.7} {
		var pairs []Pair
		for range 4000 {
			truth := 50 * rng.NormFloat64()
			n := sharedNoise(rng, 2, r)
			pairs = append(pairs, Pair{truth + 3*n[0], 3, truth + 8 + 4*n[1], 4})
		}
		pairs = append(pairs, Pair{10, 3, 80, 4}, Pair{math.NaN(), 3, 5, 4})
		g := NewAgreement(pairs, r)
		list, fired := g.Departures(pairs), 0
		for _, d := range list[:4000] {
			if d.P < 0.05 {
				fired++
			}
		}
		if share := float64(fired) / 4000; share < 0.04 || share > 0.06 {
			t.Errorf("correlation %g: %.3f depart at 0.05", r, share)
		}
		if d := list[4000]; !(d.Sigma > 10) || !(d.Q < 1e-6) {
			t.Errorf("the one that changed departs by %g, q %g", d.Sigma, d.Q)
		}
		if !math.IsNaN(list[4001].Q) {
			t.Error("a pair without a number departs")
		}
	}
}
