package main

import (
	"cmp"
	"context"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"gonum.org/v1/gonum/floats"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
	"rimcast/reports"
)

// Null positions are places without a catalogued crater that are measured like
// craters. They show whether the noise model is right: the mean of their
// omnibus statistic over its expectation is the null scale, by which every
// p-value of the size class is corrected.

// sizeClasses are the limits of the size classes, pixels per crater radius.
var sizeClasses = []float64{ejecta.MinRadialPixels, ejecta.MinDirectionalPixels, 5, 8, 12, 17}

func sizeClass(pixels float64) int {
	k := 0
	for k+1 < len(sizeClasses) && pixels >= sizeClasses[k+1] {
		k++
	}
	return k
}

// scaleKey is a species and size class at one pixel level.
type scaleKey struct{ species, level, class int }

// nullScale gathers the null positions of a key.
type nullScale struct {
	omnibus  []float64 // chi-square over its degrees of freedom
	excess   []float64 // squared score of the blanket
	p, pe    []float64
	radiusLo float64
	radiusHi float64
	lambda   float64
	doubt    string // why lambda cannot be trusted
	tally    ejecta.LayerTally
	without  ejecta.LayerScales // without the covariates of an alarm
}

// shrink is the weight, in null positions, of the belief that the noise model
// is right.
const shrink = 30

// settle computes the scale. Without directional tests (small craters) the
// blanket scores serve.
func (s *nullScale) settle() {
	values := s.omnibus
	if len(values) == 0 {
		values = s.excess
	}
	s.lambda = (floats.Sum(values) + shrink) / (float64(len(values)) + shrink)
	s.doubt = ejecta.ScaleDoubt(values, s.lambda)
	s.without = s.tally.Scales(s.lambda, shrink)
}

// nullSite is one null position and what each species measured there.
type nullSite struct {
	place
	class  int
	result []nullResult // by species
}

type nullResult struct {
	ok       bool
	omnibus  float64
	z        float64
	scores   []float64
	epoch    []float64 // of the blanket and the harmonics on the ground common to all times of day
	evidence *ejecta.Evidence
	without  ejecta.LayerScales
	claim    float64 // p of a direction that no alarm of the ground explains; NaN without one
}

// measureNulls places and measures the null positions.
func (p *pipeline) measureNulls(ctx context.Context) error {
	p.scales = map[scaleKey]*nullScale{}
	p.nulls = p.placeNulls()
	if err := p.visitNulls(ctx); err != nil {
		return err
	}
	for i := range p.nulls {
		p.tallyNull(&p.nulls[i])
	}
	p.surveySlopes()
	for _, s := range p.scales {
		s.settle()
	}
	if err := p.nullPs(); err != nil {
		return err
	}
	return p.claimNulls(ctx)
}

// visitNulls measures the null positions, and looks at the craters in the same
// reading of the maps where a sieve wants that.
func (p *pipeline) visitNulls(ctx context.Context) error {
	if p.looking == nil {
		return p.visit(ctx, "null positions", p.nullJobs(), p.nullAt)
	}
	nulls, looks := p.nullJobs(), p.looking.jobs()
	p.prog.Stage("null positions and sieve", (len(nulls)+len(looks))*len(p.groups))
	for _, g := range p.groups {
		cells := p.looking.cells(g, looks)
		if err := p.onPatches(g, nulls, p.nullAt, func(patches raster.Patches) error {
			return raster.VisitBoth(ctx, g.set, patches, cells, p.workers())
		}); err != nil {
			return err
		}
	}
	return nil
}

// nullAt measures a null position. One that cannot be read is left out.
func (p *pipeline) nullAt(g *group, b *siteBuilder, job raster.Job, patch *raster.Patch, fault error) {
	n := &p.nulls[job.ID]
	sites, set := p.nullSites(n, b, patch, fault)
	for k, s := range sites {
		n.result[g.species[k]] = measureNull(s, set)
		b.nullEpoch(g.species[k], s, set, &n.result[g.species[k]])
	}
}

// nullSites is a null position on the species of a group, with its settings;
// none when it cannot be read.
func (p *pipeline) nullSites(n *nullSite, b *siteBuilder, patch *raster.Patch, fault error) ([]ejecta.Site, ejecta.Settings) {
	set := p.set
	set.Outer = n.outer
	if fault != nil || patch.Len() == 0 {
		return nil, set
	}
	sites, err := b.build(n.place, patch)
	if err != nil {
		return nil, set
	}
	return sites, set
}

func (p *pipeline) nullJobs() []raster.Job {
	jobs := make([]raster.Job, len(p.nulls))
	for i, n := range p.nulls {
		jobs[i] = raster.Job{ID: i, Centre: n.centre, Reach: n.outer * n.radius, Level: n.level}
	}
	return jobs
}

func measureNull(s ejecta.Site, set ejecta.Settings) nullResult {
	e := ejecta.Collect(s, set)
	if e.Gram == nil {
		return nullResult{}
	}
	q := e.Probe(set)
	return nullResult{ok: true, omnibus: q.Omnibus, z: q.Z, scores: q.Evidence.Scores(), evidence: e, without: e.WithoutLayers(set)}
}

func (p *pipeline) tallyNull(n *nullSite) {
	for species, r := range n.result {
		if !r.ok {
			continue
		}
		key := scaleKey{species, n.level, n.class}
		s := p.scales[key]
		if s == nil {
			s = &nullScale{radiusLo: math.Inf(1), tally: ejecta.LayerTally{}}
			p.scales[key] = s
		}
		s.tally.Add(r.without)
		if !math.IsNaN(r.omnibus) {
			s.omnibus = append(s.omnibus, r.omnibus/12)
		}
		if !math.IsNaN(r.z) {
			s.excess = append(s.excess, r.z*r.z)
		}
		s.radiusLo = math.Min(s.radiusLo, r.evidence.PixelsPer)
		s.radiusHi = math.Max(s.radiusHi, r.evidence.PixelsPer)
	}
}

// nullPs computes the p-values at the null positions with the scale applied,
// for the calibration figure, and lets the evidence go.
func (p *pipeline) nullPs() error {
	err := parallel(p.workers(), len(p.nulls), func(i int) {
		n := &p.nulls[i]
		for species := range n.result {
			r := &n.result[species]
			if !r.ok {
				continue
			}
			m := r.evidence.Measure(p.set, p.scales[scaleKey{species, n.level, n.class}].lambda, p.sv.Tests.Seed+uint64(i))
			r.omnibus, r.z = m.Finding.AsymmetryP, m.Finding.ExcessP
			if !p.keepNulls {
				r.evidence = nil
			}
		}
	})
	if err != nil {
		return err
	}
	for i := range p.nulls {
		n := &p.nulls[i]
		for species, r := range n.result {
			if !r.ok {
				continue
			}
			s := p.scales[scaleKey{species, n.level, n.class}]
			if !math.IsNaN(r.omnibus) {
				s.p = append(s.p, r.omnibus)
			}
			if !math.IsNaN(r.z) {
				s.pe = append(s.pe, r.z)
			}
		}
	}
	return nil
}

// scaleOf is the null scale for a species at a place; 1 where no null position
// could be measured.
func (p *pipeline) scaleOf(species, level int, pixels float64) float64 {
	if s := p.scales[scaleKey{species, level, sizeClass(pixels)}]; s != nil {
		return s.lambda
	}
	return 1
}

// withoutOf are the scales without covariates for a species at a place.
func (p *pipeline) withoutOf(species, level int, pixels float64) ejecta.LayerScales {
	if s := p.scales[scaleKey{species, level, sizeClass(pixels)}]; s != nil {
		return s.without
	}
	return nil
}

// nullSummaries lists the classes in order for the report.
func (p *pipeline) nullSummaries() []reports.NullSummary {
	var out []reports.NullSummary
	for _, k := range p.scaleKeys() {
		s := p.scales[k]
		f := float64(int(1) << k.level)
		out = append(out, reports.NullSummary{Species: p.sv.Species[k.species].shownName(), RadiusLo: s.radiusLo * f, RadiusHi: s.radiusHi * f,
			Count: len(s.pe), Scale: s.lambda, PValues: s.p, ExcessPValues: s.pe})
	}
	return out
}

// scaleKeys are the keys of the scales in order.
func (p *pipeline) scaleKeys() []scaleKey {
	return slices.SortedFunc(maps.Keys(p.scales), func(a, b scaleKey) int {
		return cmp.Or(a.species-b.species, a.level-b.level, a.class-b.class)
	})
}

// noiseCorrelation is the correlation of two species' directional noise, from
// the null positions that measured both.
func (p *pipeline) noiseCorrelation(a, b int) float64 {
	sum, n := 0.0, 0
	for i := range p.nulls {
		x, y := p.nulls[i].result[a].scores, p.nulls[i].result[b].scores
		if x == nil || y == nil {
			continue
		}
		for k := range x {
			// Clipped, so that an uncatalogued crater does not set it alone.
			sum += math.Max(-3, math.Min(3, x[k])) * math.Max(-3, math.Min(3, y[k]))
			n++
		}
	}
	if n < 40 {
		return 0
	}
	return math.Max(-0.95, math.Min(0.95, sum/float64(n)))
}

// minNulls is the least number of null positions of a class.
const minNulls = 40

// placeNulls draws the positions: for each size class and level with craters,
// in number by the craters in it, between minNulls and the setting.
func (p *pipeline) placeNulls() []nullSite {
	type key struct{ level, class int }
	members := map[key][]int{}
	var keys []key
	total := 0
	for i, c := range p.sites {
		if c.status != ejecta.StatusOK {
			continue
		}
		k := key{c.level, sizeClass(c.pixels)}
		if members[k] == nil {
			keys = append(keys, k)
		}
		members[k] = append(members[k], i)
		total++
	}
	sort.Slice(keys, func(i, j int) bool {
		return keys[i].level < keys[j].level || keys[i].level == keys[j].level && keys[i].class < keys[j].class
	})
	var out []nullSite
	for _, k := range keys {
		p.byID(members[k])
		most := p.sv.Tests.Nulls
		n := min(max(most*len(members[k])/total, min(minNulls, most)), most)
		rng := rand.New(rand.NewPCG(p.sv.Tests.Seed, uint64(k.level*100+k.class)))
		out = append(out, p.classNulls(members[k], k.level, k.class, n, rng)...)
	}
	return out
}

// byID sorts craters by their ids, so that null positions do not depend on the
// order of the catalogue.
func (p *pipeline) byID(craters []int) {
	slices.SortFunc(craters, func(i, j int) int {
		return cmp.Compare(p.cat.Craters[i].ID, p.cat.Craters[j].ID)
	})
}

// classNulls draws positions with the radii and latitudes of the class's own
// craters, away from every catalogued crater as far as the map allows.
func (p *pipeline) classNulls(members []int, level, class, n int, rng *rand.Rand) []nullSite {
	var out []nullSite
	for range 20 * n {
		if len(out) == n {
			break
		}
		like := members[rng.IntN(len(members))]
		radius := p.cat.Craters[like].Radius
		at, ok := p.freePlace(radius, p.cat.Craters[like].Centre.Lat, rng)
		if !ok {
			continue
		}
		c := p.settle(at, radius)
		if c.status != ejecta.StatusOK || c.level != level || sizeClass(c.pixels) != class {
			continue
		}
		out = append(out, nullSite{place: place{-1, at, radius, 0, level, c.outer}, class: class, result: make([]nullResult, len(p.sv.Species))})
	}
	return out
}

// freePlace tries places near a latitude on the map until one is free of
// craters, with ever smaller distances when the map is crowded.
func (p *pipeline) freePlace(radius, lat float64, rng *rand.Rand) (geom.LonLat, bool) {
	g := p.groups[0].set.Layers[0].Grid()
	for _, reach := range []float64{3, 2, 1.5} {
		for range 30 {
			at, ok := p.anyPlace(g, lat, rng)
			if !ok {
				continue
			}
			if p.near.Free(at, 1.2*radius, reach, terrainRatio*radius) {
				return at, true
			}
		}
	}
	return geom.LonLat{}, false
}

// fromCut counts the columns of a map that goes round the body from longitude
// 180, so that the same places are drawn wherever the map was cut.
func fromCut(g *raster.Grid, x float64) float64 {
	if cut, _, ok := g.Pixel(geom.LonLat{Lon: -180}); ok && g.Global {
		return math.Mod(x+cut, float64(g.Width))
	}
	return x
}

// anyPlace draws a place on the map: half the time near the given latitude,
// else anywhere, in equal areas of the grid.
func (p *pipeline) anyPlace(g *raster.Grid, lat float64, rng *rand.Rand) (geom.LonLat, bool) {
	x, y := fromCut(g, rng.Float64()*float64(g.Width)), rng.Float64()*float64(g.Height)
	at, ok := g.LonLat(x, y)
	if !ok {
		return at, false
	}
	if rng.IntN(2) == 0 {
		q := geom.LonLat{Lon: at.Lon, Lat: math.Max(-89.9, math.Min(89.9, lat+10*(rng.Float64()-0.5)))}
		if qx, qy, ok := g.Pixel(q); ok && g.Inside(qx, qy) {
			return q, true
		}
	}
	return at, true
}
