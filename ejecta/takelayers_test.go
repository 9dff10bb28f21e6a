package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"
)

// layeredWindow is a test window of noise of variance one with holes, and layers.
func layeredWindow(side int) (noise []float64, smooth, fine []float64) {
	rng := rand.New(rand.NewPCG(3, 4))
	n := side * side
	noise, smooth, fine = make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		noise[i] = rng.NormFloat64()
		smooth[i] = 300 + 9*math.Sin(float64(i%side)/7)*math.Cos(float64(i/side)/5)
		fine[i] = rng.NormFloat64()
		if i%17 == 0 {
			noise[i] = math.NaN()
		}
	}
	return noise, smooth, fine
}

func scatterLeft(v []float64) float64 {
	at := validAt(v)
	x := filledAt(v, at)
	takeBasis(x, planeBasis(at, 1)[:1])
	return dot(x, x) / float64(len(at))
}

// TestTakeLayers: noise that follows layers has its own variance after they are
// taken out, whatever plane, constant or repeated layer is beside them.
func TestTakeLayers(t *testing.T) {
	const side = 64
	noise, smooth, fine := layeredWindow(side)
	constant := make([]float64, len(noise))
	holed := append([]float64(nil), fine...)
	for i := range holed {
		if i%5 == 0 {
			holed[i] = math.NaN()
		}
	}
	for _, c := range []struct {
		name   string
		layers [][]float64
		lo, hi float64
	}{
		{"no layer", nil, 30, 100},
		{"both", [][]float64{smooth, fine}, 0.93, 1.07},
		{"both, a constant and one twice", [][]float64{constant, smooth, smooth, fine}, 0.93, 1.07},
		{"a fifth of one is missing", [][]float64{smooth, holed}, 1.5, 3},
	} {
		v := make([]float64, len(noise))
		for i := range v {
			v[i] = noise[i] + 1.5*smooth[i] - 3*fine[i] + 0.1*float64(i%side)
		}
		TakeLayers(v, side, c.layers)
		if got := scatterLeft(v); !(got > c.lo && got < c.hi) {
			t.Errorf("%s: variance %g, want %g to %g", c.name, got, c.lo, c.hi)
		}
		if len(validAt(v)) != len(validAt(noise)) {
			t.Errorf("%s: pixels went or came", c.name)
		}
	}
}

// TestTakeLayersNeedsPixels: a window with few pixels is left as it is.
func TestTakeLayersNeedsPixels(t *testing.T) {
	v, l := []float64{1, 2, 4, 8}, []float64{1, 2, 4, 8}
	TakeLayers(v, 2, [][]float64{l})
	if v[3] != 8 {
		t.Errorf("%v", v)
	}
	none := []float64{math.NaN(), math.NaN()}
	TakeLayers(none, 1, [][]float64{{1, 2}})
}
