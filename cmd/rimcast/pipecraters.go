package main

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
)

// parallel calls fn for 0..n-1 from several goroutines.
func parallel(workers, n int, fn func(i int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				fn(i)
			}
		})
	}
	wg.Wait()
}

// measureCraters measures every crater that can be, on every species.
func (p *pipeline) measureCraters(ctx context.Context) error {
	var jobs []raster.Job
	for i, c := range p.sites {
		if c.status == ejecta.StatusOK {
			radius := p.cat.Craters[i].Radius
			jobs = append(jobs, raster.Job{ID: i, Centre: p.cat.Craters[i].Centre, Reach: c.outer * p.cat.Craters[i].Extent() / radius * radius, Level: c.level})
			continue
		}
		for species := range p.sv.Species {
			*p.finding(i, species) = p.unmeasured(c.status, c.note)
		}
	}
	p.prog.Stage("craters", len(jobs)*len(p.groups))
	for _, g := range p.groups {
		if err := p.visitCraters(ctx, g, jobs); err != nil {
			return err
		}
	}
	for i := range p.findings {
		f := &p.findings[i]
		f.CraterIndex = i / len(p.sv.Species)
		s := p.sv.Species[i%len(p.sv.Species)]
		f.Species, f.Unit = s.Name, p.unitOf(i%len(p.sv.Species))
	}
	return nil
}

func (p *pipeline) finding(crater, species int) *ejecta.Finding {
	return &p.findings[crater*len(p.sv.Species)+species]
}

func (p *pipeline) unmeasured(status ejecta.Status, note string) ejecta.Finding {
	f := ejecta.Finding{Status: status, Note: note}
	ejecta.BlankNumbers(&f)
	return f
}

// unitOf is the unit of a species: as the survey says, else as the file does.
func (p *pipeline) unitOf(species int) string {
	for _, g := range p.groups {
		for k, s := range g.species {
			if s == species {
				return g.set.Layers[k].Info().Unit
			}
		}
	}
	return ""
}

func (p *pipeline) visitCraters(ctx context.Context, g *group, jobs []raster.Job) error {
	builders, err := p.newBuilders(g)
	if err != nil {
		return err
	}
	defer closeBuilders(builders)
	return raster.Visit(ctx, g.set, jobs, p.workers(), func(w int, job raster.Job, patch *raster.Patch, fault error) error {
		defer p.prog.Add(1)
		c := p.cat.Craters[job.ID]
		at := place{job.ID, c.Centre, c.Radius, c.SigmaCentre, job.Level, p.sites[job.ID].outer}
		sites, status, note := p.sitesOf(builders[w], at, patch, fault)
		for k, species := range g.species {
			if status != ejecta.StatusOK {
				*p.finding(job.ID, species) = p.unmeasured(status, note)
				continue
			}
			p.measureCrater(job.ID, species, at, sites[k])
		}
		return nil
	})
}

// sitesOf builds the sites of a crater, or says why it cannot.
func (p *pipeline) sitesOf(b *siteBuilder, at place, patch *raster.Patch, fault error) ([]ejecta.Site, ejecta.Status, string) {
	if fault == nil && patch.Len() == 0 {
		return nil, ejecta.StatusNotCovered, "outside the map"
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
		return fmt.Sprintf("%s: %s", e.File, e.Problem)
	}
	return err.Error()
}

func (p *pipeline) measureCrater(i, species int, at place, site ejecta.Site) {
	c := &p.cat.Craters[i]
	set := p.set
	set.Outer = at.outer
	e := ejecta.Collect(site, set)
	scale := p.scaleOf(species, at.level, p.sites[i].pixels)
	m := e.Measure(set, scale, p.seedOf(c.ID))
	f := m.Finding
	f.Alarms = e.Alarms(&m, set, ejecta.AlarmInputs{
		NullScale: scale, Noise: site.Noise, SigmaCentre: c.SigmaCentre / c.Radius,
		RimAxes: [2]float64{c.SemiMajor, c.SemiMinor}, RimAzimuth: c.RimAzimuth,
		NearDuplicate: p.duplicated(i), Seed: p.seedOf(c.ID),
	})
	*p.finding(i, species) = f
	ev := ejecta.SpeciesEvidence{Direction: m.Direction, Amplitude: m.Blanket.Z * m.Blanket.Sigma, SE: m.Blanket.Sigma}
	ev.Compact()
	p.evidence[i*len(p.sv.Species)+species] = ev
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
