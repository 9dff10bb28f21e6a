package main

import (
	"math"
	"sort"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
)

// Neighbour rules, in radii of the crater.
const (
	terrainRatio  = 3.0 // a neighbour this much larger is terrain, not a neighbour
	maxTemplates  = 6   // neighbours whose blanket gets a column of its own
	templateRatio = 0.3 // smaller neighbours get none
)

// maskNeighbours masks the ground of neighbours and returns the blanket
// template of those that could matter. A much larger crater that surrounds or
// adjoins this one is the ground it lies on, and is left.
func (b *siteBuilder) maskNeighbours(at place, patch *raster.Patch) []ejecta.Field {
	k := b.p.sv.Sampling.NeighbourRadii
	reach := at.outer * at.radius
	if at.crater >= 0 {
		b.near = b.p.near.Within(at.crater, reach, math.Max(k, 1), b.near[:0])
	} else {
		b.near = b.p.near.Reaching(at.centre, reach, math.Max(k, 1), b.near[:0])
	}
	if len(b.near) == 0 {
		return nil
	}
	b.vectors.set(patch, b.p.body.MeanRadius())
	var strong []geom.Neighbour
	for _, n := range b.near {
		r := b.p.cat.Craters[n.Index].Radius
		masked, ok := b.p.maskRadius(n, at.radius)
		if !ok {
			continue
		}
		b.vectors.disc(b.masked, b.p.direction(n), masked/b.p.body.MeanRadius())
		if r > templateRatio*at.radius && n.Distance > at.radius+0.5*r {
			strong = append(strong, n)
		}
	}
	influence := func(n geom.Neighbour) float64 {
		return b.p.cat.Craters[n.Index].Radius / math.Max(n.Distance-2*at.radius, 0.5*at.radius)
	}
	sort.SliceStable(strong, func(i, j int) bool { return influence(strong[i]) > influence(strong[j]) })
	var fields []ejecta.Field
	for k, n := range strong[:min(len(strong), maxTemplates)] {
		b.blankets[k] = resized(b.blankets[k], patch.Len())
		b.vectors.blanket(b.p.direction(n), b.p.cat.Craters[n.Index].Radius/b.p.body.MeanRadius(), b.blankets[k])
		fields = append(fields, ejecta.Field{Name: b.p.cat.Craters[n.Index].ID, Values: b.blankets[k], Disc: b.p.discOf(n, at.radius)})
	}
	return fields
}

// discOf is the rim of a neighbour in radii of a crater.
func (p *pipeline) discOf(n geom.Neighbour, radius float64) ejecta.Disc {
	sin, cos := math.Sincos(n.Azimuth)
	d := n.Distance / radius
	return ejecta.Disc{East: d * sin, North: d * cos, Radius: p.cat.Craters[n.Index].Radius / radius}
}

// maskRadius is how far a neighbour is masked for a crater of the given radius,
// metres: its blanket as the settings say, but at least its rim, and no more
// than leaves the crater's own rim free. ok is false for a neighbour that is not
// masked: the ground itself, or the same crater under another name.
func (p *pipeline) maskRadius(n geom.Neighbour, radius float64) (masked float64, ok bool) {
	r := p.cat.Craters[n.Index].Radius
	same := n.Distance < 0.2*radius && math.Abs(r/radius-1) < 0.2
	if r > terrainRatio*radius || same {
		return 0, false
	}
	return math.Min(p.sv.Sampling.NeighbourRadii*r, math.Max(r, n.Distance-1.2*radius)), true
}

// unit is a direction in a crater's frame.
type unit struct{ east, north, up float64 }

// direction is a neighbour's centre as a unit vector. Squared chords between
// unit vectors need no transcendental function per pixel and lose nothing at
// small distances.
func (p *pipeline) direction(n geom.Neighbour) unit {
	sin, cos := math.Sincos(n.Azimuth)
	s, c := math.Sincos(n.Distance / p.body.MeanRadius())
	return unit{s * sin, s * cos, c}
}

// vectors is the pixels of a patch as unit vectors in the crater's frame, and
// the boxes that hold each run of them, so that what is far away is passed over
// by the run.
type vectors struct {
	east, north, up []float64
	runs            []vectorRun
}

// runLength is the number of pixels in a run.
const runLength = 64

// vectorRun is the range of east and north of some successive pixels.
type vectorRun struct{ e0, e1, n0, n1 float64 }

func (v *vectors) set(patch *raster.Patch, radius float64) {
	n := patch.Len()
	v.east, v.north, v.up = resized(v.east, n), resized(v.north, n), resized(v.up, n)
	for i, r := range patch.R {
		s, c := shortSincos(r / radius)
		v.east[i], v.north[i], v.up[i] = s*patch.Sin[i], s*patch.Cos[i], c
	}
	v.runs = v.runs[:0]
	for from := 0; from < n; from += runLength {
		v.runs = append(v.runs, v.run(from, min(from+runLength, n)))
	}
}

// shortSincos is sine and cosine of an angle in radians, by their series where the
// last digit does not notice.
func shortSincos(x float64) (sin, cos float64) {
	if !(math.Abs(x) < 0.25) {
		return math.Sincos(x)
	}
	q := x * x
	sin = x * (1 - q/6*(1-q/20*(1-q/42*(1-q/72*(1-q/110)))))
	cos = 1 - q/2*(1-q/12*(1-q/30*(1-q/56*(1-q/90*(1-q/132)))))
	return sin, cos
}

func (v *vectors) run(from, to int) vectorRun {
	r := vectorRun{v.east[from], v.east[from], v.north[from], v.north[from]}
	for i := from + 1; i < to; i++ {
		r.e0, r.e1 = min(r.e0, v.east[i]), max(r.e1, v.east[i])
		r.n0, r.n1 = min(r.n0, v.north[i]), max(r.n1, v.north[i])
	}
	return r
}

// apart reports that no pixel of a run can lie within a chord of a direction.
func (r vectorRun) apart(at unit, chord float64) bool {
	return at.east-r.e1 > chord || r.e0-at.east > chord || at.north-r.n1 > chord || r.n0-at.north > chord
}

// chord2 is the squared chord from a direction to pixel i.
func (v *vectors) chord2(at unit, i int) float64 {
	de, dn, du := v.east[i]-at.east, v.north[i]-at.north, v.up[i]-at.up
	return de*de + dn*dn + du*du
}

// disc marks the pixels within an angle of a direction.
func (v *vectors) disc(masked []bool, at unit, angle float64) {
	chord := 2 * math.Sin(math.Min(angle, math.Pi)/2)
	for k, r := range v.runs {
		if r.apart(at, chord) {
			continue
		}
		for i := k * runLength; i < min((k+1)*runLength, len(masked)); i++ {
			if v.chord2(at, i) < chord*chord {
				masked[i] = true
			}
		}
	}
}

// blanket fills out with rho^-3 of a neighbour of the given rim angle, capped at
// its rim, by chords: far away, where they fall short of arcs, nothing is left of
// it.
func (v *vectors) blanket(at unit, rim float64, out []float64) {
	inv := 1 / (rim * rim)
	for i := range out {
		square := max(v.chord2(at, i)*inv, 1)
		out[i] = 1 / (square * math.Sqrt(square))
	}
}
