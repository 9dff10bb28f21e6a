package main

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"strings"
	"sync"
	"sync/atomic"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
)

// parallel calls fn for 0..n-1 from several goroutines. A panic becomes the
// error of the run: in a goroutine of its own it would end the program with
// another exit code than a fault of rimcast has.
func parallel(workers, n int, fn func(i int)) error {
	var next atomic.Int64
	var wg sync.WaitGroup
	faults := make([]error, workers)
	for w := range workers {
		wg.Go(func() {
			defer caught(&faults[w])
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				fn(i)
			}
		})
	}
	wg.Wait()
	return errors.Join(faults...)
}

// caught turns a panic into an error, for a deferred call in a worker.
func caught(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("internal error: %v\n%s", p, debug.Stack())
	}
}

// measureCraters measures every crater that can be, on every species.
func (p *pipeline) measureCraters(ctx context.Context) error {
	if err := p.findOffMap(); err != nil {
		return err
	}
	p.makeRoom()
	var jobs []raster.Job
	for i, c := range p.sites {
		if !p.owns(i) || !p.hasRow(i*len(p.sv.Species)) {
			continue
		}
		if c.status == ejecta.StatusOK {
			crater := &p.cat.Craters[i]
			jobs = append(jobs, raster.Job{ID: i, Centre: crater.Centre, Reach: c.outer * crater.Extent(), Level: c.level})
			continue
		}
		for species := range p.sv.Species {
			*p.finding(i, species) = p.unmeasured(c.status, c.note)
			p.unmeasuredEpoch(i, species)
		}
	}
	err := p.visitKept(ctx, jobs)
	p.label()
	return err
}

// label writes into every finding whose it is.
func (p *pipeline) label() {
	for slot := range p.slots() {
		if p.owns(slot/len(p.sv.Species)) && p.hasRow(slot) {
			p.labelFinding(&p.findings[p.at(slot)], slot)
		}
	}
}

func (p *pipeline) labelFinding(f *ejecta.Finding, slot int) {
	species := slot % len(p.sv.Species)
	f.CraterIndex = slot / len(p.sv.Species)
	f.Species, f.Unit = p.sv.Species[species].shownName(), p.unitOf(species)
	if p.quick != nil {
		f.Quick = p.quickOf(slot)
	}
	f.Quantity, f.Epoch = p.sv.Species[species].Name, p.sv.Species[species].Epoch
}

// slots is the number of craters of the catalogue times that of the species.
func (p *pipeline) slots() int { return len(p.cat.Craters) * len(p.sv.Species) }

func (p *pipeline) finding(crater, species int) *ejecta.Finding {
	return &p.findings[p.at(crater*len(p.sv.Species)+species)]
}

func (p *pipeline) unmeasured(status ejecta.Status, note string) ejecta.Finding {
	f := ejecta.Finding{Status: status, Note: note}
	ejecta.BlankNumbers(&f)
	return f
}

// unitOf is the unit of a species: as the survey says, else as the file does.
func (p *pipeline) unitOf(species int) string {
	if p.units != nil {
		return p.units[species]
	}
	for _, g := range p.groups {
		for k, s := range g.species {
			if s == species {
				return g.set.Layers[k].Info().Unit
			}
		}
	}
	return ""
}

// craterAt measures a crater on the species of a group.
func (p *pipeline) craterAt(g *group, b *siteBuilder, job raster.Job, patch *raster.Patch, fault error) {
	c := p.cat.Craters[job.ID]
	at := place{job.ID, c.Centre, c.Radius, c.SigmaCentre, job.Level, p.sites[job.ID].outer}
	sites, status, note := p.sitesOf(b, at, patch, fault)
	for k, species := range g.species {
		if status != ejecta.StatusOK {
			*p.finding(job.ID, species) = p.unmeasured(status, note)
			p.unmeasuredEpoch(job.ID, species)
			continue
		}
		p.measureCrater(b, species, at, sites[k])
	}
}

// placeWork measures one place on the species of a group.
type placeWork func(g *group, b *siteBuilder, job raster.Job, patch *raster.Patch, fault error)

// visit does the work of every job on every group.
func (p *pipeline) visit(ctx context.Context, stage string, jobs []raster.Job, work placeWork) error {
	p.prog.Stage(stage, len(jobs)*len(p.groups))
	for _, g := range p.groups {
		if err := p.visitGroup(ctx, g, jobs, work); err != nil {
			return err
		}
	}
	return nil
}

func (p *pipeline) visitGroup(ctx context.Context, g *group, jobs []raster.Job, work placeWork) error {
	return p.onPatches(g, jobs, work, func(patches raster.Patches) error {
		return raster.Visit(ctx, g.set, patches.Jobs, p.workers(), patches.Do)
	})
}

// onPatches readies the work of jobs on the patches of a group, and has them visited.
func (p *pipeline) onPatches(g *group, jobs []raster.Job, work placeWork, visit func(raster.Patches) error) error {
	builders, err := p.newBuilders(g)
	if err != nil {
		return err
	}
	defer closeBuilders(builders)
	return visit(raster.Patches{Jobs: jobs, Do: func(w int, job raster.Job, patch *raster.Patch, fault error) (failed error) {
		defer p.prog.Add(1)
		defer caught(&failed)
		work(g, builders[w], job, patch, fault)
		return outputFault(p.details.fault())
	}})
}

// sitesOf builds the sites of a crater, or says why it cannot.
func (p *pipeline) sitesOf(b *siteBuilder, at place, patch *raster.Patch, fault error) ([]ejecta.Site, ejecta.Status, string) {
	if fault == nil && patch.Len() == 0 {
		return nil, ejecta.StatusNotCovered, outsideNote
	}
	if fault == nil {
		sites, err := b.build(at, patch)
		if err == nil {
			return sites, ejecta.StatusOK, ""
		}
		fault = err
	}
	return nil, ejecta.StatusUnreadable, faultText(fault)
}

// faultText is the message of an error without its remedy, for a table.
func faultText(err error) string {
	var e *raster.Error
	if errors.As(err, &e) {
		return firstLine(fmt.Sprintf("%s: %s", e.File, e.Problem))
	}
	return firstLine(err.Error())
}

func (p *pipeline) measureCrater(b *siteBuilder, species int, at place, site ejecta.Site) {
	i := at.crater
	c := &p.cat.Craters[i]
	set := p.set
	set.Outer = at.outer
	site.Covariates = p.withSlopes(species, site.Covariates)
	site.KeepGround, site.RadiusSigma = true, c.SigmaRadius/c.Radius
	e := ejecta.Collect(site, set)
	scale := p.scaleOf(species, at.level, p.sites[i].pixels)
	m := e.Measure(set, scale, p.seedOf(c.ID))
	in := ejecta.AlarmInputs{
		NullScale: scale, Noise: site.Noise, SigmaCentre: c.SigmaCentre / c.Radius, SigmaRadius: c.SigmaRadius / c.Radius,
		RimAxes: [2]float64{c.SemiMajor, c.SemiMinor}, RimAzimuth: c.RimAzimuth,
		NearDuplicate: p.duplicated(i), Seed: p.seedOf(c.ID),
		SunAzimuth: b.sunOf(species, c.Centre), TrackAzimuth: b.track, StripLayer: b.strips != nil, Nulls: p.claims[species], Without: p.withoutOf(species, at.level, p.sites[i].pixels),
	}
	alarms := append(e.Alarms(&m, set, in), p.mapAlarms[species]...)
	f := m.Finding
	f.ScaleDoubt = p.scaleDoubted(species, at.level, p.sites[i].pixels)
	f.Alarms, f.Conditions = alarms, p.conditions(species, &site, b.sunOf(species, c.Centre))
	f.Levels = ejecta.FieldLevels(site.Samples, b.masked, site.Covariates)
	f.Robust, f.Layers = e.Robustness(&m, set, in), e.LayerEffect(&m, set, in).Kept()
	if p.sv.Output.Sums {
		f.Sums = e.Sums(&m, set, scale)
	}
	p.putFinding(i*len(p.sv.Species)+species, f)
	b.measureEpoch(species, at, site, e, &m, set)
	ev := ejecta.SpeciesEvidence{Direction: m.Direction, Amplitude: m.Blanket.Z * m.Blanket.Sigma, SE: m.Blanket.Sigma}
	ev.Compact()
	p.evidence[p.at(i*len(p.sv.Species)+species)] = ev
}

// firstLine keeps a table readable: GDAL repeats one fault over several lines.
func firstLine(text string) string {
	line, _, _ := strings.Cut(text, "\n")
	return line
}

func (p *pipeline) duplicated(i int) bool {
	for _, d := range p.cat.NearDuplicates {
		if d.A == i || d.B == i {
			return true
		}
	}
	return false
}

// frameOf is the frame of a crater.
func (p *pipeline) frameOf(i int) *geom.Frame { return geom.NewFrame(p.body, p.cat.Craters[i].Centre) }
