package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"

	"rimcast/ejecta/testblanket"
)

// flatSite is the pixels round a crater on a flat grid, north up: radius in
// pixels, the centre (cx, cy) from that of pixel 0.
func flatSite(radius, cx, cy float64) *Samples {
	s := &Samples{PixelsPerRadius: radius, ColRho: 1 / radius, RowRho: 1 / radius}
	h := int32(8*radius) + 1
	for y := -h; y <= h; y++ {
		for x := -h; x <= h; x++ {
			dx, dy := float64(x)-cx, float64(y)-cy
			if rho := math.Hypot(dx, dy) / radius; rho <= 8 {
				s.X, s.Y = append(s.X, x), append(s.Y, y)
				s.Rho, s.Az = append(s.Rho, rho), append(s.Az, wrapTurn(math.Atan2(dx, -dy), 2*math.Pi))
				s.Area = append(s.Area, 1)
			}
		}
	}
	return s
}

func TestKnownNoiseIsWhatWasGiven(t *testing.T) {
	recipe := testblanket.Noise{Length: 5, Columns: 0.3, Strips: 0.7}
	n := KnownNoise(recipe.Covariance, 60)
	v := recipe.Covariance(0, 0)
	within(t, "variance", n.Variance(3, 4), v, 0)
	for _, lag := range [][2]int{{0, 0}, {1, 0}, {0, 1}, {-7, 3}, {20, -20}, {0, 60}} {
		want := recipe.Covariance(float64(lag[0]), float64(lag[1])) / v
		within(t, "correlation", n.Correlation(lag[0], lag[1]), want, 1e-6)
	}
}

// Injection into the evidence must give the numbers of injection into the map.
func TestPlusEqualsCollectingTheSum(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 1))
	noise := KnownNoise(testblanket.Noise{Length: 2}.Covariance, 90)
	for _, radius := range []float64{4, 6} {
		s := flatSite(radius, 0.2, -0.3)
		shape := testblanket.Blanket{Pattern: "one-sided", Amplitude: 1, Axis: 70, Kappa: 3}.Shape()
		v, b, sum := make([]float32, s.Len()), make([]float32, s.Len()), make([]float32, s.Len())
		for i := range v {
			v[i] = float32(rng.NormFloat64())
			b[i] = float32(shape.At(s.Rho[i], s.Az[i]))
			sum[i] = v[i] + 3*b[i]
		}
		collect := func(values []float32) *Evidence {
			return Collect(Site{Samples: s, Values: values, Noise: noise, Variance: 1}, Settings{})
		}
		got := collect(v).Plus(collect(b), 3).Measure(Settings{}, 1, 1).Finding
		want := collect(sum).Measure(Settings{}, 1, 1).Finding
		near(t, "rim excess", got.RimExcess, want.RimExcess, 1e-4)
		near(t, "excess", got.Excess, want.Excess, 1e-4)
		near(t, "background + 1", got.Background+1, want.Background+1, 1e-5)
		near(t, "axis", got.Axis, want.Axis, 1e-3)
		near(t, "score", ScoreOf(got.AsymmetryP), ScoreOf(want.AsymmetryP), 1e-3)
		near(t, "first ring", got.Radial[4].Mean, want.Radial[4].Mean, 1e-4)
	}
}
