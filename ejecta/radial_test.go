package ejecta

import (
	"math"
	"testing"

	"rimcast/ejecta/testblanket"
)

// excessOf gives the rings of a crater the means of a blanket and no noise.
func excessOf(pixels float64, rings int, bl Blanket) (r RadialProfile) {
	l := NewLayout(pixels, 0, 8, rings, 0)
	f := ringFit{layout: &l, variance: 1}
	f.inv = make([]float64, l.Rings*l.Rings)
	for k := range l.Rings {
		f.rings = append(f.rings, k)
		f.est = append(f.est, ringMean(bl, l.Edges[k], l.Edges[k+1]))
		f.inv[k*l.Rings+k] = 1e-8
		if l.Edges[k+1] < backgroundInner {
			f.near++
		}
	}
	f.putExcess(&r, bl, make([]float64, l.Rings))
	return r
}

// The excess is the mean over 1.1 to 2.5 radii whatever the size of the crater,
// although the rings of small ones begin farther out.
func TestExcessOfAnySize(t *testing.T) {
	for _, pixels := range []float64{1.5, 3, 4, 6, 9, 20, 100} {
		for _, rings := range []int{0, 5, 30} {
			for _, b := range []float64{2.2, 3, 4} {
				r := excessOf(pixels, rings, Blanket{Amplitude: 7, Decay: b, DecaySE: 0.1})
				want := 7 * 2 * (math.Pow(1.1, 2-b) - math.Pow(2.5, 2-b)) / (b - 2) / (2.5*2.5 - 1.1*1.1)
				if math.Abs(r.Excess/want-1) > 0.005 || !(r.ExcessSE > 0) {
					t.Errorf("%g pixels, %d rings, b %g: %g ± %g, want %g", pixels, rings, b, r.Excess, r.ExcessSE, want)
				}
			}
		}
	}
}

// What is not known of the shape is in the error, the more the more is carried.
func TestExcessKnowsItsShapeError(t *testing.T) {
	shape := Blanket{Amplitude: 7, Decay: 3, DecaySE: 0.5}
	small, large := excessOf(3, 0, shape), excessOf(40, 0, shape)
	if !(small.ExcessSE > 0.05*small.Excess) || !(large.ExcessSE < 0.01*large.Excess) {
		t.Errorf("3 pixels %g ± %g, 40 pixels %g ± %g", small.Excess, small.ExcessSE, large.Excess, large.ExcessSE)
	}
}

// Under correlated noise the ring means of a blanket are its ring means, although
// it falls within each ring: without [ringFit.shape] those of small craters came
// out as a seventh of the truth.
func TestRingsOfSteepBlanket(t *testing.T) {
	recipe, err := testblanket.NoiseByName("exp5")
	if err != nil {
		t.Fatal(err)
	}
	n := KnownNoise(recipe.Covariance, 140)
	for _, pixels := range []float64{4, 6, 9} {
		s := flatSite(pixels, 0.13, -0.37)
		for _, b := range []float64{2.3, 3, 3.6} {
			values := powerLaw(s, b)
			for i := range values {
				values[i] = 100 + 50*values[i]
			}
			e := Collect(Site{Samples: s, Values: values, Noise: n, Variance: 1}, Settings{})
			bl := fitBlanketOf(e)
			r, _ := fitRadial(e.Gram, &e.Layout, bl, 1)
			truth := Blanket{Amplitude: 50, Decay: b}
			near(t, "excess", r.Excess, truth.meanOver(excessInner, excessOuter), 0.05)
			for k := range r.Near {
				want := ringMean(truth, e.Layout.Edges[k], e.Layout.Edges[k+1])
				if math.Abs(r.Ring[k]-want) > 0.05*want+0.1 {
					t.Errorf("%g pixels, b %g, ring %d: %.3f ± %.3f, want %.3f", pixels, b, k, r.Ring[k], r.RingSE[k], want)
				}
			}
		}
	}
}
