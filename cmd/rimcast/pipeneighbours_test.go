package main

import (
	"math"
	"testing"
)

func TestShortSincos(t *testing.T) {
	for x := -0.3; x < 0.3; x += 0.00137 {
		s, c := shortSincos(x)
		if ws, wc := math.Sincos(x); math.Abs(s-ws) > 1e-16 || math.Abs(c-wc) > 2.3e-16 {
			t.Errorf("%g: %g, %g, want %g, %g", x, s, c, ws, wc)
		}
	}
}
