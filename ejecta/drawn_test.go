package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"

	"rimcast/ejecta/testblanket"
)

// holedSite is a site in white noise with a strip of its map missing and a
// blanket of its own.
func holedSite(seed uint64) Site {
	s := flatSite(6, 0.2, -0.3)
	rng := rand.New(rand.NewPCG(seed, 3))
	v := make([]float32, s.Len())
	for i := range v {
		v[i] = float32(2*rng.NormFloat64() + 9*math.Pow(math.Max(s.Rho[i], 1), -3))
		if s.X[i] > 4 && s.X[i] < 13 && s.Y[i] > -9 {
			v[i] = float32(math.NaN())
		}
	}
	return Site{Samples: s, Values: v, Noise: KnownNoise(testblanket.Noise{Length: 2}.Covariance, 110), Variance: 4}
}

// Draws of noise have the moments that the tests take for granted: a blanket
// score of mean 0 and variance 1, and a chi-square of 12 for the harmonics to
// order 6, whatever blanket the site itself has.
func TestDrawnNoise(t *testing.T) {
	e := Collect(holedSite(1), Settings{})
	const n, scale = 400, 1.3
	draws := e.NoiseDraws(scale)
	rng := rand.New(rand.NewPCG(2, 2))
	mean, square, chi := 0.0, 0.0, 0.0
	for range n {
		d := draws.Draw(rng)
		q := d.Probe(Settings{})
		mean += q.Z / math.Sqrt(scale) / n
		square += q.Z * q.Z / scale / n
		chi += q.Omnibus / scale / 12 / n
	}
	// Standard errors 0.05, 0.07 and 0.02.
	within(t, "mean score", mean, 0, 0.2)
	within(t, "mean square of the score", square, 1, 0.28)
	within(t, "chi-square over 12", chi, 1, 0.08)
}

// Of blankets planted at detectable_50 into draws of a crater's own noise half
// are found, at detectable_95 nineteen of twenty, and the upper limit allows the
// planted one as often.
func TestLimitsOfACraterByInjection(t *testing.T) {
	e := Collect(holedSite(4), Settings{})
	const n, scale = 400, 0.8
	c := e.NoiseDraws(scale).CheckLimits(n, Settings{}, scale, rand.New(rand.NewPCG(5, 6)))
	for _, k := range []struct {
		what  string
		found int
		want  float64
	}{{"found at detectable_50", c.Half, 0.5}, {"found at detectable_95", c.Most, 0.95}, {"allowed by the upper limit", c.Allowed, 0.95}} {
		sd := math.Sqrt(k.want * (1 - k.want) * n)
		if math.Abs(float64(k.found)-k.want*n) > 3*sd {
			t.Errorf("%s: %d of %d", k.what, k.found, n)
		}
	}
}

// A covariate whose slope the map knows acts in the draws with that slope, and is
// taken out again by the tests: no bias is left.
func TestDrawnNoiseWithAKnownSlope(t *testing.T) {
	site := holedSite(7)
	warm := make([]float64, site.Samples.Len())
	for i := range warm {
		warm[i] = math.Pow(math.Max(site.Samples.Rho[i], 1), -2)
	}
	site.Covariates = []Field{{Name: "warmth", Values: warm, Slope: &Slope{Mean: 5, SD: 0.5}}}
	e := Collect(site, Settings{})
	rng := rand.New(rand.NewPCG(3, 9))
	mean := 0.0
	const n = 300
	for range n {
		mean += e.NoiseDraws(1).Draw(rng).Probe(Settings{}).Z / n
	}
	within(t, "mean score", mean, 0, 0.2)
}
