package main

import (
	"fmt"
	"math"

	"rimcast/geom"
	"rimcast/raster"
)

// A look at the ground round some craters, for inspect: a few pixels in each
// direction, so that holes, a far field without values and rings on neighbours
// are known before a run.

// Where the look samples: directions, and ranges in crater radii of the blanket,
// of the far field, and of all rings.
const (
	groundCraters    = 64
	groundDirections = 24
	groundHole       = 60.0 // degrees from which a hole can pass for a direction
	groundFar        = 0.3  // share of the far field below which it is short
	groundMasked     = 0.15 // share of the rings on neighbours from which it is said
)

var (
	blanketRanges = [...]float64{1.2, 1.6, 2.2}
	farRanges     = [...]float64{4.5, 5.5, 6.5, 7.5}
	allRanges     = [...]float64{1.2, 1.6, 2.2, 3, 4, 5.5, 7.5}
)

// groundLook counts what the look found for one layer.
type groundLook struct{ craters, bare, holes, short, crowded int }

// groundEye reads single pixels of a species and of the masks.
type groundEye struct {
	sv    *surveyFile
	body  geom.Body
	layer *raster.Layer
	masks []*raster.Layer
	near  *geom.Neighbours
	list  []geom.Crater
	plan  *pipeline // for its rule of neighbours
}

// lookAtGround looks at the ground of up to groundCraters craters, spread
// through the list, on each species.
func (r *inspection) lookAtGround(sv *surveyFile, body geom.Body) {
	if r.first != nil || r.Catalogue == nil || len(r.Catalogue.craters) == 0 {
		return
	}
	list := r.Catalogue.craters
	eye := &groundEye{sv: sv, body: body, list: list, near: geom.NewNeighbours(body, list), plan: &pipeline{sv: sv, cat: geom.Catalogue{Craters: list}}}
	defer eye.close()
	if !eye.openMasks() {
		return
	}
	for i, k := range r.looks {
		if k.n.section != "species" || k.sigma || isAddress(k.n.layer.Path) {
			continue
		}
		if look, ok := eye.species(k); ok {
			r.Layers[i].Warnings = append(r.Layers[i].Warnings, look.words(sv)...)
		}
	}
}

func (e *groundEye) close() {
	for _, m := range e.masks {
		m.Close()
	}
}

// openMasks opens the masks; false when one lies on a server.
func (e *groundEye) openMasks() bool {
	for i := range e.sv.Masks {
		l, err := e.sv.openLayer(&e.sv.Masks[i], e.body)
		if err != nil || isAddress(e.sv.Masks[i].Path) {
			return false
		}
		e.masks = append(e.masks, l)
	}
	return true
}

func (e *groundEye) species(k *layerLook) (look groundLook, ok bool) {
	l, err := e.sv.openLayer(k.n.layer, e.body)
	if err != nil {
		return look, false
	}
	defer l.Close()
	e.layer = l
	for i := range groundCraters {
		at := i * len(e.list) / groundCraters
		if i > 0 && at == (i-1)*len(e.list)/groundCraters {
			continue
		}
		e.crater(at, &look)
	}
	return look, true
}

// crater looks at one crater that a run would measure.
func (e *groundEye) crater(i int, look *groundLook) {
	c := &e.list[i]
	g := e.layer.Grid()
	if x, y, ok := g.Pixel(c.Centre); !ok || !g.Inside(x, y) || !(c.Radius/g.PixelSize(c.Centre) >= e.sv.Sampling.MinPixels) {
		return
	}
	look.craters++
	rings := e.valid(c, blanketRanges[:])
	switch share, hole := rings.share(), rings.hole(); {
	case share < e.sv.Sampling.MinCoverage:
		look.bare++
	case hole >= groundHole:
		look.holes++
	}
	if e.valid(c, farRanges[:]).share() < groundFar {
		look.short++
	}
	if e.crowded(i) > groundMasked {
		look.crowded++
	}
}

// groundRing tells for each direction at how many ranges there is a value.
type groundRing struct {
	seen   [groundDirections]int
	ranges int
}

func (e *groundEye) valid(c *geom.Crater, ranges []float64) groundRing {
	ring := groundRing{ranges: len(ranges)}
	f := geom.NewFrame(e.body, c.Centre)
	for d := range ring.seen {
		for _, rho := range ranges {
			if e.good(f.LonLat(rho*c.Radius, direction(d))) {
				ring.seen[d]++
			}
		}
	}
	return ring
}

// direction is an azimuth of the look, radians.
func direction(d int) float64 { return 2 * math.Pi * float64(d) / groundDirections }

// good reports whether a place has a value that no mask leaves out.
func (e *groundEye) good(at geom.LonLat) bool {
	if math.IsNaN(valueAt(e.layer, at)) {
		return false
	}
	for i, m := range e.masks {
		if e.sv.Masks[i].badPixel(float32(valueAt(m, at))) {
			return false
		}
	}
	return true
}

func (r groundRing) share() float64 {
	n := 0
	for _, s := range r.seen {
		n += s
	}
	return float64(n) / float64(r.ranges*len(r.seen))
}

// hole is the widest run of directions without any value, degrees.
func (r groundRing) hole() float64 {
	run, widest := 0, 0
	for i := range 2 * len(r.seen) {
		if r.seen[i%len(r.seen)] > 0 {
			run = 0
			continue
		}
		run++
		widest = max(widest, min(run, len(r.seen)))
	}
	return float64(widest) * 360 / groundDirections
}

// crowded is the share of the places in the rings round a crater that a run
// leaves out because they lie on other craters.
func (e *groundEye) crowded(i int) float64 {
	c := &e.list[i]
	near := e.near.Within(i, allRanges[len(allRanges)-1]*c.Radius, math.Max(e.sv.Sampling.NeighbourRadii, 1), nil)
	if len(near) == 0 {
		return 0
	}
	f := geom.NewFrame(e.body, c.Centre)
	on, all := 0, 0
	for d := range groundDirections {
		for _, rho := range allRanges {
			all++
			if e.covered(c, near, f.LonLat(rho*c.Radius, direction(d))) {
				on++
			}
		}
	}
	return float64(on) / float64(all)
}

// covered reports whether a place round a crater is left out because of others.
func (e *groundEye) covered(c *geom.Crater, near []geom.Neighbour, at geom.LonLat) bool {
	for _, n := range near {
		masked, ok := e.plan.maskRadius(n, c.Radius)
		if !ok {
			continue
		}
		if d, _ := e.body.Inverse(at, e.list[n.Index].Centre); d <= masked {
			return true
		}
	}
	return false
}

// words are the warnings of a look, by the alarms and states that a run gives.
func (g *groundLook) words(sv *surveyFile) (list []string) {
	say := func(n int, format string, args ...any) {
		if n > 0 {
			list = append(list, fmt.Sprintf(format, args...)+fmt.Sprintf(", at %d of the %d craters looked at", n, g.craters))
		}
	}
	say(g.bare, "low_coverage: less than %.3g %% of the ejecta range has values", 100*sv.Sampling.MinCoverage)
	say(g.holes, "coverage_can_fake: a hole of %g degrees or more near the rim", groundHole)
	say(g.short, "background_short: less than %.3g %% of the far field has values", 100*groundFar)
	say(g.crowded, "neighbour_overlap: more than %.3g %% of the rings lie on other craters", 100*groundMasked)
	return list
}
