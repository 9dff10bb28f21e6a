package ejecta

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"rimcast/ejecta/testblanket"
)

func surveyed(f *testblanket.Field, lag int) *NoiseSurvey {
	const side = 256
	s := NewNoiseSurvey(side, lag)
	n := f.Width / side
	var wg sync.WaitGroup
	for k := range n * (f.Height / side) {
		wg.Go(func() {
			x, y := k%n*side, k/n*side
			v := make([]float64, side*side)
			for i := range v {
				v[i] = f.Values[(y+i/side)*f.Width+x+i%side]
			}
			s.Add(s.Window(v, float64(x+side/2), float64(y+side/2)))
		})
	}
	wg.Wait()
	return s
}

// blanketInformation is the variance of a fitted blanket and of the harmonics
// 1, 2 and 4 under a noise model.
func blanketInformation(s *Samples, n *Noise) [4]float64 {
	v := make([]float32, s.Len())
	for i := range v {
		v[i] = float32(1 / math.Pow(math.Max(s.Rho[i], 1), 3))
	}
	e := Collect(Site{Samples: s, Values: v, Noise: n, Variance: n.Variance(0, 0)}, Settings{})
	d := e.Directions(1)
	e.Status = StatusRadialOnly
	sigma := e.Measure(Settings{}, 1, 1).Blanket.Sigma
	const diagonal = 2*Orders + 1
	return [4]float64{sigma * sigma, 1 / d.Info[0], 1 / d.Info[diagonal], 1 / d.Info[3*diagonal]}
}

// With quiet lags, one map of 1024 x 1024 pixels must give the variances that
// its true covariance gives, whatever the noise; 0.1 is twice the scatter of
// the estimate from one map with stripes.
func TestQuietLagsKeepTheVariances(t *testing.T) {
	const radius, lag = 8, 136
	site := flatSite(radius, 0.1, 0.2)
	for _, name := range []string{"white", "exp5-stripe"} {
		recipe, err := testblanket.NoiseByName(name)
		if err != nil {
			t.Fatal(err)
		}
		f := testblanket.NewGenerator(recipe, 1024, 1024, true, true).Draw(rand.New(rand.NewPCG(5, 5)))
		s := surveyed(f, lag)
		c := s.correlation()
		quietLags(c, s.pad, s.MaxLag)
		s.makePositive(c)
		n := newNoise(c, s.pad, s.MaxLag)
		n.setLevels(s.levels)
		got, want := blanketInformation(site, n), blanketInformation(site, KnownNoise(recipe.Covariance, lag))
		for i, what := range []string{"amplitude", "harmonic 1", "harmonic 2", "harmonic 4"} {
			near(t, fmt.Sprintf("%s: variance of %s", name, what), got[i], want[i], 0.1)
		}
	}
}

func TestQuietLagsLeaveAKnownCorrelation(t *testing.T) {
	const pad, lag = 256, 60
	recipe := testblanket.Noise{Length: 4, Columns: 0.4}
	rng := rand.New(rand.NewPCG(2, 2))
	c := make([]float64, pad*pad)
	for i := range c {
		d := [2]float64{float64(wrapLag(i%pad, pad)), float64(wrapLag(i/pad, pad))}
		c[i] = recipe.Covariance(d[0], d[1]) + 1e-3*rng.NormFloat64()
	}
	quietLags(c, pad, lag)
	for _, d := range [][2]int{{0, 0}, {1, 0}, {0, 1}, {5, 5}, {0, 30}, {0, 50}, {40, 10}, {50, 50}} {
		within(t, fmt.Sprintf("correlation at %v", d), c[d[1]*pad+d[0]], recipe.Covariance(float64(d[0]), float64(d[1])), 4e-3)
	}
	if v := c[50*pad+50]; v != 0 {
		t.Errorf("a lag far out holds %g, want nothing", v)
	}
}
