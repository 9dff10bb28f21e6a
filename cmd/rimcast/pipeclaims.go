package main

import (
	"context"
	"math"

	"rimcast/ejecta"
	"rimcast/raster"
)

// Null positions also tell how often the ground of a map makes a direction of
// its own, which no noise model foresees.

// claimNulls reads the null positions with a direction once more, with the
// ground that the alarms ask, and counts by species those against which none of
// them speaks.
func (p *pipeline) claimNulls(ctx context.Context) error {
	for i := range p.nulls {
		for species := range p.nulls[i].result {
			p.nulls[i].result[species].claim = math.NaN()
		}
	}
	if err := p.visit(ctx, "directions without a crater", p.claimJobs(), p.claimAt); err != nil {
		return err
	}
	p.tallyClaims()
	return nil
}

// claimJobs are the null positions where a species has a direction.
func (p *pipeline) claimJobs() (jobs []raster.Job) {
	for _, j := range p.nullJobs() {
		for _, r := range p.nulls[j.ID].result {
			if p.hasDirection(r) {
				jobs = append(jobs, j)
				break
			}
		}
	}
	return jobs
}

func (p *pipeline) hasDirection(r nullResult) bool {
	return r.ok && r.omnibus < p.set.WithDefaults().Alpha
}

// claimAt asks a null position for a direction that its ground does not explain.
func (p *pipeline) claimAt(g *group, b *siteBuilder, job raster.Job, patch *raster.Patch, fault error) {
	n := &p.nulls[job.ID]
	sites, set := p.nullSites(n, b, patch, fault)
	for k, s := range sites {
		species := g.species[k]
		if r := &n.result[species]; p.hasDirection(*r) {
			s.KeepGround = true
			scale := p.scales[scaleKey{species, n.level, n.class}].lambda
			in := ejecta.AlarmInputs{NullScale: scale, Seed: p.sv.Tests.Seed + uint64(job.ID), StripLayer: b.strips != nil, TrackAzimuth: b.track}
			r.claim = ejecta.Collect(s, set).NullClaim(set, in)
		}
	}
}

// tallyClaims gathers the claims of all null positions, by species. Those where
// no direction was tested say nothing.
func (p *pipeline) tallyClaims() {
	p.claims = make([]*ejecta.NullClaims, len(p.sv.Species))
	for s := range p.claims {
		p.claims[s] = &ejecta.NullClaims{}
		for i := range p.nulls {
			if r := &p.nulls[i].result[s]; r.ok && r.omnibus == r.omnibus {
				p.claims[s].Add(r.claim)
			}
		}
	}
}
