package raster

import (
	"math"
	"testing"
)

func TestOffset(t *testing.T) {
	first := smallGrid(t, 36, 18, -180)
	for _, c := range []struct {
		west, right float64
	}{{-180, 0}, {-175, 0.5}, {-170, 1}, {180, 0}, {0, 18}} {
		o := smallGrid(t, 36, 18, c.west)
		right, down, ok := first.Offset(&o)
		if !ok || math.Abs(math.Abs(right)-c.right) > 1e-9 || down != 0 {
			t.Errorf("west edge %g: offset %g, %g, %v, want %g", c.west, right, down, ok, c.right)
		}
	}
	finer := mustGrid(t, 72, 36, [6]float64{-180, 5, 0, 90, 0, -5}, LonLatCRS(moon), moon)
	if _, _, ok := first.Offset(&finer); ok {
		t.Error("a grid of other pixels is called shifted")
	}
}
