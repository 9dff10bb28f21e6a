package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"

	"rimcast/ejecta/testblanket"
)

// farthest is how far the farthest sector lies from the mean of all, in units
// of the envelope.
func farthest(f Finding) float64 {
	sum, n, most := 0.0, 0.0, 0.0
	for _, s := range f.Azimuthal {
		sum, n = sum+s.Mean*float64(s.Pixels), n+float64(s.Pixels)
	}
	for _, s := range f.Azimuthal {
		most = math.Max(most, math.Abs(s.Mean-sum/n))
	}
	return most / f.Envelope
}

// Correlated noise lifts a whole ring and says nothing about a direction: the
// envelope leaves that part out, and all sectors keep within it about 95 times
// in 100.
func TestEnvelopeHoldsItsPromise(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation")
	}
	recipe := testblanket.Noise{Length: 5}
	model := KnownNoise(recipe.Covariance, 140)
	inside, sites := 0, 0
	for seed := range uint64(3) {
		field := testblanket.NewGenerator(recipe, 1024, 1024, true, true).Draw(rand.New(rand.NewPCG(seed, 8)))
		for k := range 49 {
			site := Site{Samples: flatSite(8, 0.2, -0.3), Noise: model, Variance: 1}
			for i := range site.Samples.Len() {
				x, y := 80+140*(k%7)+int(site.Samples.X[i]), 80+140*(k/7)+int(site.Samples.Y[i])
				site.Values = append(site.Values, float32(field.Values[y%1024*1024+x%1024]))
			}
			m := Collect(site, Settings{}).Measure(Settings{}, 1, 1)
			if sites++; farthest(m.Finding) <= 1 {
				inside++
			}
		}
	}
	if held := float64(inside) / float64(sites); held < 0.90 || held > 0.975 {
		t.Errorf("all sectors within the envelope at %d of %d places, want about 95 in 100", inside, sites)
	}
}
