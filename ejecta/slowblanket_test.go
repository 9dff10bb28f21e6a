package ejecta

import (
	"math"
	"testing"

	"rimcast/ejecta/testblanket"
)

// spread is the mean and the standard deviation of a list.
func spread(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean) / float64(len(v))
	}
	return mean, math.Sqrt(sd)
}

// A blanket that falls slowly fills the far field: background and excess have the
// error of what is taken off there. Without it the background was 2 to 5 of its
// standard errors off.
func TestBackgroundUnderASlowBlanket(t *testing.T) {
	for _, c := range []Blanket{{Amplitude: 2, Decay: 2}, {Amplitude: 2, Decay: 1.5}, {Amplitude: 4, Decay: 1.5}} {
		b := testblanket.Blanket{Pattern: "symmetric", Amplitude: c.Amplitude, Decay: c.Decay}
		want := c.meanOver(excessInner, excessOuter)
		var level, excess []float64
		for seed := range uint64(60) {
			f := Collect(plantedSite(seed, blanketField(b)), Settings{}).Measure(Settings{}, 1, seed).Finding
			level = append(level, f.Background/f.BackgroundSE)
			excess = append(excess, (f.Excess-want)/f.ExcessSE)
		}
		for name, v := range map[string][]float64{"background": level, "excess": excess} {
			mean, sd := spread(v)
			t.Logf("A %g, b %g: %s %.2f ± %.2f standard errors off", c.Amplitude, c.Decay, name, mean, sd)
			if math.Abs(mean) > 0.6 || sd > 1.4 {
				t.Errorf("A %g, b %g: %s %.2f ± %.2f standard errors off", c.Amplitude, c.Decay, name, mean, sd)
			}
		}
	}
}
