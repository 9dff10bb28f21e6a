package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"
)

// whiteDraw is the bench site with other values.
func whiteDraw(site Site, rng *rand.Rand) Site {
	site.Values = make([]float32, len(site.Values))
	for i := range site.Values {
		site.Values[i] = float32(rng.NormFloat64())
	}
	return site
}

// Injecting the analytic limits finds what they promise: half, and 95 in 100.
func TestLimitsByInjection(t *testing.T) {
	base := benchSite(4, 1)
	base.Noise = KnownNoise(func(dx, dy float64) float64 {
		if dx == 0 && dy == 0 {
			return 1
		}
		return 0
	}, 80)
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

// Injection into the products agrees with collecting the summed values.
func TestInjectIsCollecting(t *testing.T) {
	site := benchSite(8, 5)
	bare := Collect(site, Settings{})
	const amplitude, azimuth = 3.0, 70.0
	sum := site
	sum.Values = append([]float32(nil), site.Values...)
	for i, rho := range site.Samples.Rho {
		f := 1 + math.Cos(site.Samples.Az[i]-azimuth*math.Pi/180)
		sum.Values[i] += float32(amplitude * f * math.Pow(math.Max(rho, 1), -3))
	}
	want := Collect(sum, Settings{}).Measure(Settings{}, 1, 1).Finding
	got := bare.Inject(PatternOneSided, amplitude, azimuth).Measure(Settings{}, 1, 1).Finding
	if d := math.Abs(got.RimExcess - want.RimExcess); d > 0.1*want.RimExcessSE {
		t.Errorf("rim excess %v, collected %v +- %v", got.RimExcess, want.RimExcess, want.RimExcessSE)
	}
	if got.Pattern != want.Pattern || math.Abs(got.Axis-want.Axis) > 2 {
		t.Errorf("%s at %v, collected %s at %v", got.Pattern, got.Axis, want.Pattern, want.Axis)
	}
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
