package testblanket

import (
	"fmt"
	"math"
	"math/rand/v2"

	"rimcast/geom"
)

// placeTries is how often a random crater is thrown before giving up.
const placeTries = 20000

// oldCraters throws craters at random, the large ones first: rims do not touch
// one another, and stay away from what was planted except for the asked-for
// neighbours.
func (s Scenario) oldCraters(v *Survey, rng *rand.Rand) ([]geom.Crater, error) {
	radii := s.oldRadii(rng)
	all := append([]geom.Crater(nil), v.Craters...)
	planted := len(all)
	for i, px := range radii {
		c := geom.Crater{Index: planted + i, ID: fmt.Sprintf("old-%03d", i+1), Radius: px * v.pixel(), Age: orElse(s.Old.Age, math.NaN()), Freshness: math.NaN()}
		// The neighbours are the smallest: they are thrown last.
		near := planted > 0 && i >= len(radii)-s.Old.Neighbours
		if !s.place(v, &c, all, planted, near, rng) {
			return nil, fmt.Errorf("scenario: no room for %d old craters of %g to %g pixels; ask for fewer or smaller ones",
				s.Old.Count, s.Old.MinPixels, s.Old.MaxPixels)
		}
		all = append(all, c)
	}
	return all[planted:], nil
}

// oldRadii draws from a power law, descending.
func (s Scenario) oldRadii(rng *rand.Rand) []float64 {
	o := s.Old
	lo, hi := math.Pow(o.MinPixels, -o.Slope), math.Pow(o.MaxPixels, -o.Slope)
	out := make([]float64, o.Count)
	for i := range out {
		// Equal steps of the distribution with a jitter: every survey has its
		// large and its small craters.
		t := (float64(i) + rng.Float64()) / float64(len(out))
		out[i] = math.Pow(hi+t*(lo-hi), -1/o.Slope)
	}
	return out
}

func (s Scenario) place(v *Survey, c *geom.Crater, all []geom.Crater, planted int, near bool, rng *rand.Rand) bool {
	for range placeTries {
		if near {
			host := all[rng.IntN(planted)]
			d := host.Radius*(2.5+1.5*rng.Float64()) + c.Radius
			c.Centre = v.Body.Direct(host.Centre, 2*math.Pi*rng.Float64(), d)
		} else {
			c.Centre = s.randomPlace(v, rng)
		}
		if math.Abs(c.Centre.Lat) <= s.Old.MaxLat && s.clear(v, c, all, planted, near) {
			return true
		}
	}
	return false
}

// randomPlace is uniform on the mapped part of the sphere.
func (s Scenario) randomPlace(v *Survey, rng *rand.Rand) geom.LonLat {
	g := v.Grid
	top := math.Sin(g.North * math.Pi / 180)
	bottom := math.Sin((g.North - g.Step*float64(g.Height)) * math.Pi / 180)
	return geom.LonLat{
		Lon: geom.WrapLon(g.West + rng.Float64()*g.Step*float64(g.Width)),
		Lat: math.Asin(bottom+rng.Float64()*(top-bottom)) * 180 / math.Pi,
	}
}

func (s Scenario) clear(v *Survey, c *geom.Crater, all []geom.Crater, planted int, near bool) bool {
	for i, o := range all {
		gap := 1.2 * (o.Radius + c.Radius)
		if i < planted && !near {
			gap = 6*o.Radius + c.Radius // beyond what its blanket shows
		}
		if d, _ := v.Body.Inverse(o.Centre, c.Centre); d < gap {
			return false
		}
	}
	return true
}
