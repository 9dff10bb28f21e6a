package raster

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

// noiseLayer is noise of mean 100 and deviation 10, changed by edit.
func noiseLayer(t *testing.T, edit func(i int, v float32) float32) *Layer {
	g, err := GlobalGrid(moon, 512, 0)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 4))
	v := make([]float32, g.Width*g.Height)
	for i := range v {
		v[i] = edit(i, float32(100+10*rng.NormFloat64()))
	}
	return NewMemory("noise", "ppm", g, v)
}

func TestSurveyOfNoise(t *testing.T) {
	s, err := noiseLayer(t, func(_ int, v float32) float32 { return v }).Survey(0)
	if err != nil {
		t.Fatal(err)
	}
	if s.Valid != 1 || math.Abs(s.Median-100) > 0.5 || s.Constant || s.ClippedAtZero != 0 || len(s.Spikes) != 0 ||
		math.Abs(s.Lag1X) > 0.02 || math.Abs(s.Lag1Y) > 0.02 || math.Abs(s.Smooth+0.5) > 0.02 {
		t.Errorf("%+v", s)
	}
	// Quartiles of a normal distribution lie 0.6745 deviations off the mean.
	if iqr := s.Quartiles[1] - s.Quartiles[0]; math.Abs(iqr-13.49) > 0.3 {
		t.Errorf("interquartile range %g, want 13.49", iqr)
	}
}

func TestSurveyFindsSpecialValues(t *testing.T) {
	for _, c := range []struct {
		name  string
		share []float64 // of each special value
		value []float64
	}{
		{"one", []float64{0.04}, []float64{-9999}},
		{"two below", []float64{0.02, 0.01}, []float64{-9999, -32768}},
		{"below and above", []float64{0.05, 0.05}, []float64{-32768, 32767}},
		{"most of the map", []float64{0.8}, []float64{-9999}},
		{"near zero", []float64{0.03}, []float64{-99}},
		{"zero among values", []float64{0.01}, []float64{0}},
	} {
		rng := rand.New(rand.NewPCG(5, 6))
		l := noiseLayer(t, func(_ int, v float32) float32 {
			u := rng.Float64()
			for i, f := range c.share {
				if u < f {
					return float32(c.value[i])
				}
				u -= f
			}
			return v
		})
		s, err := l.Survey(0)
		if err != nil {
			t.Fatal(err)
		}
		for i, want := range c.value {
			k := s.at(want)
			if k == nil || !k.Suspect || math.Abs(k.Share/c.share[i]-1) > 0.1 || k.Stored != want {
				t.Errorf("%s: %g found as %+v", c.name, want, k)
			}
		}
	}
}

func TestSurveyLetsHonestSpikesBe(t *testing.T) {
	// Whole numbers and clipped noise repeat values without any being special.
	l := noiseLayer(t, func(_ int, v float32) float32 { return float32(math.Round(float64(v))) })
	s, err := l.Survey(0)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range s.Spikes {
		if k.Suspect {
			t.Errorf("rounded: %+v", k)
		}
	}
	l = noiseLayer(t, func(_ int, v float32) float32 { return max(0, v-100) })
	if s, err = l.Survey(0); err != nil {
		t.Fatal(err)
	}
	if math.Abs(s.ClippedAtZero-0.5) > 0.02 || s.Spikes[0].Suspect {
		t.Errorf("clipped share %g, spikes %+v", s.ClippedAtZero, s.Spikes)
	}
}

func TestSurveyOfOddMaps(t *testing.T) {
	s, err := noiseLayer(t, func(int, float32) float32 { return 7 }).Survey(0)
	if err != nil || !s.Constant || s.Median != 7 {
		t.Errorf("constant map: %+v, %v", s, err)
	}
	s, err = noiseLayer(t, func(int, float32) float32 { return float32(math.NaN()) }).Survey(0)
	if err != nil || s.Valid != 0 || s.Median == s.Median {
		t.Errorf("empty map: %+v, %v", s, err)
	}
	// Each value twice, as after enlarging: differences along rows repeat.
	var last float32
	s, err = noiseLayer(t, func(i int, v float32) float32 {
		if i%2 == 1 {
			return last
		}
		last = v
		return v
	}).Survey(0)
	if err != nil || s.Lag1X < 0.45 || math.Abs(s.Lag1Y) > 0.02 {
		t.Errorf("doubled columns: %+v, %v", s, err)
	}
	l := mustOpen(t, Spec{Path: truncated(t), Body: moon})
	s, err = l.Survey(4)
	if err != nil || len(s.Damaged) != 1 || s.Windows == 0 || s.Pixels >= 64*64 {
		t.Errorf("map cut short: %+v, %v; want the pieces that can be read", s, err)
	}
	if err := os.Truncate(l.spec.Path, 2000); err != nil {
		t.Fatal(err)
	}
	if bare, err := Open(Spec{Path: l.spec.Path, Body: moon}); err == nil {
		defer bare.Close()
		if s, err := bare.Survey(4); err == nil {
			t.Errorf("a map without a readable tile gave %+v and no error", s)
		}
	}
}

func TestSpreadIsEvenAndInside(t *testing.T) {
	at := spread(1000, 500, 64)
	var quarter [4]int
	for _, p := range at {
		if p[0] < 0 || p[0] >= 1000 || p[1] < 0 || p[1] >= 500 {
			t.Fatalf("place %v", p)
		}
		quarter[p[0]/500+p[1]/250*2]++
	}
	for _, n := range quarter {
		if n < 12 || n > 20 {
			t.Errorf("places per quarter: %v", quarter)
		}
	}
	if len(spread(1, 1, 64)) != 1 {
		t.Error("one place listed twice")
	}
}
