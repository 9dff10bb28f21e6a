package raster

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A map and its copy, moved by averages of neighbours, with noise of its own.
func TestRegistration(t *testing.T) {
	const w, h = 256, 128
	g := mustGrid(t, w, h, [6]float64{-180, 360. / w, 0, 90, 0, -180. / h}, LonLatCRS(moon), moon)
	rng := rand.New(rand.NewPCG(3, 4))
	a := make([]float32, w*h)
	for i := range a {
		a[i] = 100 + 10*float32(rng.NormFloat64())
	}
	at := func(x, y int) float64 { return float64(a[(y+h)%h*w+(x+w)%w]) }
	for _, c := range []struct {
		name        string
		value       func(x, y int) float64
		right, down float64
		found       bool
	}{
		{"in place", at, 0, 0, true},
		{"a negative", func(x, y int) float64 { return 300 - at(x, y) }, 0, 0, true},
		{"half a pixel to the right", func(x, y int) float64 { return (at(x, y) + at(x-1, y)) / 2 }, 0.5, 0, true},
		{"half a pixel up", func(x, y int) float64 { return (at(x, y) + at(x, y+1)) / 2 }, 0, -0.5, true},
		{"one to the left, one down", func(x, y int) float64 { return at(x+1, y-1) }, -1, 1, true},
		{"another map", func(int, int) float64 { return 100 * rng.NormFloat64() }, 0, 0, false},
	} {
		b := make([]float32, w*h)
		for i := range b {
			b[i] = float32(c.value(i%w, i/w) + 3*rng.NormFloat64())
		}
		right, down, r, ok := Registration(NewMemory("a", "1", g, a), NewMemory("b", "1", g, b))
		if found := ok && math.Abs(r) > 0.2; found != c.found {
			t.Errorf("%s: correlation %g", c.name, r)
		} else if found && math.Hypot(right-c.right, down-c.down) > 0.1 {
			t.Errorf("%s: shift %g, %g, want %g, %g", c.name, right, down, c.right, c.down)
		}
	}
}
