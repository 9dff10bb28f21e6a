package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestSpikesAreLeftOut: single wild pixels are left out, and a site with them has
// the findings that it has where they are missing; a ray one pixel wide, a spot and
// noise stay.
func TestSpikesAreLeftOut(t *testing.T) {
	wild := plantedSite(3, func(rho, az float64) float64 { return 0 })
	missing := plantedSite(3, func(rho, az float64) float64 { return 0 })
	sigma := float32(math.Sqrt(wild.Variance))
	rng := rand.New(rand.NewPCG(1, 2))
	n := 0
	for i := range wild.Values {
		if x, y := wild.Samples.X[i], wild.Samples.Y[i]; x%5 == 0 && y%7 == 0 && rng.IntN(3) == 0 {
			wild.Values[i] += 30 * sigma
			missing.Values[i] = float32(math.NaN())
			n++
		}
	}
	a, b := Collect(wild, Settings{}), Collect(missing, Settings{})
	if n == 0 || a.Spikes == 0 || a.Pixels != b.Pixels || b.Spikes != 0 {
		t.Fatalf("%d planted, %d left out of %d pixels; %d pixels without them", n, a.Spikes, a.Pixels, b.Pixels)
	}
	p, q := a.Measure(Settings{}, 1, 1).Finding, b.Measure(Settings{}, 1, 1).Finding
	if math.Abs(p.Excess-q.Excess) > 1e-6*q.ExcessSE || p.Spikes != a.Spikes {
		t.Errorf("excess %g with spikes, %g where they are missing; %d spikes told", p.Excess, q.Excess, p.Spikes)
	}
}

func TestWhatIsNoSpike(t *testing.T) {
	for name, at := range map[string]func(x, y int32) bool{
		"noise":          func(x, y int32) bool { return false },
		"a narrow ray":   func(x, y int32) bool { return x == 0 && y > 0 },
		"two pixels":     func(x, y int32) bool { return (x == 11 || x == 12) && y == 3 },
		"a slanting ray": func(x, y int32) bool { return x == y && x > 0 },
	} {
		site := plantedSite(4, func(rho, az float64) float64 { return 0 })
		sigma := float32(math.Sqrt(site.Variance))
		for i := range site.Values {
			if at(site.Samples.X[i], site.Samples.Y[i]) {
				site.Values[i] += 20 * sigma
			}
		}
		if e := Collect(site, Settings{}); e.Spikes != 0 {
			t.Errorf("%s: %d spikes", name, e.Spikes)
		}
	}
}
