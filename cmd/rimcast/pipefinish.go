package main

import (
	"fmt"
	"math"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
	"rimcast/reports"
)

// finish corrects over the catalogue, contrasts the species, ranks, and lays
// out the survey for the writers.
func (p *pipeline) finish() (*reports.Survey, error) {
	p.prog.Stage("catalogue", 0)
	p.bare = p.bareCraters()
	excess, directions := ejecta.CorrectBeside(p.findings, p.bare, len(p.sv.Species))
	p.warnShare()
	ejecta.DoubtCommonBeside(p.findings, p.bare, len(p.sv.Species), p.sv.Tests.FDR)
	persistence := p.persistences()
	for i := range p.findings {
		p.findings[i].Describe(p.set.Alpha)
	}
	contrasts, pairs := p.contrasts()
	p.evidence = nil // only contrasts need it
	tested := ejecta.CorrectContrasts(contrasts, p.sieved()*pairs)
	s := &reports.Survey{
		Title: p.sv.Title, Body: p.body, BodyCode: p.body.Code(), Species: p.speciesInfo(),
		Catalogue: p.cat, Findings: p.findings, Contrasts: contrasts, Nulls: p.nullSummaries(),
		Epochs: p.epochList(), Persistence: persistence,
	}
	s.LeaveBare(p.bare)
	p.handDetails(s)
	s.Targets = rank(s, p.sv.Ranking.Weights, p.sv.Tests.Seed)
	s.Controls = controlsOf(s, &p.sv.Controls)
	s.Notes = append(s.Notes, fmt.Sprintf("False discovery rates are over %d tests of an excess, %d of a direction and %d of a species contrast.", excess, directions, tested))
	s.Manifest.Notes = p.doubtNotes()
	s.Notes = append(append(s.Notes, s.Manifest.Notes...), p.notes...)
	if err := p.cutouts(s); err != nil {
		return nil, err
	}
	p.maskedDiscs(s)
	return s, p.seams(s)
}

func (p *pipeline) speciesInfo() []reports.SpeciesInfo {
	out := make([]reports.SpeciesInfo, len(p.sv.Species))
	for i := range p.sv.Species {
		l := &p.sv.Species[i]
		out[i] = reports.SpeciesInfo{Name: l.shownName(), Unit: p.unitOf(i), Layer: layerName(l)}
	}
	return out
}

func layerName(l *layerSection) string {
	name := raster.Redact(shownPath(l.written))
	if l.Band > 1 {
		name += fmt.Sprintf(", band %d", l.Band)
	}
	return name
}

// contrasts compares every pair of species at every crater; it returns the number
// of pairs too.
func (p *pipeline) contrasts() (out []ejecta.Contrast, pairs int) {
	n := len(p.sv.Species)
	correlation := map[[2]int]float64{}
	for a := range n {
		for b := a + 1; b < n; b++ {
			correlation[[2]int{a, b}] = p.noiseCorrelation(a, b)
			if p.comparable(a, b) {
				pairs++
			}
		}
	}
	for i := range p.cat.Craters {
		for a := range n {
			for b := a + 1; b < n && p.hasRow(i*n); b++ {
				if !p.comparable(a, b) {
					continue
				}
				fa, fb := p.finding(i, a), p.finding(i, b)
				if !fa.Status.Measured() && !fb.Status.Measured() {
					continue
				}
				c := ejecta.Compare(fa, fb, p.evidence[p.at(i*n+a)], p.evidence[p.at(i*n+b)], correlation[[2]int{a, b}])
				c.Describe(fa, fb, p.set.Alpha)
				out = append(out, c)
			}
		}
	}
	return out, pairs
}

// rank ranks the craters of a survey.
func rank(s *reports.Survey, weights ejecta.RankWeights, seed uint64) []ejecta.Target {
	bare := s.Bare()
	freshness := make([]float64, bare.Len())
	for k := range freshness {
		freshness[k] = s.Catalogue.Craters[bare.Crater(k)].Freshness
	}
	return ejecta.RankBeside(rankInputs(s), bare, freshness, weights, seed)
}

// rankInputs gathers what the ranking looks at, crater by crater, without the bare
// ones. Findings and contrasts of a survey come crater by crater.
func rankInputs(s *reports.Survey) []ejecta.RankInput {
	bare := s.Bare()
	in := make([]ejecta.RankInput, 0, len(s.Catalogue.Craters)-bare.Len())
	findings, contrasts := s.Findings, s.Contrasts
	for i := range s.Catalogue.Craters {
		if _, ok := bare.Find(i); ok {
			continue
		}
		c := ejecta.RankInput{CraterIndex: i, Freshness: s.Catalogue.Craters[i].Freshness}
		c.Findings, findings = headOfCrater(findings, func(f *ejecta.Finding) bool { return f.CraterIndex == i })
		c.Contrasts, contrasts = headOfCrater(contrasts, func(c *ejecta.Contrast) bool { return c.CraterIndex == i })
		in = append(in, c)
	}
	return in
}

// headOfCrater cuts the first elements of a list that are of a crater.
func headOfCrater[T any](list []T, of func(*T) bool) (head, rest []T) {
	n := 0
	for n < len(list) && of(&list[n]) {
		n++
	}
	return list[:n:n], list[n:]
}

// Cut-outs for the figures.
const (
	cutoutSide      = 200 // pixels
	cutoutHalfWidth = 4.5 // crater radii
)

// cutouts draws the best targets' maps; for looking at only.
func (p *pipeline) cutouts(s *reports.Survey) error {
	if p.blind {
		return nil
	}
	top := p.sv.Output.Top
	if top < 0 || top > len(s.Targets) {
		top = len(s.Targets)
	}
	for _, t := range s.Targets[:top] {
		c := p.cat.Craters[t.CraterIndex]
		for species := range p.sv.Species {
			if p.sites[t.CraterIndex].status != ejecta.StatusOK {
				continue
			}
			v := make([]float32, cutoutSide*cutoutSide)
			if raster.Cutout(p.layerOf(species), p.frameOf(t.CraterIndex), cutoutHalfWidth*c.Radius, cutoutSide, v) != nil {
				continue // the finding says that the map is damaged here
			}
			s.Cutouts = append(s.Cutouts, reports.Cutout{CraterIndex: t.CraterIndex, Species: p.sv.Species[species].shownName(),
				Unit: p.unitOf(species), Size: cutoutSide, HalfWidth: cutoutHalfWidth, Values: v, Masked: p.maskOf(t.CraterIndex)})
		}
	}
	return nil
}

func (p *pipeline) layerOf(species int) *raster.Layer {
	for _, g := range p.groups {
		for k, s := range g.species {
			if s == species {
				return g.set.Layers[k]
			}
		}
	}
	panic("rimcast: species without a layer")
}

// disc is a masked neighbour, with the radius of its mask in metres.
type disc struct {
	geom.Neighbour
	radius float64
}

// discsOf lists the neighbours masked at a crater.
func (p *pipeline) discsOf(i int) (out []disc) {
	radius := p.cat.Craters[i].Radius
	reach := math.Max(p.sv.Sampling.NeighbourRadii, 1)
	for _, n := range p.near.Within(i, p.sites[i].outer*radius, reach, nil) {
		if masked, ok := p.maskRadius(n, radius); ok {
			out = append(out, disc{n, masked})
		}
	}
	return out
}

func (p *pipeline) maskOf(i int) []bool {
	discs := p.discsOf(i)
	if len(discs) == 0 {
		return nil
	}
	f := p.frameOf(i)
	out := make([]bool, cutoutSide*cutoutSide)
	half := cutoutHalfWidth * p.cat.Craters[i].Radius
	for _, d := range discs {
		r, az := f.Polar(p.cat.Craters[d.Index].Centre)
		sin, cos := math.Sincos(az)
		for y := range cutoutSide {
			for x := range cutoutSide {
				e := (2*(float64(x)+0.5)/cutoutSide - 1) * half
				n := (1 - 2*(float64(y)+0.5)/cutoutSide) * half
				if math.Hypot(e-r*sin, n-r*cos) < d.radius {
					out[y*cutoutSide+x] = true
				}
			}
		}
	}
	return out
}

// maskedDiscs lists the masked ground of the best targets for the overlay.
func (p *pipeline) maskedDiscs(s *reports.Survey) {
	wanted := map[int]bool{}
	for _, t := range s.Targets[:min(overlayTop, len(s.Targets))] {
		wanted[t.CraterIndex] = true
	}
	for i := range p.cat.Craters {
		if !wanted[i] || p.sites[i].status != ejecta.StatusOK {
			continue
		}
		for _, d := range p.discsOf(i) {
			s.Masked = append(s.Masked, reports.MaskedDisc{CraterIndex: i, Neighbour: d.Index, Radius: d.radius})
		}
	}
}
