package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The published worked form of the moments: equal variances give the plain mean
// and, without scatter, the error of a mean; the scatter comes back on average.
func TestRandomEffects(t *testing.T) {
	mean, se, tau := RandomEffects([]Estimate{{1, 4}, {3, 4}})
	if mean != 2 || tau != 0 || math.Abs(se-math.Sqrt(2)) > 1e-12 { // Q = 0.5 < 1
		t.Errorf("mean %g ± %g, scatter %g", mean, se, tau)
	}
	// Q = 2 * 16 / 1 = 32 with w = 1: tau^2 = (32 - 1) / (2 - 1) = 31
	if _, se, tau := RandomEffects([]Estimate{{-4, 1}, {4, 1}}); math.Abs(tau*tau-31) > 1e-9 || math.Abs(se-4) > 1e-9 {
		t.Errorf("scatter %g, error %g", tau, se)
	}
	if m, _, _ := RandomEffects(nil); !math.IsNaN(m) {
		t.Error("a mean of nothing")
	}
	rng := rand.New(rand.NewPCG(2, 3))
	sum := 0.0
	for range 400 {
		var list []Estimate
		for range 30 {
			list = append(list, Estimate{5*rng.NormFloat64() + 2*rng.NormFloat64(), 4})
		}
		_, _, tau := RandomEffects(list)
		sum += tau * tau / 400
	}
	if sum < 23 || sum > 27 {
		t.Errorf("mean square of the scatter %g, planted 25", sum)
	}
}

// Means over the day are over the craters that every time shows, apart by
// whether there is a blanket.
func TestDailyCycle(t *testing.T) {
	var epochs []EpochFinding
	var list []Persistence
	for crater, a := range []float64{80, 90, 0, 70} {
		dawn, noon := epochOf("dawn", a, 5, nil), epochOf("noon", a/2, 5, nil)
		for e, f := range []*EpochFinding{dawn, noon} {
			f.CraterIndex, f.LocalTime = crater, []float64{23.5, 12}[e]
			f.Background, f.BackgroundSE = 200-10*float64(e), 1
		}
		if crater == 3 {
			gone := UnmeasuredEpoch(StatusNotCovered, "outside the map")
			gone.CraterIndex, gone.Species, gone.Epoch = 3, "water", "noon"
			*noon = gone
		}
		p := NewPersistence([]*EpochFinding{dawn, noon}, KnownEpochNoise(2, 0), 0.01)
		epochs, list = append(epochs, *dawn, *noon), append(list, p)
	}
	got := DailyCycle(epochs, list)
	if len(got) != 2 || got[0].Craters != 3 || got[0].With != 2 || got[0].Others != 1 {
		t.Fatalf("%+v", got)
	}
	if d := got[1]; math.Abs(d.Background-190) > 1e-9 || math.Abs(d.Blanket-42.5) > 1e-9 || math.Abs(d.Without) > 1e-9 || math.Abs(d.LocalTime-12) > 1e-9 {
		t.Errorf("noon %+v", d)
	}
	if !HoursKnown(got) || math.Abs(got[0].LocalTime-23.5) > 1e-9 {
		t.Errorf("dawn is at %g", got[0].LocalTime)
	}
}
