package main

import (
	"context"
	"fmt"
	"hash/fnv"
	"math"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
)

// The pipeline is the only place that joins maps to the science: it opens the
// layers, measures the noise of each, samples null positions, visits every
// crater and hands plain numbers to ejecta.

// pipeline is a survey being screened.
type pipeline struct {
	sv   *surveyFile
	prog progress
	body geom.Body
	cat  geom.Catalogue
	near *geom.Neighbours
	set  ejecta.Settings

	keepNulls bool // the evidence of null positions is wanted after their tests

	groups []*group // species by grid
	sites  []crater // one per catalogue crater
	nulls  []nullSite
	quick  []ejecta.QuickP // of a sieve, by slot; nil without one

	looking *sieve // while it looks

	epochSets []epochSet
	epochs    []ejecta.EpochFinding // like findings; nil without times of day

	rows      []int32                  // by catalogue index: place of its findings, by crater; below 0 without one, see makeRoom; nil: all have one
	findings  []ejecta.Finding         // crater-major, see at; with a spool, without their details
	details   *spool[ejecta.Detail]    // like findings; nil: the findings hold them
	bare      *ejecta.Bare             // craters without findings, when all are measured
	evidence  []ejecta.SpeciesEvidence // like findings
	scales    map[scaleKey]*nullScale
	claims    []*ejecta.NullClaims      // by species: directions at null positions
	mapAlarms [][]ejecta.Alarm          // by species
	slopes    []map[string]ejecta.Slope // by species: of covariates, by name
	notes     []string

	keep  *keeper  // of checkpoints; may be nil
	units []string // in a merge: by species
	blind bool     // in a merge: the maps are not there for pictures
}

// crater is what the pipeline settles about a crater before it reads a pixel.
type crater struct {
	status ejecta.Status // not ok: nothing is read
	note   string
	level  int
	pixels float64 // rim radius in pixels of its level
	outer  float64 // farthest range, crater radii
	off    bool    // no pixel of any map lies within reach
}

// group is the species that share a grid, with the layers sampled beside them.
type group struct {
	set         *raster.LayerSet
	species     []int // numbers of the species
	covariates  []int // layer numbers within set
	covSections []*layerSection
	masks       []int // layer numbers within set
	maskLayers  []*layerSection
	beside      []besideLayer
	sigma       []*sigmaLayer           // by species of the group; nil without an error map
	noise       map[int][]*ejecta.Noise // by level, one per species of the group, then those for the sieve; nil entries: no noise
}

// besideLayer is a covariate or mask on a grid of its own.
type besideLayer struct {
	layer   *raster.Layer
	section *layerSection
	mask    bool
	epoch   int // 1 more than the species whose time of day it is, for its missing pixels
}

// measureSurvey measures the craters of a survey, or those of one shard, on
// every species, and hands the pipeline to finish while its maps are open.
func measureSurvey(ctx context.Context, sv *surveyFile, prog progress, keep *keeper, finish func(*pipeline) error) error {
	p := &pipeline{sv: sv, prog: prog, keep: keep, details: sv.details}
	defer p.close()
	if err := p.open(); err != nil {
		return err
	}
	for _, step := range []func(context.Context) error{p.measureNoise, p.beginSieve, p.measureNulls, p.sieveCraters, p.measureCraters} {
		if err := step(ctx); err != nil {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	return finish(p)
}

// open reads the catalogue, opens the layers and settles size and level of
// every crater.
func (p *pipeline) open() error {
	if err := p.openCatalogue(); err != nil {
		return err
	}
	p.findNeighbours()
	if err := p.openSpecies(); err != nil {
		return err
	}
	if err := p.openBeside(); err != nil {
		return err
	}
	if err := p.openEpochs(); err != nil {
		return err
	}
	if err := p.openSigmas(); err != nil {
		return err
	}
	if err := p.lookAtMaps(); err != nil {
		return err
	}
	p.settleSites()
	p.askUnit()
	return nil
}

// at is where findings, evidence and epochs hold the measurement of a slot: the
// catalogue index of a crater that has room times the number of species, plus the
// species.
func (p *pipeline) at(slot int) int {
	if p.rows == nil {
		return slot
	}
	n := len(p.sv.Species)
	return int(p.rows[slot/n])*n + slot%n
}

// openCatalogue settles body and settings, and reads the catalogue.
func (p *pipeline) openCatalogue() (err error) {
	if p.body, _, err = p.sv.settleBody(); err != nil {
		return err
	}
	if p.cat, err = p.sv.readCatalogue(p.body); err != nil {
		return err
	}
	p.set = ejecta.Settings{
		Outer: p.sv.Sampling.Outer, Rings: p.sv.Sampling.Rings, Sectors: p.sv.Sampling.Sectors,
		MinCoverage: p.sv.Sampling.MinCoverage, CentreSigma: p.sv.Tests.CentreSigma,
		Inner: p.sv.Sampling.Inner, Alpha: p.sv.Tests.Alpha,
	}.WithDefaults()
	return nil
}

// findNeighbours readies the search for neighbours of the catalogue.
func (p *pipeline) findNeighbours() { p.near = geom.NewNeighbours(p.body, p.cat.Craters) }

// settleSites settles every crater of the catalogue.
func (p *pipeline) settleSites() {
	p.sites = make([]crater, len(p.cat.Craters))
	notes := interned{}
	for i := range p.cat.Craters {
		p.sites[i] = p.settle(p.cat.Craters[i].Centre, p.cat.Craters[i].Radius)
		p.sites[i].note = notes.text(p.sites[i].note)
	}
}

// askUnit asks whether the unit of the radius is right where no crater is large
// enough to be measured.
func (p *pipeline) askUnit() {
	small, other := 0, 0
	for _, c := range p.sites {
		switch c.status {
		case ejecta.StatusTooSmall:
			small++
		case ejecta.StatusNotCovered:
		default:
			other++
		}
	}
	if small > 0 && other == 0 {
		p.note("all %d craters on the map are too small for its pixels: is the unit of the radius right?", small)
	}
}

func (p *pipeline) close() {
	for _, g := range p.groups {
		for _, b := range g.beside {
			b.layer.Close()
		}
		g.set.Close()
	}
}

// openSpecies opens the species and gathers those on one grid.
func (p *pipeline) openSpecies() error {
	for i := range p.sv.Species {
		l, err := p.sv.openLayer(&p.sv.Species[i], p.body)
		if err != nil {
			return err
		}
		g := p.groupOf(l)
		if g == nil {
			g = &group{set: &raster.LayerSet{Cache: p.sv.Run.Memory / 4}, noise: map[int][]*ejecta.Noise{}}
			p.groups = append(p.groups, g)
		}
		// Species come first in a group, so that species k is layer k.
		g.set.Layers = append(g.set.Layers, l)
		g.species = append(g.species, i)
	}
	return nil
}

func (p *pipeline) groupOf(l *raster.Layer) *group {
	for _, g := range p.groups {
		if g.set.Layers[0].Grid().Same(l.Grid()) {
			return g
		}
	}
	return nil
}

// openBeside opens covariates and masks for every group: on the same grid they
// are read with the species, else sampled from their own.
func (p *pipeline) openBeside() error {
	for _, g := range p.groups {
		for i := range p.sv.Covariates {
			if err := p.addBeside(g, &p.sv.Covariates[i], false); err != nil {
				return err
			}
		}
		for i := range p.sv.Masks {
			if err := p.addBeside(g, &p.sv.Masks[i], true); err != nil {
				return err
			}
		}
	}
	return nil
}

func (p *pipeline) addBeside(g *group, section *layerSection, mask bool) error {
	l, err := p.sv.openLayer(section, p.body)
	if err != nil {
		return err
	}
	if !g.set.Layers[0].Grid().Same(l.Grid()) {
		g.beside = append(g.beside, besideLayer{layer: l, section: section, mask: mask})
		return nil
	}
	n := len(g.set.Layers)
	g.set.Layers = append(g.set.Layers, l)
	if mask {
		g.masks, g.maskLayers = append(g.masks, n), append(g.maskLayers, section)
	} else {
		g.covariates, g.covSections = append(g.covariates, n), append(g.covSections, section)
	}
	return nil
}

// settle chooses the pixel level and range of a crater, by the grid of the
// first species. Craters wider than LevelRadius pixels are measured on block
// means, so that the work does not grow with their size.
func (p *pipeline) settle(at geom.LonLat, radius float64) crater {
	return p.settleOn(p.groups[0].set.Layers[0].Grid(), at, radius)
}

func (p *pipeline) settleOn(g *raster.Grid, at geom.LonLat, radius float64) crater {
	c := crater{status: ejecta.StatusOK, outer: p.set.Outer}
	quarter := math.Pi / 2 * p.body.MeanRadius()
	c.outer = math.Min(c.outer, quarter/radius)
	if c.outer < 4 {
		c.status, c.note = ejecta.StatusTooLarge, fmt.Sprintf("rings of %g radii would reach round the body", p.set.Outer)
		return c
	}
	long, _ := pixelSides(g, at)
	c.pixels = radius / long
	if least := math.Max(ejecta.MinRadialPixels, p.sv.Sampling.MinPixels); !(c.pixels >= least) {
		c.status, c.note = ejecta.StatusTooSmall, fmt.Sprintf("rim radius %.2f pixels; a profile needs %.1f", c.pixels, least)
		return c
	}
	if r := p.distortion(g, at, c.outer*radius); r > maxDistortion {
		c.status, c.note = ejecta.StatusDistorted, fmt.Sprintf("the map's pixels are stretched %.0f to 1 within reach; a map in a polar or local projection is needed", r)
		return c
	}
	for !p.sv.Sampling.FullResolution && c.pixels > p.sv.Sampling.LevelRadius && c.level < raster.MaxLevel {
		c.level++
		c.pixels /= 2
	}
	return c
}

// maxDistortion is how far the pixels within reach of a crater may be stretched:
// beyond, the noise of the map has no one shape round the crater.
const maxDistortion = 6

// distortion is the largest ratio of a pixel's sides within reach, looked for
// at the centre and at the ends of the meridian.
func (p *pipeline) distortion(g *raster.Grid, at geom.LonLat, reach float64) float64 {
	f := geom.NewFrame(p.body, at)
	worst := 1.0
	for _, az := range []float64{0, math.Pi} {
		for _, r := range []float64{0, reach / 2, reach} {
			q := f.LonLat(r, az)
			if x, y, ok := g.Pixel(q); !ok || !g.Inside(x, y) {
				continue
			}
			long, short := pixelSides(g, q)
			worst = math.Max(worst, long/short)
		}
	}
	return worst
}

// pixelSide is the ground length of the longer side of a pixel.
func pixelSide(g *raster.Grid, at geom.LonLat) float64 {
	long, _ := pixelSides(g, at)
	return long
}

// pixelSides are the ground lengths of a column and a row step, longer first.
func pixelSides(g *raster.Grid, at geom.LonLat) (long, short float64) {
	x, y, ok := g.Pixel(at)
	if !ok {
		side := g.PixelSize(at)
		return side, side
	}
	f := geom.NewFrame(g.Body, at)
	short = math.Inf(1)
	for _, d := range [2][2]float64{{1, 0}, {0, 1}} {
		q, ok := g.LonLat(x+d[0], y+d[1])
		if !ok {
			q, ok = g.LonLat(x-d[0], y-d[1])
		}
		if ok {
			r, _ := f.Polar(q)
			long, short = math.Max(long, r), math.Min(short, r)
		}
	}
	if long == 0 || short == 0 {
		return g.PixelSize(at), g.PixelSize(at)
	}
	return long, short
}

// workers is the number of goroutines that read and measure.
func (p *pipeline) workers() int { return max(1, p.sv.Run.Workers) }

// seedOf gives each crater its own random stream, whatever the order of work.
func (p *pipeline) seedOf(id string) uint64 {
	h := fnv.New64a()
	h.Write([]byte(id))
	return h.Sum64() ^ p.sv.Tests.Seed
}
