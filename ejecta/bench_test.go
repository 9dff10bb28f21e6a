package ejecta

import (
	"math/rand/v2"
	"testing"
	"time"
)

func benchSite(b testing.TB, R, L float64) (Site, *Noise) {
	rng := rand.New(rand.NewPCG(1, 2))
	f := expField(512, L, rng)
	ns := NewNoiseSurvey(256, min(int(16*R)+8, 250))
	for wy := range 2 {
		for wx := range 2 {
			v := make([]float64, 256*256)
			for y := range 256 {
				copy(v[y*256:], f[(wy*256+y)*512+wx*256:][:256])
			}
			ns.Add(ns.Window(v, float64(wx*256+128), float64(wy*256+128)))
		}
	}
	noise, err := ns.Finish()
	if err != nil {
		b.Fatal(err)
	}
	s, _ := flatSamples(R, .2, .3, 8)
	vals := make([]float32, s.Len())
	for i := range vals {
		vals[i] = float32(f[(256+int(s.Y[i])+512)%512*512+(256+int(s.X[i])+512)%512])
	}
	return Site{Samples: s, Values: vals, Noise: noise, Variance: noise.Variance(256, 256)}, noise
}

func BenchmarkCollect(b *testing.B) {
	for _, c := range []struct {
		name string
		r    float64
	}{{"R4", 4}, {"R8", 8}, {"R16", 16}} {
		b.Run(c.name, func(b *testing.B) {
			site, _ := benchSite(b, c.r, 5)
			for b.Loop() {
				Collect(site, Settings{})
			}
		})
	}
}

func BenchmarkMeasure(b *testing.B) {
	site, _ := benchSite(b, 8, 5)
	e := Collect(site, Settings{})
	for b.Loop() {
		e.Measure(Settings{}, 1, 1)
	}
}

func TestRayMoments(t *testing.T) {
	for _, L := range []float64{0, 5} {
		for _, r := range []float64{4, 6, 8, 14} {
			site, _ := benchSite(t, r, L)
			e := Collect(site, Settings{})
			m := e.Measure(Settings{}, 1, 1)
			for _, snr := range []float64{0, 1, 3, 6} {
				sd := m.Blanket.Sigma
				rt := m.Direction.newRayTest(snr*sd, sd*sd)
				t0 := time.Now()
				mo := rt.moments(m.Direction, 500, rand.New(rand.NewPCG(1, 1)))
				t.Log(L, r, snr, mo, time.Since(t0)/500)
			}
		}
	}
}
