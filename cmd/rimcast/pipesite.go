package main

import (
	"math"
	"sort"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
)

// place is a position that is measured like a crater: a crater of the
// catalogue, or a null position.
type place struct {
	crater      int // catalogue index, -1 for a null position
	centre      geom.LonLat
	radius      float64
	sigmaCentre float64 // metres, 0 unknown
	level       int
	outer       float64
}

// siteBuilder turns patches into sites; one per worker, so that its buffers
// are reused.
type siteBuilder struct {
	p       *pipeline
	g       *group
	beside  []*raster.Layer
	samples ejecta.Samples
	rho     []float64
	masked  []bool
	patch   raster.Patch
	near    []geom.Neighbour
	sinAz   []float64
	cosAz   []float64
	east    []float64 // unit vector of each pixel in the crater's frame
	north   []float64
	up      []float64

	level      int     // of the last place
	sun, track float64 // mean azimuths round the last place, degrees; NaN without such a layer
}

func (p *pipeline) newBuilders(g *group) ([]*siteBuilder, error) {
	out := make([]*siteBuilder, p.workers())
	for w := range out {
		b := &siteBuilder{p: p, g: g}
		for _, l := range g.beside {
			c, err := l.layer.Clone()
			if err != nil {
				return nil, err
			}
			b.beside = append(b.beside, c)
		}
		out[w] = b
	}
	return out, nil
}

func closeBuilders(list []*siteBuilder) {
	for _, b := range list {
		for _, l := range b.beside {
			l.Close()
		}
	}
}

// build returns one site per species of the group, sharing geometry, masks,
// neighbours and covariates. The sites are valid until the next call.
func (b *siteBuilder) build(at place, patch *raster.Patch) ([]ejecta.Site, error) {
	b.sun, b.track, b.level = math.NaN(), math.NaN(), at.level
	b.fillSamples(at, patch)
	neighbours := b.maskNeighbours(at)
	covariates, err := b.besideFields(at, patch)
	if err != nil {
		return nil, err
	}
	for k, layer := range b.g.covariates {
		covariates = append(covariates, b.covariateFields(b.g.covSections[k], widened(patch.Values[layer]))...)
	}
	b.applyMasks(patch)
	sites := make([]ejecta.Site, len(b.g.species))
	for k := range sites {
		s := ejecta.Site{Samples: &b.samples, Values: patch.Values[k], Masked: b.masked,
			Neighbours: neighbours, Covariates: covariates, CentreSigma: at.sigmaCentre / at.radius}
		if noise := b.g.noise[at.level]; noise != nil && noise[k] != nil {
			s.Noise = noise[k]
			s.Variance = noise[k].Variance(float64(patch.Column(0)-int(patch.X[0])), float64(patch.Row(0)-int(patch.Y[0])))
		}
		sites[k] = s
	}
	return sites, nil
}

// covariateFields turns a layer into the columns that it is regressed on. Times
// of day go round the clock and become two columns; azimuths are no amounts at
// all: their mean goes to the alarms. Block means of what goes round are wrong
// where it passes zero, so large craters do without.
func (b *siteBuilder) covariateFields(section *layerSection, values []float64) []ejecta.Field {
	round := section.Kind == "local_time" || section.Kind == "sun_azimuth" || section.Kind == "track_azimuth"
	if round && b.level > 0 {
		return nil
	}
	switch section.Kind {
	case "local_time":
		cos, sin := make([]float64, len(values)), make([]float64, len(values))
		for i, hour := range values {
			sin[i], cos[i] = math.Sincos(hour * math.Pi / 12)
		}
		return []ejecta.Field{{Name: section.Name + " cos", Values: cos}, {Name: section.Name + " sin", Values: sin}}
	case "sun_azimuth":
		b.sun = b.meanAzimuth(values)
		return nil
	case "track_azimuth":
		b.track = b.meanAzimuth(values)
		return nil
	case "strip":
		return nil
	}
	return []ejecta.Field{{Name: section.Name, Values: values}}
}

// meanAzimuth is the mean of an azimuth map, degrees clockwise from north, as
// axes: the sun and its opposite are alike for a slope.
func (b *siteBuilder) meanAzimuth(values []float64) float64 {
	var near []float64
	for i, v := range values {
		if b.rho[i] < azimuthReach && !math.IsNaN(v) {
			near = append(near, v*math.Pi/180)
		}
	}
	mean, _ := ejecta.AxialMean(near, nil)
	return mean * 180 / math.Pi
}

// azimuthReach is the range within which azimuths are averaged, crater radii.
const azimuthReach = 3

func widened(v []float32) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = float64(x)
	}
	return out
}

func (b *siteBuilder) fillSamples(at place, patch *raster.Patch) {
	n := patch.Len()
	b.rho = resized(b.rho, n)
	b.masked = resized(b.masked, n)
	b.sinAz, b.cosAz = resized(b.sinAz, n), resized(b.cosAz, n)
	b.east, b.north, b.up = resized(b.east, n), resized(b.north, n), resized(b.up, n)
	scale := 1 / b.p.body.MeanRadius()
	for i, r := range patch.R {
		b.rho[i] = r / at.radius
		b.masked[i] = false
		b.sinAz[i], b.cosAz[i] = math.Sincos(patch.Az[i])
		var s float64
		s, b.up[i] = math.Sincos(r * scale)
		b.east[i], b.north[i] = s*b.sinAz[i], s*b.cosAz[i]
	}
	b.rimRange(at)
	b.samples = ejecta.Samples{
		X: patch.X, Y: patch.Y, Rho: b.rho, Az: patch.Az, Area: patch.Area,
		PixelsPerRadius: at.radius / math.Max(patch.ColMetres, patch.RowMetres),
		ColRho:          patch.ColMetres / at.radius, RowRho: patch.RowMetres / at.radius, Rotation: patch.Rotation,
	}
}

// rimRange measures range from an elliptical rim in rim units: rho is the
// distance over the rim's own radius in that direction.
func (b *siteBuilder) rimRange(at place) {
	if at.crater < 0 {
		return
	}
	c := &b.p.cat.Craters[at.crater]
	if !(c.SemiMajor > 0 && c.SemiMinor > 0 && c.SemiMajor > c.SemiMinor) {
		return
	}
	sin, cos := math.Sincos(c.RimAzimuth * math.Pi / 180)
	for i := range b.rho {
		along := b.cosAz[i]*cos + b.sinAz[i]*sin
		across := b.sinAz[i]*cos - b.cosAz[i]*sin
		rim := 1 / math.Hypot(along/c.SemiMajor, across/c.SemiMinor)
		b.rho[i] *= at.radius / rim
	}
}

func resized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n, n+n/4)
	}
	return s[:n]
}

// Neighbour rules, in radii of the crater.
const (
	terrainRatio  = 3.0 // a neighbour this much larger is terrain, not a neighbour
	maxTemplates  = 6   // neighbours whose blanket gets a column of its own
	templateRatio = 0.3 // smaller neighbours get none
)

// maskNeighbours masks the ground of neighbours and returns the blanket
// template of those that could matter. A much larger crater that surrounds or
// adjoins this one is the ground it lies on, and is left.
func (b *siteBuilder) maskNeighbours(at place) []ejecta.Field {
	k := b.p.sv.Sampling.NeighbourRadii
	reach := at.outer * at.radius
	if at.crater >= 0 {
		b.near = b.p.near.Within(at.crater, reach, math.Max(k, 1), b.near[:0])
	} else {
		b.near = b.p.near.Reaching(at.centre, reach, math.Max(k, 1), b.near[:0])
	}
	var strong []geom.Neighbour
	for _, n := range b.near {
		r := b.p.cat.Craters[n.Index].Radius
		masked, ok := b.p.maskRadius(n, at.radius)
		if !ok {
			continue
		}
		b.maskDisc(n, masked)
		if r > templateRatio*at.radius && n.Distance > at.radius+0.5*r {
			strong = append(strong, n)
		}
	}
	influence := func(n geom.Neighbour) float64 {
		return b.p.cat.Craters[n.Index].Radius / math.Max(n.Distance-2*at.radius, 0.5*at.radius)
	}
	sort.SliceStable(strong, func(i, j int) bool { return influence(strong[i]) > influence(strong[j]) })
	var fields []ejecta.Field
	for _, n := range strong[:min(len(strong), maxTemplates)] {
		fields = append(fields, ejecta.Field{Name: b.p.cat.Craters[n.Index].ID, Values: b.blanketOf(n)})
	}
	return fields
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
func (b *siteBuilder) direction(n geom.Neighbour) unit {
	sin, cos := math.Sincos(n.Azimuth)
	s, c := math.Sincos(n.Distance / b.p.body.MeanRadius())
	return unit{s * sin, s * cos, c}
}

// chord2 is the squared chord from a direction to pixel i.
func (b *siteBuilder) chord2(v unit, i int) float64 {
	de, dn, du := b.east[i]-v.east, b.north[i]-v.north, b.up[i]-v.up
	return de*de + dn*dn + du*du
}

func (b *siteBuilder) maskDisc(n geom.Neighbour, radius float64) {
	half := 2 * math.Sin(math.Min(radius/b.p.body.MeanRadius(), math.Pi)/2)
	v := b.direction(n)
	for i := range b.masked {
		if b.chord2(v, i) < half*half {
			b.masked[i] = true
		}
	}
}

// blanketOf is the neighbour's rho^-3, capped at its rim, by chords: far away,
// where they fall short of arcs, nothing is left of it.
func (b *siteBuilder) blanketOf(n geom.Neighbour) []float64 {
	out := make([]float64, len(b.masked))
	rim := b.p.cat.Craters[n.Index].Radius / b.p.body.MeanRadius()
	v := b.direction(n)
	for i := range out {
		square := math.Max(b.chord2(v, i)/(rim*rim), 1)
		out[i] = 1 / (square * math.Sqrt(square))
	}
	return out
}

// applyMasks masks the pixels that a mask layer marks.
func (b *siteBuilder) applyMasks(patch *raster.Patch) {
	for k, layer := range b.g.masks {
		for i, v := range patch.Values[layer] {
			if b.g.maskLayers[k].badPixel(v) {
				b.masked[i] = true
			}
		}
	}
}

// besideFields samples the layers that lie on grids of their own: their own
// pixels round the place, then the nearest to each pixel of the patch.
func (b *siteBuilder) besideFields(at place, patch *raster.Patch) ([]ejecta.Field, error) {
	var fields []ejecta.Field
	frame := geom.NewFrame(b.p.body, at.centre)
	for k, beside := range b.g.beside {
		l := b.beside[k]
		level := 0
		for l.Grid().PixelSize(at.centre)*float64(int(2)<<level) <= patch.PixelSize && level < raster.MaxLevel {
			level++
		}
		set := raster.LayerSet{Layers: []*raster.Layer{l}}
		if err := l.Grid().Geometry(b.p.body, at.centre, at.outer*at.radius*1.05, level, &b.patch); err != nil {
			return nil, err
		}
		if err := set.Fill(&b.patch); err != nil {
			return nil, err
		}
		values := nearestValues(l.Grid(), frame, patch, &b.patch)
		if !beside.mask {
			fields = append(fields, b.covariateFields(beside.section, values)...)
			continue
		}
		for i, v := range values {
			if beside.section.badPixel(float32(v)) {
				b.masked[i] = true
			}
		}
	}
	return fields, nil
}

// nearestValues looks up the value of another grid's patch at every pixel of a
// patch; NaN where there is none.
func nearestValues(g *raster.Grid, frame *geom.Frame, patch, other *raster.Patch) []float64 {
	at := make(map[[2]int]int32, other.Len())
	for i := range other.X {
		at[[2]int{other.Column(i), other.Row(i)}] = int32(i)
	}
	out := make([]float64, patch.Len())
	block := float64(other.Block)
	width := (g.Width + other.Block - 1) / other.Block
	for i := range out {
		out[i] = math.NaN()
		x, y, ok := g.Pixel(frame.LonLat(patch.R[i], patch.Az[i]))
		if !ok {
			continue
		}
		col, row := int(math.Floor(x/block)), int(math.Floor(y/block))
		for _, c := range [3]int{col, col - width, col + width} {
			if j, ok := at[[2]int{c, row}]; ok {
				out[i] = float64(other.Values[0][j])
				break
			}
		}
	}
	return out
}
