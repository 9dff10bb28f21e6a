package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
)

// blockScenario has craters that are measured in block means, with blankets of all
// patterns, well above the noise, on noise with stripes and gaps.
func blockScenario() testblanket.Scenario {
	rng := rand.New(rand.NewPCG(7, 8))
	noise := testblanket.Noise{Length: 3, Columns: 0.1, Gaps: 0.02, GapLength: 9}
	s := testblanket.Scenario{Title: "large craters", Grid: testblanket.GridRecipe{Width: 4000},
		Species: []testblanket.Layer{{Name: "water", Background: 190, Sigma: 34, Noise: noise}}}
	for k := range 15 {
		b := drawnBlanket(s.Species[0], 20, rng)
		b.Amplitude = 30 + 30*rng.Float64()
		s.Craters = append(s.Craters, testblanket.Planted{ID: fmt.Sprintf("P%02d", k), Lon: float64(k%5)*72 - 144 + 20*rng.Float64(),
			Lat: float64(k/5)*40 - 45 + 8*rng.Float64(), Pixels: 25 + 15*rng.Float64(), Blankets: []testblanket.Blanket{b}})
	}
	return s
}

// TestBlockMeansChangeNothing measures large craters in block means and from the
// map's own pixels. Nothing is: an excess differs by a small part of its error, not
// to one side, and its error by a few per cent. Rim excess and exponent have errors up to a
// fifth larger, since rings begin one and a half blocks from the rim: they may
// differ by what they know less. The log is the table of DEVELOPERS.md.
func TestBlockMeansChangeNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("two screenings")
	}
	dir := t.TempDir()
	if _, err := writeInvented(dir, blockScenario(), 1); err != nil {
		t.Fatal(err)
	}
	survey := filepath.Join(dir, "survey.toml")
	means := screenedSurvey(t, survey, filepath.Join(dir, "means")).Findings
	whole := screenedSurvey(t, survey, filepath.Join(dir, "whole"), "--full-resolution").Findings
	for i := range means {
		if means[i].PixelsPer > 0.51*whole[i].PixelsPer {
			t.Fatalf("crater %d is not measured in block means", i)
		}
	}
	t.Log("| result | craters | mean difference, errors | root mean square | error over error, mean |")
	wantNear(t, "excess", means, whole, func(f *ejecta.Finding) (v, se float64) { return f.Excess, f.ExcessSE }, nearness{0.2, 0.3, 0.93, 1.07})
	wantNear(t, "rim excess", means, whole, func(f *ejecta.Finding) (v, se float64) { return f.RimExcess, f.RimExcessSE }, nearness{0.5, 0.8, 1, 1.35})
	wantNear(t, "decay exponent", means, whole, func(f *ejecta.Finding) (v, se float64) { return f.Decay, f.DecaySE }, nearness{0.5, 0.8, 1, 1.35})
	same := 0
	for i := range means {
		if means[i].Pattern == whole[i].Pattern {
			same++
		}
	}
	if t.Logf("patterns: %d of %d the same", same, len(means)); same < len(means)-2 {
		t.Errorf("only %d of %d patterns are the same", same, len(means))
	}
}

// nearness is how far results may differ, on the mean and squared, in their errors,
// and what their errors' ratio may be.
type nearness struct{ mean, rms, least, most float64 }

func wantNear(t *testing.T, name string, a, b []ejecta.Finding, of func(*ejecta.Finding) (v, se float64), limit nearness) {
	t.Helper()
	var n, sum, square, ratio float64
	for i := range a {
		x, sx := of(&a[i])
		y, sy := of(&b[i])
		if d := (x - y) / sy; d == d {
			n, sum, square, ratio = n+1, sum+d, square+d*d, ratio+sx/sy
		}
	}
	mean, rms := sum/n, math.Sqrt(square/n)
	t.Logf("| %s | %g | %.2f | %.2f | %.2f |", name, n, mean, rms, ratio/n)
	if !(math.Abs(mean) < limit.mean && rms < limit.rms && ratio/n > limit.least && ratio/n < limit.most) {
		t.Errorf("%s: mean difference %.2f, rms %.2f, errors %.2f", name, mean, rms, ratio/n)
	}
}
