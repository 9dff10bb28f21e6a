package ejecta

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Every pixel of the tests is in one block, and the pieces of a block that is not
// whole hold its valid pixels only: in white noise its variance is close to one
// over their number.
func TestBlockPiecesAreItsPixels(t *testing.T) {
	white := KnownNoise(func(dx, dy float64) float64 {
		if dx == 0 && dy == 0 {
			return 1
		}
		return 0
	}, 120)
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.Float64Range(1.5, 4.99).Draw(t, "radius")
		s := flatSite(r, rapid.Float64Range(-0.5, 0.5).Draw(t, "x"), rapid.Float64Range(-0.5, 0.5).Draw(t, "y")).withUnits()
		l := NewLayout(r, 0, 8, 0, 0)
		valid := allTrue(s.Len())
		cut := rapid.Float64Range(-6, 6).Draw(t, "edge")
		for i := range valid {
			valid[i] = s.Rho[i]*s.Sin[i] > cut
		}
		c := Gather(s, &l, valid)
		if c.N == 0 {
			t.Skip("no ground")
		}
		squares := white.lattice(c)
		for m := range c.N {
			v := squares.covariance(m, m) * float64(c.Pixels[m])
			if v < 0.7 || v > 1.0001 {
				t.Fatalf("cell %d of %d pixels: variance %.2f of that of their mean", m, c.Pixels[m], v)
			}
		}
	})
}

// Blocks lie where their shape serves, and large ones nowhere near the rim.
func TestBlocksGrowOutwards(t *testing.T) {
	for _, r := range []float64{1.5, 2.3, 3, 3.7, 4.99} {
		s := flatSite(r, 0.13, -0.37).withUnits()
		l := NewLayout(r, 0, 8, 0, 0)
		for i := range s.X {
			k := l.block(s, s.X[i], s.Y[i])
			if reach := math.Hypot(float64(int(1)<<k.lx), float64(int(1)<<k.ly)) / 2 / r; k.pixels() > 4 && s.Rho[i] < 2.9-reach {
				t.Errorf("R %g: a block of %d pixels holds one at %.2f radii", r, k.pixels(), s.Rho[i])
			}
		}
	}
}

// A block's places are spread over its own extents, turned as the map is.
func TestBlockSides(t *testing.T) {
	s := flatSite(4, 0, 0).withUnits()
	s.Rotation = math.Pi / 2 // map-up is east
	l := NewLayout(4, 0, 8, 0, 0)
	c := Gather(s, &l, allTrue(s.Len()))
	for m := range c.N {
		if p := c.start[m]; c.start[m+1] == p+1 && c.pieces[p].level == 0 {
			e0, n0 := c.inside(m, 0, 0)
			e1, n1 := c.inside(m, 0, 1) // a whole row up
			if math.Abs(e1-e0-0.25) > 1e-12 || math.Abs(n1-n0) > 1e-12 {
				t.Fatalf("a row up lies %g east, %g north", e1-e0, n1-n0)
			}
			return
		}
	}
	t.Fatal("no pixel stands alone")
}
