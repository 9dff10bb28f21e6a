package main

import (
	"math"
	"slices"

	"rimcast/ejecta"
)

// commonGround returns the mask of a species' ground that some other time of
// day lacks; less says that it takes ground away. A time of day that hardly
// shows the crater itself takes no part, so that one hole does not undo all the
// others.
func (b *siteBuilder) commonGround(species int, site *ejecta.Site) (masked []bool, less bool) {
	var others [][]float64
	for _, other := range b.p.epochsOf(species) {
		if v := b.valuesOf(other); other != species && b.shows(v) {
			others = append(others, v)
		}
	}
	if !b.shows(widened(site.Values)) {
		return nil, false
	}
	masked = slices.Clone(b.masked)
	for _, v := range others {
		for i, x := range v {
			if !masked[i] && math.IsNaN(x) {
				masked[i] = true
				less = less || known(site.Values[i])
			}
		}
	}
	return masked, less
}

func known(v float32) bool { return v == v && !math.IsInf(float64(v), 0) }

// valuesOf are the values of a species at the pixels of the last place, NaN
// where missing; nil when it is not read here.
func (b *siteBuilder) valuesOf(species int) []float64 {
	if k := slices.Index(b.g.species, species); k >= 0 {
		return finiteOnly(widened(b.sites[k].Values))
	}
	return finiteOnly(b.day.elsewhere[species])
}

func finiteOnly(v []float64) []float64 {
	for i, x := range v {
		if math.IsInf(x, 0) {
			v[i] = math.NaN()
		}
	}
	return v
}

// Limits of the ground that decides whether a time of day shows a crater.
const showsInner, showsOuter = 1.0, 2.5

// shows reports whether enough of the ejecta range is there to be measured.
func (b *siteBuilder) shows(values []float64) bool {
	good, all := 0.0, 0.0
	for i, v := range values {
		if b.rho[i] < showsInner || b.rho[i] > showsOuter {
			continue
		}
		all += b.samples.Area[i]
		if !b.masked[i] && !math.IsNaN(v) && !math.IsInf(v, 0) {
			good += b.samples.Area[i]
		}
	}
	return all > 0 && good >= b.p.set.MinCoverage*all
}

// measureEpoch measures a crater on the ground common to all times of day. e
// and m are those on its own ground, which serve where nothing is lost.
func (b *siteBuilder) measureEpoch(species int, at place, site ejecta.Site, e *ejecta.Evidence, m *ejecta.Measurement, set ejecta.Settings) {
	p := b.p
	if p.epochsOf(species) == nil {
		return
	}
	own := m.Finding
	scale := p.scaleOf(species, at.level, p.sites[at.crater].pixels)
	if common := b.commonEvidence(species, site, set, e); common != e {
		measured := common.Measure(set, scale, p.seedOf(p.cat.Craters[at.crater].ID))
		e, m = common, &measured
	}
	f := ejecta.NewEpochFinding(&own, e, m, set, scale)
	f.LocalTime, f.SunAzimuth = b.hourOf(species), b.epochSun(species, at.centre)
	*p.epoch(at.crater, species) = f
}

func (p *pipeline) epoch(crater, species int) *ejecta.EpochFinding {
	return &p.epochs[p.at(crater*len(p.sv.Species)+species)]
}

// unmeasuredEpoch is the time of day of a crater that was not measured at all.
func (p *pipeline) unmeasuredEpoch(crater, species int) {
	if p.epochsOf(species) != nil {
		f := p.finding(crater, species)
		*p.epoch(crater, species) = ejecta.UnmeasuredEpoch(f.Status, f.Note)
	}
}

// nullEpoch adds to a null position what it tells about the noise that times of
// day share.
func (b *siteBuilder) nullEpoch(species int, site ejecta.Site, set ejecta.Settings, r *nullResult) {
	if b.p.epochsOf(species) != nil && r.ok {
		r.epoch = b.commonEvidence(species, site, set, r.evidence).Probe(set).EpochScores()
	}
}

// commonEvidence reduces a site to the ground common to all times of day; own is
// that of its own ground, which serves where nothing is lost.
func (b *siteBuilder) commonEvidence(species int, site ejecta.Site, set ejecta.Settings, own *ejecta.Evidence) *ejecta.Evidence {
	masked, less := b.commonGround(species, &site)
	if !less {
		return own
	}
	site.Masked, site.KeepGround = masked, false
	return ejecta.Collect(site, set)
}
