package main

import (
	"math"
	"testing"
)

// Errors twice as large as usual are four times the variance; zeros and gaps
// are no measurement (common practice of products that fill with zeros).
func TestSigmaRatio(t *testing.T) {
	nan := float32(math.NaN())
	for _, c := range []struct {
		s      sigmaLayer
		values []float32
		want   float64
	}{
		{sigmaLayer{typical: 4}, []float32{4, 4, 0, nan}, 4},
		{sigmaLayer{typical: 4, squared: true}, []float32{4, 4, 0, nan}, 1},
		{sigmaLayer{typical: 4}, []float32{0, nan}, 1},
		{sigmaLayer{typical: 4}, []float32{400}, sigmaRatio},
		{sigmaLayer{typical: 4}, []float32{0.01}, 1 / sigmaRatio},
		{sigmaLayer{typical: 4, squared: true}, []float32{-8, 8}, 2},
		{sigmaLayer{}, []float32{5}, 1},
	} {
		if got := c.s.ratio(c.values); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("ratio of %v at %+v is %g, want %g", c.values, c.s, got, c.want)
		}
	}
}
