package ejecta

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rimcast/ejecta/testblanket"
)

// whiteDraw is the bench site with other values.
func whiteDraw(site Site, rng *rand.Rand) Site {
	site.Values = make([]float32, len(site.Values))
	for i := range site.Values {
		site.Values[i] = float32(rng.NormFloat64())
	}
	return site
}

func whiteNoise(lag int) *Noise {
	return KnownNoise(func(dx, dy float64) float64 {
		if dx == 0 && dy == 0 {
			return 1
		}
		return 0
	}, lag)
}

// Injecting the analytic limits finds what they promise: half, and 95 in 100.
func TestLimitsByInjection(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation")
	}
	base := benchSite(4, 1)
	base.Noise = whiteNoise(80)
	rng := rand.New(rand.NewPCG(11, 12))
	const n = 160
	half, most := 0, 0
	for range n {
		e := Collect(whiteDraw(base, rng), Settings{})
		f := e.Measure(Settings{}, 1, 1).Finding
		if e.Recover(PatternSymmetric, f.Detectable50, 0, Settings{}, 1, 1).Excess {
			half++
		}
		if e.Recover(PatternSymmetric, f.Detectable95, 0, Settings{}, 1, 1).Excess {
			most++
		}
	}
	if lo, hi := Wilson(half, n); lo > 0.5 || hi < 0.5 {
		t.Errorf("detectable_50 was found %d times in %d", half, n)
	}
	if lo, hi := Wilson(most, n); lo > 0.95 || hi < 0.95 {
		t.Errorf("detectable_95 was found %d times in %d", most, n)
	}
}

// paintedPatterns are the injected patterns as blankets to paint.
var paintedPatterns = map[Pattern]testblanket.Blanket{
	PatternSymmetric: {Pattern: "symmetric"},
	PatternOneSided:  {Pattern: "one-sided"},
	PatternBilateral: {Pattern: "bilateral", Kappa: 8},
	PatternRays:      {Pattern: "rays", Kappa: 30, Rays: []float64{0, 120, 240}},
	PatternGap:       {Pattern: "gap", GapWidth: 100},
}

// Injection into the products agrees with painting the blanket on the pixels,
// pattern by pattern: on cells and, for a small crater, on pixels and blocks.
func TestInjectIsPainting(t *testing.T) {
	const amplitude, azimuth = 3.0, 70.0
	for _, radius := range []float64{4, 8} {
		site := benchSite(radius, 5)
		site.Noise = whiteNoise(int(16*radius) + 8)
		bare := Collect(site, Settings{})
		for pattern, b := range paintedPatterns {
			b.Amplitude, b.Axis = amplitude, azimuth
			b.Rays = slices.Clone(b.Rays)
			for i := range b.Rays {
				b.Rays[i] += azimuth
			}
			sum := site
			sum.Values = paintedOn(site, b)
			want := Collect(sum, Settings{}).Measure(Settings{}, 1, 1).Finding
			got := bare.Inject(pattern, amplitude, azimuth).Measure(Settings{}, 1, 1).Finding
			what := fmt.Sprintf("%s at %g pixels: ", pattern, radius)
			within(t, what+"rim excess", got.RimExcess, want.RimExcess, 0.2*want.RimExcessSE)
			within(t, what+"score of the excess", ScoreOf(got.ExcessP), ScoreOf(want.ExcessP), 0.1)
			z := ScoreOf(want.AsymmetryP)
			within(t, what+"score of the direction", ScoreOf(got.AsymmetryP), z, math.Max(0.1, 0.04*math.Abs(z)))
			if got.Pattern != want.Pattern {
				t.Errorf("%s%s, painted %s", what, got.Pattern, want.Pattern)
			}
			if period := 360.0; pattern.Directional() {
				if pattern == PatternBilateral {
					period = 180
				}
				within(t, what+"axis", math.Remainder(got.Axis-want.Axis, period), 0, 2)
			}
		}
	}
}

// paintedOn are the values of a site with a blanket added, sampled finely within
// every pixel.
func paintedOn(site Site, b testblanket.Blanket) []float32 {
	const fine = 5
	s, shape := site.Samples, b.Shape()
	out := append([]float32(nil), site.Values...)
	cx, cy := centreOf(s)
	for i := range out {
		sum := 0.0
		for j := range fine * fine {
			dx := float64(s.X[i]) - cx + (float64(j%fine)+0.5)/fine - 0.5
			dy := float64(s.Y[i]) - cy + (float64(j/fine)+0.5)/fine - 0.5
			sum += shape.At(math.Max(math.Hypot(dx, dy)/s.PixelsPerRadius, 1), math.Atan2(dx, -dy))
		}
		out[i] += float32(sum / (fine * fine))
	}
	return out
}

// centreOf is the place of the centre among the pixels of a flat site.
func centreOf(s *Samples) (x, y float64) {
	r := s.Rho[0] * s.PixelsPerRadius
	sin, cos := math.Sincos(s.Az[0])
	return float64(s.X[0]) - r*sin, float64(s.Y[0]) + r*cos
}

// The score interval of Wilson for 0 of 10 is 0..0.2775, for 5 of 10
// 0.2366..0.7634 (from memory of common tables; follows from the formula).
func TestWilson(t *testing.T) {
	for _, c := range []struct {
		k, n   int
		lo, hi float64
	}{{0, 10, 0, 0.2775}, {5, 10, 0.2366, 0.7634}, {0, 0, 0, 1}} {
		if lo, hi := Wilson(c.k, c.n); math.Abs(lo-c.lo) > 1e-4 || math.Abs(hi-c.hi) > 1e-4 {
			t.Errorf("%d of %d: %v..%v", c.k, c.n, lo, hi)
		}
	}
}
