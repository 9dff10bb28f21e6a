package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"rimcast/ejecta/testblanket"
)

// With a belief of no width the coefficient is the mean; with one of endless
// width, the free estimate; between, the mean weighted by both precisions
// (closed form of a normal prior).
func TestPullIsAPrior(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, x := randomGram(t, 8, 3)
		norm := dot(x[2], x[2])
		if norm < 0.5 {
			t.Skip("the column is too short")
		}
		mean, ridge := rapid.Float64Range(-3, 3).Draw(t, "mean"), rapid.Float64Range(0, 1e4).Draw(t, "ridge")
		g.pulls = []pull{{2, mean, ridge}}
		beta := (dot(x[2], x[0]) + ridge*mean) / (norm + ridge)
		want := dot(x[1], x[0]) - beta*dot(x[1], x[2])
		if got := g.Without([]int{2}).at(1, colValue); math.Abs(got-want) > 1e-6*(1+math.Abs(want)) {
			t.Fatalf("product %g, want %g", got, want)
		}
	})
}

// The survey finds mean and scatter of slopes that were drawn.
func TestSlopeSurvey(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	for _, tau := range []float64{0, 0.5} {
		s := SlopeSurvey{found: map[string][]Estimate{}}
		for range 400 {
			v := 0.01 + 0.2*rng.Float64()
			s.found["t"] = append(s.found["t"], Estimate{2 + tau*rng.NormFloat64() + math.Sqrt(v)*rng.NormFloat64(), v})
		}
		got, places, ok := s.Slope("t")
		// The standard error of the mean is below 0.035, that of the scatter
		// below 0.04.
		if !ok || places != 400 || math.Abs(got.Mean-2) > 0.12 || math.Abs(got.SD-tau) > 0.15 {
			t.Errorf("scatter %g: %+v, %v", tau, got, ok)
		}
	}
	few := SlopeSurvey{found: map[string][]Estimate{"t": make([]Estimate, minSlopes-1)}}
	if _, _, ok := few.Slope("t"); ok {
		t.Error("too few places give a slope")
	}
}

// Along a covariate whose slope the map knows, a lobe is found and the dipole
// is not; with a free slope neither is.
func TestKnownSlopeKeepsLobe(t *testing.T) {
	layer := testblanket.Dipole(60, 1)
	field := func(rho, az float64) float64 {
		return layer(testblanket.Place{East: rho * math.Sin(az), North: rho * math.Cos(az)})
	}
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 2, Axis: 60})
	for _, c := range []struct {
		lobe  float64
		slope *Slope
		found bool
	}{{1, nil, false}, {1, &Slope{1, 0.05}, true}, {0, &Slope{1, 0.05}, false}} {
		site := plantedSite(7, func(rho, az float64) float64 { return field(rho, az) + c.lobe*lobe(rho, az) })
		v := make([]float64, site.Samples.Len())
		for i := range v {
			v[i] = field(site.Samples.Rho[i], site.Samples.Az[i])
		}
		site.Covariates = []Field{{Name: "t", Kind: "temperature", Values: v, Slope: c.slope}}
		m := Collect(site, Settings{}).Measure(Settings{}, 1, 1)
		if got := m.Finding.Pattern.Directional(); got != c.found {
			t.Errorf("lobe %g, slope %v: %s", c.lobe, c.slope, m.Finding.Pattern)
		}
	}
}

// A place tells the slope that was planted there.
func TestSlopeOfAPlace(t *testing.T) {
	var s SlopeSurvey
	layer := testblanket.LocalTime(30)
	for seed := range uint64(25) {
		site := plantedSite(seed, func(rho, az float64) float64 {
			return 0.2 * layer(testblanket.Place{East: rho * math.Sin(az), North: rho * math.Cos(az)})
		})
		v := make([]float64, site.Samples.Len())
		for i := range v {
			sin, cos := math.Sincos(site.Samples.Az[i])
			v[i] = layer(testblanket.Place{East: site.Samples.Rho[i] * sin, North: site.Samples.Rho[i] * cos})
		}
		site.Covariates = []Field{{Name: "t", Kind: "temperature", Values: v}}
		s.Add(Collect(site, Settings{}))
	}
	got, _, ok := s.Slope("t")
	if !ok || math.Abs(got.Mean-0.2) > 0.02 || got.SD > 0.02 {
		t.Errorf("slope %+v, want 0.2", got)
	}
}
