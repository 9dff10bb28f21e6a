package ejecta

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"testing"

	"pgregory.net/rapid"
)

// mixture draws true scores: most are 0, some signals of normal size.
func mixture(n int, share, mean, sd float64, rng *rand.Rand) (mu, z []float64) {
	for range n {
		m := 0.0
		if rng.Float64() < share {
			m = mean + sd*rng.NormFloat64()
		}
		mu, z = append(mu, m), append(z, m+rng.NormFloat64())
	}
	return mu, z
}

// The means over the top twenty are too high as observed, and right as drawn
// back, in every kind of catalogue.
func TestShrunkenTopIsUnbiased(t *testing.T) {
	for _, c := range []struct {
		name            string
		n               int
		share, mean, sd float64
	}{
		{"nothing there", 2000, 0, 0, 0}, {"few signals", 2000, 0.05, 3.5, 1.2}, {"many faint", 1000, 0.3, 1.5, 0.5}, {"strong", 1000, 0.1, 6, 1.5}, {"short", 200, 0.1, 4, 1},
	} {
		rng := rand.New(rand.NewPCG(5, 6))
		raw, shrunk, spread, catalogues, top := 0.0, 0.0, 0.0, 20, 20
		for range catalogues {
			mu, z := mixture(c.n, c.share, c.mean, c.sd, rng)
			prior := FitPrior(z)
			order := make([]int, c.n)
			for i := range order {
				order[i] = i
			}
			sort.Slice(order, func(a, b int) bool { return z[order[a]] > z[order[b]] })
			off := 0.0
			for _, i := range order[:top] {
				raw += (z[i] - mu[i]) / float64(catalogues*top)
				off += (prior.Mean(z[i]) - mu[i]) / float64(top)
			}
			shrunk += off / float64(catalogues)
			spread += off * off / float64(catalogues)
		}
		se := math.Sqrt(spread / float64(catalogues))
		t.Logf("%s: raw bias %+.2f, shrunken %+.2f (se %.2f)", c.name, raw, shrunk, se)
		if raw < 0.3 {
			t.Errorf("%s: the raw scores are not too high (%+.2f): the test shows nothing", c.name, raw)
		}
		if math.Abs(shrunk) > 0.15*raw+2*se {
			t.Errorf("%s: bias %+.2f of the shrunken scores, %+.2f of the raw ones", c.name, shrunk, raw)
		}
	}
}

// Tweedie's formula: the mean is z plus the slope of the log density.
func TestPriorMeanIsTweedies(t *testing.T) {
	_, z := mixture(800, 0.2, 3, 1, rand.New(rand.NewPCG(1, 2)))
	p := FitPrior(z)
	logf := func(x float64) float64 { return math.Log(dot(p.w, p.densities(x))) }
	for _, x := range []float64{-2, 0, 1.7, 3, 6} {
		const h = 1e-4
		if want := x + (logf(x+h)-logf(x-h))/(2*h); math.Abs(p.Mean(x)-want) > 1e-5 {
			t.Errorf("mean at %g is %g, by the formula %g", x, p.Mean(x), want)
		}
	}
}

func TestPriorMeanKeepsOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.SliceOfN(rapid.Float64Range(-5, 14), minPrior, 80).Draw(t, "z")
		p := FitPrior(z)
		slices.Sort(z)
		for i := 1; i < len(z); i++ {
			if z[i] < priorHigh && p.Mean(z[i]) < p.Mean(z[i-1])-1e-9 {
				t.Fatalf("%g gives %g, %g gives %g", z[i-1], p.Mean(z[i-1]), z[i], p.Mean(z[i]))
			}
		}
	})
}

func TestPriorOfFewOrNone(t *testing.T) {
	if p := FitPrior(make([]float64, minPrior-1)); p != nil || p.Mean(3) != 3 {
		t.Error("too few scores were fitted")
	}
	z := slices.Repeat([]float64{math.NaN(), 37.5}, 40)
	if p := FitPrior(z); p != nil {
		t.Error("scores beyond the grid were fitted")
	}
	_, z = mixture(100, 0, 0, 0, rand.New(rand.NewPCG(1, 1)))
	if p := FitPrior(append(z, math.NaN(), 20)); p.Mean(20) != 20 || !math.IsNaN(p.Mean(math.NaN())) {
		t.Error("scores beyond the grid do not stay as they are")
	}
}

func TestExcessShrunk(t *testing.T) {
	f := scored(4, 10, 0.01)
	f.Excess, f.TrueScore = 40, 3
	if got := f.ExcessShrunk(); math.Abs(got-30) > 1e-6 {
		t.Errorf("%g, want 30", got)
	}
	if s := f.Settle(5); math.Abs(s.Score-3) > 1e-9 {
		t.Errorf("settles with the score %g, want the shrunken 3", s.Score)
	}
}
