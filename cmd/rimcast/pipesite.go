package main

import (
	"math"

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
	vectors vectors

	blankets [maxTemplates][]float64 // of neighbours round the last place

	day   dayTimes
	sites []ejecta.Site // of the last place

	level      int       // of the last place
	strips     []float64 // strip numbers round it, nil without such a layer
	sun, track float64   // mean azimuths round the last place, degrees; NaN without such a layer
}

func (p *pipeline) newBuilders(g *group) ([]*siteBuilder, error) {
	out := make([]*siteBuilder, p.workers())
	for w := range out {
		out[w] = &siteBuilder{p: p, g: g}
	}
	for _, l := range g.beside {
		clones, err := l.layer.Clones(len(out), p.sv.Run.Memory/besideShare/int64(len(g.beside)))
		if err != nil {
			closeBuilders(out)
			return nil, err
		}
		for w, c := range clones {
			out[w].beside = append(out[w].beside, c)
		}
	}
	return out, nil
}

// besideShare is the part of the memory, one over it, for decoded blocks of the layers
// on grids of their own; a visit takes a quarter for those of its grid.
const besideShare = 8

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
	b.sun, b.track, b.level, b.strips = math.NaN(), math.NaN(), at.level, nil
	b.day.begin(len(b.p.sv.Species))
	b.fillSamples(at, patch)
	neighbours := b.maskNeighbours(at, patch)
	covariates, err := b.besideFields(at, patch)
	if err != nil {
		return nil, err
	}
	for k, layer := range b.g.covariates {
		covariates = append(covariates, b.covariateFields(b.g.covSections[k], widened(patch.Values[layer]))...)
	}
	b.applyMasks(patch)
	strips := b.stripFields()
	sites, shared := make([]ejecta.Site, len(b.g.species)), &ejecta.Shared{}
	for k := range sites {
		s := ejecta.Site{Samples: &b.samples, Values: patch.Values[k], Masked: b.masked,
			Neighbours: neighbours, Covariates: covariates, Strips: strips, Shared: shared, CentreSigma: at.sigmaCentre / at.radius}
		if noise := b.g.noise[at.level]; noise != nil && noise[k] != nil {
			s.Noise = noise[k]
			s.Variance = noise[k].Variance(float64(patch.Column(0)-int(patch.X[0])), float64(patch.Row(0)-int(patch.Y[0])))
			if sigma := b.g.sigma[k]; sigma != nil {
				s.Variance = noise[k].Typical() * sigma.ratio(patch.Values[sigma.layer])
			}
		}
		sites[k] = s
	}
	b.sites = sites
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
		b.day.addHours(section, b.rho, values)
		cos, sin := make([]float64, len(values)), make([]float64, len(values))
		for i, hour := range values {
			sin[i], cos[i] = math.Sincos(hour * math.Pi / 12)
		}
		return []ejecta.Field{{Name: section.Name + " cos", Kind: section.Kind, Values: cos}, {Name: section.Name + " sin", Kind: section.Kind, Values: sin}}
	case "sun_azimuth":
		b.sun = b.meanAzimuth(section, values)
		b.day.addSun(section, b.rho, values)
		return nil
	case "track_azimuth":
		b.track = b.meanAzimuth(section, values)
		return nil
	case "strip":
		b.strips = values
		return nil
	}
	return []ejecta.Field{{Name: section.Name, Kind: section.Kind, Values: values}}
}

// stripFields are the columns of the strips; the strips also tell the track
// when no layer does. A block mean that is no whole number is a block of two
// strips and belongs to neither.
func (b *siteBuilder) stripFields() []ejecta.Field {
	if b.strips == nil {
		return nil
	}
	for i, v := range b.strips {
		if math.Abs(v-math.Round(v)) > 1e-3 {
			b.strips[i] = math.NaN()
		}
	}
	fields := ejecta.StripFields(&b.samples, b.strips)
	if math.IsNaN(b.track) {
		b.track = ejecta.StripTrack(&b.samples, fields)
	}
	return fields
}

// meanAzimuth is the mean of an azimuth map, degrees clockwise from north, as
// axes: the sun and its opposite are alike for a slope.
func (b *siteBuilder) meanAzimuth(section *layerSection, values []float64) float64 {
	var near []float64
	for i, v := range values {
		if b.rho[i] < azimuthReach && !math.IsNaN(v) {
			near = append(near, section.northAzimuth(v)*math.Pi/180)
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
	for i, r := range patch.R {
		b.rho[i] = r / at.radius
		b.masked[i] = false
	}
	b.rimRange(at, patch)
	b.samples = ejecta.Samples{
		X: patch.X, Y: patch.Y, Rho: b.rho, Az: patch.Az, Sin: patch.Sin, Cos: patch.Cos, Area: patch.Area,
		PixelsPerRadius: at.radius / math.Max(patch.ColMetres, patch.RowMetres),
		ColRho:          patch.ColMetres / at.radius, RowRho: patch.RowMetres / at.radius, Rotation: patch.Rotation,
	}
}

// rimRange measures range from an elliptical rim in rim units: rho is the
// distance over the rim's own radius in that direction.
func (b *siteBuilder) rimRange(at place, patch *raster.Patch) {
	if at.crater < 0 {
		return
	}
	c := &b.p.cat.Craters[at.crater]
	if !(c.SemiMajor > 0 && c.SemiMinor > 0 && c.SemiMajor > c.SemiMinor) {
		return
	}
	sin, cos := math.Sincos(c.RimAzimuth * math.Pi / 180)
	for i := range b.rho {
		along := patch.Cos[i]*cos + patch.Sin[i]*sin
		across := patch.Sin[i]*cos - patch.Cos[i]*sin
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
		values := patch.Nearest(b.g.set.Layers[0].Grid(), &b.patch, l.Grid(), at.centre)
		if beside.epoch > 0 {
			b.day.elsewhere[beside.epoch-1] = values
			continue
		}
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
