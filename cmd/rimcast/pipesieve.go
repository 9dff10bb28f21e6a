package main

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
)

// With tests.sieve below one, every crater is looked at by sums over cells, in one
// reading of the maps, and only the most promising share is measured.

// sieve is the quick look at a catalogue.
type sieve struct {
	p     *pipeline
	edges []float64
	looks [][]*ejecta.QuickLook // by species, by crater
	kind  []int                 // of each crater: size class and level

	lock    sync.Mutex
	engines map[sieveKey]*sieveEngines
	made    int   // engines, those that were let go too
	held    int64 // bytes of those that are kept
}

// sieveKey is what engines are made for: the species of a group, a pixel level and a
// class of geometry.
type sieveKey struct {
	g     *group
	level int
	class ejecta.SieveClass
}

// sieveEngines, one for each species, are made by the first who wants one; nil where
// it cannot be.
type sieveEngines struct {
	once sync.Once
	of   []*ejecta.Sieve
}

// sieveCraters settles which craters are not measured, by the looks of beginSieve.
func (p *pipeline) sieveCraters(context.Context) error {
	if p.looking == nil {
		p.adviseSieve()
		return nil
	}
	defer func() { p.looking = nil }()
	return p.looking.settle()
}

// beginSieve readies a sieve where one is wanted: the looks come with the null
// positions, in the same reading of the maps.
func (p *pipeline) beginSieve(context.Context) error {
	if p.sv.Tests.Sieve < 1 {
		p.looking = newSieve(p)
	}
	return nil
}

// longCatalogue is the number of craters from which a sieve is worth a word.
const longCatalogue = 50000

// adviseSieve tells who measures a long catalogue that there is a sieve.
func (p *pipeline) adviseSieve() {
	n := 0
	for i, c := range p.sites {
		if c.status == ejecta.StatusOK && p.owns(i) {
			n++
		}
	}
	if n >= longCatalogue {
		p.prog.Note("%d craters are measured in full; --sieve 0.05 would measure the twentieth that promises most, after a quick look at all", n)
	}
}

func newSieve(p *pipeline) *sieve {
	s := &sieve{p: p, edges: ejecta.SieveEdges(p.set.Outer), kind: make([]int, len(p.sites)), engines: map[sieveKey]*sieveEngines{}}
	for range p.sv.Species {
		s.looks = append(s.looks, make([]*ejecta.QuickLook, len(p.sites)))
	}
	for i, c := range p.sites {
		s.kind[i] = c.level*len(sizeClasses) + sizeClass(c.pixels)
	}
	return s
}

// jobs are the craters whose cells reach as far as those of the classes. Shards
// look at the whole catalogue, so that all measure by the same limit.
func (s *sieve) jobs() (jobs []raster.Job) {
	for i, c := range s.p.sites {
		if c.status == ejecta.StatusOK && c.outer == s.p.set.Outer {
			crater := &s.p.cat.Craters[i]
			jobs = append(jobs, raster.Job{ID: i, Centre: crater.Centre, Reach: c.outer * crater.Radius, Level: c.level})
		}
	}
	return jobs
}

// cells are the looks at the craters on a group; none without a sieve.
func (s *sieve) cells(g *group, jobs []raster.Job) raster.Cells {
	return raster.Cells{Jobs: jobs, Layout: s.layout(g), Do: func(_ int, job raster.Job, sums *raster.CellSums, fault error) (failed error) {
		defer s.p.prog.Add(1)
		defer caught(&failed)
		if fault == nil {
			s.lookAt(g, job, sums)
		}
		return nil
	}}
}

// layout is the cells of a sieve, with the masks of a group.
func (s *sieve) layout(g *group) raster.CellLayout {
	l := raster.CellLayout{Sectors: ejecta.SieveSectors}
	for _, e := range s.edges {
		l.Edges = append(l.Edges, e/s.p.set.Outer)
	}
	for k := range g.species {
		l.Layers = append(l.Layers, k)
	}
	for k, m := range g.maskLayers {
		l.Gates, l.Layers = append(l.Gates, m.badPixel), append(l.Layers, g.masks[k])
	}
	return l
}

// lookAt looks at a crater on the species of a group.
func (s *sieve) lookAt(g *group, job raster.Job, sums *raster.CellSums) {
	shape, x, y, ok := pixelShape(g.set.Layers[0].Grid(), job.Centre, s.p.cat.Craters[job.ID].Radius, job.Level)
	noise := g.noise[job.Level]
	if !ok || noise == nil {
		return
	}
	noise = noise[len(noise)-len(g.species):]
	discs := s.p.discsAround(job.ID)
	engines := s.enginesOf(sieveKey{g, job.Level, shape.Class()}, noise)
	for k, species := range g.species {
		engine := engines[k]
		if engine == nil {
			continue
		}
		if q, ok := engine.Look(s.cellMean(sums, k, discs), noise[k].Variance(x, y)*shape.Stretch()); ok {
			s.looks[species][job.ID] = &q
		}
	}
}

// cellMean tells the means of cells of a layer, NaN for a cell whose middle a
// neighbour masks, or where less than half of the pixels have a value.
func (s *sieve) cellMean(sums *raster.CellSums, layer int, discs []ejecta.Disc) func(ejecta.SieveCell) float64 {
	return func(c ejecta.SieveCell) float64 {
		m, pixels := cellOf(sums, layer, c)
		if m.Pixels == 0 || 2*m.Pixels < pixels || s.masked(c, discs) {
			return math.NaN()
		}
		return m.Mean()
	}
}

// cellOf adds up a cell of a layer; pixels are all in it.
func cellOf(sums *raster.CellSums, layer int, c ejecta.SieveCell) (m raster.Moments, pixels int) {
	for ring := c.From; ring < c.To; ring++ {
		for sector := c.Sector; sector < c.Sector+c.Wide; sector++ {
			cell := ring*ejecta.SieveSectors + sector
			m, pixels = m.Plus(sums.Moments(cell, layer)), pixels+sums.Pixels(cell)
		}
	}
	return m, pixels
}

// masked reports whether the middle of a cell lies in a disc.
func (s *sieve) masked(c ejecta.SieveCell, discs []ejecta.Disc) bool {
	if len(discs) == 0 {
		return false
	}
	rho := (s.edges[c.From] + s.edges[c.To]) / 2
	sin, cos := math.Sincos((float64(c.Sector) + float64(c.Wide)/2) * 2 * math.Pi / ejecta.SieveSectors)
	east, north := rho*sin, rho*cos
	for i := range discs { // on crowded ground hundreds
		d := &discs[i]
		if e, n := east-d.East, north-d.North; e*e+n*n < d.Radius*d.Radius {
			return true
		}
	}
	return false
}

// discsAround are the masked neighbours of a crater, in its radii.
func (p *pipeline) discsAround(i int) (discs []ejecta.Disc) {
	radius := p.cat.Craters[i].Radius
	for _, n := range p.discsOf(i) {
		d := p.discOf(n.Neighbour, radius)
		d.Radius = n.radius / radius
		discs = append(discs, d)
	}
	return discs
}

// enginesOf are the engines of a key.
func (s *sieve) enginesOf(key sieveKey, noise []*ejecta.Noise) []*ejecta.Sieve {
	e := s.slot(key)
	e.once.Do(func() {
		e.of = ejecta.NewSieves(key.class, s.edges, noise)
		s.makeRoom(e.of)
	})
	return e.of
}

// slot is the place of engines, made or not.
func (s *sieve) slot(key sieveKey) *sieveEngines {
	s.lock.Lock()
	defer s.lock.Unlock()
	e := s.engines[key]
	if e == nil {
		e = &sieveEngines{}
		s.engines[key] = e
	}
	return e
}

// makeRoom counts new engines, and lets all go when they take more than an eighth of
// the memory: those that are wanted again are made again.
func (s *sieve) makeRoom(made []*ejecta.Sieve) {
	s.lock.Lock()
	defer s.lock.Unlock()
	shared := int64(0)
	for _, e := range made {
		if e != nil {
			s.made++
			s.held += e.Bytes()
			shared = e.SharedBytes()
		}
	}
	if s.held += shared; s.held > s.p.sv.Run.Memory/8 {
		clear(s.engines)
		s.held = 0
	}
}

// pixelShape is how a place lies on the pixels of a level, and its column and row
// there; false where the map has no such place.
func pixelShape(grid *raster.Grid, at geom.LonLat, radius float64, level int) (shape ejecta.SieveShape, x, y float64, ok bool) {
	if x, y, ok = grid.Pixel(at); !ok {
		return shape, x, y, false
	}
	f, block := geom.NewFrame(grid.Body, at), float64(int(1)<<level)
	column, okColumn := grid.LonLat(x+1, y)
	above, okAbove := grid.LonLat(x, y-1)
	if !okColumn || !okAbove {
		return shape, x, y, false
	}
	wide, _ := f.Polar(column)
	high, up := f.Polar(above)
	return ejecta.SieveShape{Col: wide * block / radius, Row: high * block / radius, Rotation: up}, x / block, y / block, wide > 0 && high > 0
}

// settle leaves out the craters that promise least.
func (s *sieve) settle() error {
	p, n := s.p, len(s.p.sv.Species)
	p.quick = make([]ejecta.QuickP, n*len(p.sites))
	if err := parallel(p.workers(), n, func(species int) {
		for i, q := range ejecta.QuickPs(s.looks[species], s.kind) {
			p.quick[i*n+species] = q
		}
	}); err != nil {
		return err
	}
	left, blind := 0, 0
	for i, keep := range ejecta.SieveKeep(p.quick, n, p.sv.Tests.Sieve) {
		c := &p.sites[i]
		if c.status != ejecta.StatusOK {
			continue
		}
		if !keep {
			c.status, c.note = ejecta.StatusSieved, "not measured: the sieve found others more promising"
			left++
		} else if !s.sawAny(i) {
			blind++
		}
	}
	p.noteSieve(left, blind)
	p.prog.Note("%d engines of the sieve, %d MB kept", s.made, s.held>>20)
	return nil
}

// sawAny reports whether a crater was looked at on any species.
func (s *sieve) sawAny(crater int) bool {
	return slices.ContainsFunc(s.looks, func(looks []*ejecta.QuickLook) bool { return looks[crater] != nil })
}

// noteSieve tells what the sieve did.
func (p *pipeline) noteSieve(left, blind int) {
	text := fmt.Sprintf("The sieve left out %d of %d craters, whose quick looks promise least; they count among the tests of the false discovery rates. Groups, matched pairs and stacks are of craters that were chosen for what they show, and tell nothing of all.", left, len(p.sites))
	if blind > 0 {
		text += fmt.Sprintf(" It could not look at %d, which are measured.", blind)
	}
	p.notes = append(p.notes, text)
	p.prog.Note("%s", text)
}

// warnShare tells of a share that leaves out craters as sure as those that pass.
func (p *pipeline) warnShare() {
	worst, more := 0.0, 0
	for i := range p.findings {
		if f := &p.findings[i]; f.ExcessQ <= p.sv.Tests.FDR {
			worst = math.Max(worst, f.ExcessP)
		}
	}
	for i := range p.findings {
		if f := &p.findings[i]; f.Status == ejecta.StatusSieved && f.Quick != nil && f.Quick.Excess < worst {
			more++
		}
	}
	for species := range p.sv.Species {
		p.bare.SieveTests(species, func(tests, _ [2]float64) {
			if tests[0] < worst {
				more++
			}
		})
	}
	if more > 0 {
		p.note("The share of the sieve is small: %d findings that it left out have a quick p of an excess below the largest that passes the false discovery rate. A larger --sieve would measure them.", more)
	}
}

// sieved is the number of craters that a sieve left out.
func (p *pipeline) sieved() (n int) {
	for i := 0; i < len(p.findings); i += len(p.sv.Species) {
		if p.findings[i].Status == ejecta.StatusSieved {
			n++
		}
	}
	return n + p.bare.Counts()[ejecta.StatusSieved]/len(p.sv.Species)
}

// quickOf is the quick look of a measurement; nil without one.
func (p *pipeline) quickOf(slot int) *ejecta.QuickP {
	if math.IsNaN(p.quick[slot].Excess) {
		return nil
	}
	return &p.quick[slot]
}
