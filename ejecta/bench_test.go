package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"
)

// benchSite is a crater of the given radius in pixels on white values, tested
// against exponentially correlated noise: the work is that of real maps.
func benchSite(radius, length float64) Site {
	noise := KnownNoise(func(dx, dy float64) float64 { return math.Exp(-math.Hypot(dx, dy) / length) }, int(16*radius)+8)
	s := &Samples{PixelsPerRadius: radius, ColRho: 1 / radius, RowRho: 1 / radius}
	rng := rand.New(rand.NewPCG(1, 2))
	site := Site{Samples: s, Noise: noise, Variance: 1}
	half := int(8*radius) + 2
	for y := -half; y <= half; y++ {
		for x := -half; x <= half; x++ {
			dx, dy := float64(x)-0.2, float64(y)-0.3
			if rho := math.Hypot(dx, dy) / radius; rho <= 8 {
				s.X, s.Y = append(s.X, int32(x)), append(s.Y, int32(y))
				s.Rho, s.Az = append(s.Rho, rho), append(s.Az, math.Mod(math.Atan2(dx, -dy)+2*math.Pi, 2*math.Pi))
				s.Area = append(s.Area, 1)
				site.Values = append(site.Values, float32(rng.NormFloat64()))
			}
		}
	}
	return site
}

func BenchmarkCollect(b *testing.B) {
	for _, c := range []struct {
		name string
		r    float64
	}{{"R4", 4}, {"R8", 8}, {"R16", 16}} {
		b.Run(c.name, func(b *testing.B) {
			site := benchSite(c.r, 5)
			for b.Loop() {
				Collect(site, Settings{})
			}
		})
	}
}

func BenchmarkMeasure(b *testing.B) {
	site := benchSite(8, 5)
	e := Collect(site, Settings{})
	for b.Loop() {
		e.Measure(Settings{}, 1, 1)
	}
}
