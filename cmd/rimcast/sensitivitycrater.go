package main

import (
	"context"
	"math"
	"math/rand/v2"
	"strconv"

	"rimcast/ejecta"
	"rimcast/raster"
)

// limitDraws and craterDraws are the draws of noise for a crater's limits, and for
// each pattern and amplitude at a crater that was asked for.
const (
	limitDraws  = 100
	craterDraws = 50
)

// limitRow is the check of one crater's limits in one species.
type limitRow struct {
	Species, Unit, Crater string
	Status                ejecta.Status
	Radius, Coverage      float64 // pixels; share
	Half, Most, Upper     float64
	Drawn                 ejecta.LimitCheck // in noise drawn with the crater's own products
	Null                  ejecta.LimitCheck // at the null positions of its size
}

// craterRecovered counts what was found of one pattern at one crater.
type craterRecovered struct {
	Crater string
	recovered
}

// chosenCraters are the numbers of the craters with some ids; nil for none.
func (p *pipeline) chosenCraters(ids []string) (list []int, err error) {
	number := map[string]int{}
	for i, c := range p.cat.Craters {
		number[c.ID] = i
	}
	for _, id := range ids {
		i, ok := number[id]
		if !ok {
			return nil, usage("there is no crater "+printable(id)+" in the catalogue", "use an id of the catalogue file; rimcast inspect shows how it is read")
		}
		list = append(list, i)
	}
	return list, nil
}

// checkCraters checks the limits of the chosen craters, or of all when none is
// chosen, and plants all patterns at the chosen.
func (p *pipeline) checkCraters(ctx context.Context, chosen []int, r *recoveries) error {
	craters := chosen
	if len(chosen) == 0 {
		for i := range p.sites {
			craters = append(craters, i)
		}
	}
	c := &craterCheck{p: p, limits: make([]limitRow, p.slots()), nulls: map[scaleKey]ejecta.LimitCheck{}}
	if len(chosen) > 0 {
		c.planted = make([][]craterRecovered, p.slots())
	}
	if err := c.nullChecks(); err != nil {
		return err
	}
	if err := p.visit(ctx, "craters", p.jobsOf(craters), c.at); err != nil {
		return err
	}
	for _, i := range craters {
		for species := range p.sv.Species {
			k := i*len(p.sv.Species) + species
			c.name(&c.limits[k], i, species)
			r.Limits = append(r.Limits, c.limits[k])
			if c.planted != nil {
				r.Craters = append(r.Craters, c.planted[k]...)
			}
		}
	}
	return ctx.Err()
}

// jobsOf are the visits of some craters, without those that cannot be measured.
func (p *pipeline) jobsOf(craters []int) (jobs []raster.Job) {
	for _, i := range craters {
		if c := p.sites[i]; c.status == ejecta.StatusOK {
			crater := &p.cat.Craters[i]
			jobs = append(jobs, raster.Job{ID: i, Centre: crater.Centre, Reach: c.outer * crater.Extent(), Level: c.level})
		}
	}
	return jobs
}

// craterCheck plants at the craters; rows are crater-major, as findings are.
type craterCheck struct {
	p       *pipeline
	limits  []limitRow
	planted [][]craterRecovered // nil when none is asked for
	nulls   map[scaleKey]ejecta.LimitCheck
}

// nullChecks plants at each null position a blanket of the size of its own limits,
// into the noise that is there.
func (c *craterCheck) nullChecks() error {
	for _, key := range c.p.scaleKeys() {
		places := c.p.nullsOf(key)
		scales := c.p.halfScales(key, places)
		found := make([]ejecta.LimitCheck, len(places))
		err := parallel(c.p.workers(), len(places), func(k int) {
			e, scale := c.p.nulls[places[k]].result[key.species].evidence, scales[1-k%2]
			if half, most, _ := e.Limits(c.p.set, scale); half > 0 {
				found[k].Add(e, half, most, c.p.set, scale)
			}
		})
		if err != nil {
			return err
		}
		sum := ejecta.LimitCheck{}
		for _, f := range found {
			sum.Merge(f)
		}
		c.nulls[key] = sum
	}
	return nil
}

// at checks one crater on the species of a group.
func (c *craterCheck) at(g *group, b *siteBuilder, job raster.Job, patch *raster.Patch, fault error) {
	crater := c.p.cat.Craters[job.ID]
	at := place{job.ID, crater.Centre, crater.Radius, crater.SigmaCentre, job.Level, c.p.sites[job.ID].outer}
	sites, status, _ := c.p.sitesOf(b, at, patch, fault)
	for k, species := range g.species {
		row := job.ID*len(c.p.sv.Species) + species
		if c.limits[row].Status = status; status == ejecta.StatusOK {
			c.measure(row, species, at, sites[k])
		}
	}
}

func (c *craterCheck) measure(row, species int, at place, site ejecta.Site) {
	p, l := c.p, &c.limits[row]
	set := p.set
	set.Outer = at.outer
	site.Covariates = p.withSlopes(species, site.Covariates)
	e := ejecta.Collect(site, set)
	scale := p.scaleOf(species, at.level, p.sites[at.crater].pixels)
	l.Status, l.Coverage = e.Status, e.Coverage
	l.Half, l.Most, l.Upper = e.Limits(set, scale)
	l.Null = c.nulls[scaleKey{species, at.level, sizeClass(p.sites[at.crater].pixels)}]
	draws := e.NoiseDraws(scale)
	if draws == nil || !(l.Half > 0) {
		return
	}
	seed := p.seedOf(p.cat.Craters[at.crater].ID)
	l.Drawn = draws.CheckLimits(limitDraws, set, scale, rand.New(rand.NewPCG(seed, uint64(species))))
	if c.planted != nil {
		c.planted[row] = c.plantAt(e, draws, species, at, set, scale)
	}
}

// plantAt plants all patterns with all amplitudes into draws of a crater's noise,
// the same draws for each, directions spread over the circle.
func (c *craterCheck) plantAt(e *ejecta.Evidence, draws *ejecta.NoiseDraws, species int, at place, set ejecta.Settings, scale float64) (out []craterRecovered) {
	crater := c.p.cat.Craters[at.crater]
	half, _, _ := e.Limits(set, scale)
	pixels := e.PixelsPer * float64(int(1)<<at.level)
	for _, pattern := range ejecta.PlantedPatterns() {
		for _, step := range plantedSteps {
			seed := c.p.seedOf(crater.ID)
			rng := rand.New(rand.NewPCG(seed, uint64(100+species)))
			o := craterRecovered{crater.ID, recovered{Species: c.p.sv.Species[species].shownName(), Unit: c.p.unitOf(species),
				RadiusLo: pixels, RadiusHi: pixels, Pattern: pattern, Amplitude: step * half, Analytic: half, Trials: craterDraws}}
			for k := range craterDraws {
				azimuth := math.Mod(137.508*float64(k), 360)
				o.count(draws.Draw(rng).Recover(pattern, o.Amplitude, azimuth, set, scale, seed+uint64(k)), e.Status == ejecta.StatusOK)
			}
			out = append(out, o)
		}
	}
	return out
}

// name writes into a row whose it is.
func (c *craterCheck) name(l *limitRow, crater, species int) {
	site := c.p.sites[crater]
	l.Species, l.Unit, l.Crater = c.p.sv.Species[species].shownName(), c.p.unitOf(species), c.p.cat.Craters[crater].ID
	l.Radius = site.pixels * float64(int(1)<<site.level)
	if site.status != ejecta.StatusOK {
		l.Status = site.status
	}
	if l.Half == 0 {
		l.Half, l.Most, l.Upper = math.NaN(), math.NaN(), math.NaN()
	}
}

func (r *recoveries) limitRows() [][]string {
	head := []string{"species", "unit", "crater_id", "status", "radius_pixels", "coverage", "detectable_50", "detectable_95", "upper_limit_95"}
	for _, from := range []string{"drawn", "null"} {
		head = append(head, from+"_trials")
		for _, what := range []string{"found_at_50", "found_at_95", "limit_holds"} {
			name := from + "_" + what
			head = append(head, name, name+"_lo95", name+"_hi95")
		}
	}
	rows := [][]string{head}
	for _, l := range r.Limits {
		row := []string{l.Species, l.Unit, l.Crater, string(l.Status), digits(l.Radius), digits(l.Coverage), digits(l.Half), digits(l.Most), digits(l.Upper)}
		rows = append(rows, append(append(row, checkCells(l.Drawn)...), checkCells(l.Null)...))
	}
	return rows
}

func checkCells(c ejecta.LimitCheck) []string {
	cells := []string{strconv.Itoa(c.Trials)}
	for _, k := range []int{c.Half, c.Most, c.Allowed} {
		cells = append(cells, shareCells(k, c.Trials)...)
	}
	return cells
}

func (r *recoveries) craterRows() [][]string {
	rows := [][]string{{"species", "unit", "crater_id", "radius_pixels", "pattern", "amplitude", "detectable_50", "trials",
		"excess_found", "excess_found_lo95", "excess_found_hi95", "directional_trials", "direction_found", "direction_found_lo95", "direction_found_hi95", "pattern_right"}}
	for _, c := range r.Craters {
		row := []string{c.Species, c.Unit, c.Crater, digits(c.RadiusLo), string(c.Pattern), digits(c.Amplitude), digits(c.Analytic), strconv.Itoa(c.Trials)}
		rows = append(rows, append(row, c.foundCells()...))
	}
	return rows
}

// foundCells are the shares that were found, for either table.
func (c *recovered) foundCells() []string {
	cells := append(shareCells(c.Excess, c.Trials), strconv.Itoa(c.Directional))
	cells = append(cells, shareCells(c.Direction, c.Directional)...)
	return append(cells, shareCells(c.Class, c.Directional)[0])
}
