package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"
)

// plantedRays are rays of two widths at directions off the grid.
var plantedRays = []struct{ azimuth, kappa float64 }{{10.6, 35}, {95.2, 8}, {203.7, 35}, {287.4, 8}}

// Rays of two widths under noise: each is found where it is, and the wide ones are
// told from the narrow ones.
func TestRaysOfTwoWidths(t *testing.T) {
	g := newAxisGround(t, "white")
	var f [2 * Orders]float64
	for _, r := range plantedRays {
		s := vonMisesShape(r.kappa)
		height := s.turned(r.azimuth * math.Pi / 180)
		for i, v := range height {
			f[i] += v / s.at(0)
		}
	}
	_, info := g.d.score(&f)
	rng := rand.New(rand.NewPCG(3, 3))
	const draws = 40
	var off, narrow, wide, n float64
	for range draws {
		d := g.draw(40/math.Sqrt(info), &f, rng)
		fits := d.fitRays().rays
		for _, r := range d.shaped(fits) {
			for _, p := range plantedRays {
				e := math.Abs(math.Remainder(r.azimuth-p.azimuth, 360))
				if e > 15 {
					continue
				}
				n, off = n+1, off+e/(4*draws)
				if w := 2 * r.shape.halfWidth(); p.kappa == 8 {
					wide += w / (2 * draws)
				} else {
					narrow += w / (2 * draws)
				}
			}
		}
	}
	t.Logf("%g of %d rays, off by %.1f degrees, widths %.0f and %.0f", n, 4*draws, off, narrow, wide)
	if n < 0.95*4*draws || off > 3 {
		t.Errorf("%g of %d rays found, off by %.1f degrees", n, 4*draws, off)
	}
	// Full widths at half height of 23 and 48 degrees.
	if math.Abs(narrow-23) > 4 || math.Abs(wide-48) > 9 {
		t.Errorf("widths %.0f and %.0f degrees, want 23 and 48", narrow, wide)
	}
}

// Narrow rays near the limit of detection keep the narrowest width nearly always.
func TestFaintRaysStayNarrow(t *testing.T) {
	g := newAxisGround(t, "white")
	var f [2 * Orders]float64
	for _, az := range []float64{10.6, 95.2, 203.7, 287.4} {
		for i, v := range rayShape.turned(az * math.Pi / 180) {
			f[i] += v
		}
	}
	_, info := g.d.score(&f)
	rng := rand.New(rand.NewPCG(4, 3))
	n, wider := 0, 0
	for range 60 {
		d := g.draw(7/math.Sqrt(info), &f, rng)
		for _, r := range d.shaped(d.fitRays().rays) {
			n++
			wider += counted(r.shape != rayShape)
			if !(r.amplitude > 0) || !(r.se > 0) {
				t.Fatalf("ray %+v", r)
			}
		}
	}
	if share := float64(wider) / float64(n); n < 150 || share > 0.2 {
		t.Errorf("%.2f of %d narrow rays called wider", share, n)
	}
}
