package main

import (
	"fmt"
	"slices"
	"strings"

	"rimcast/ejecta"
)

// The null positions tell how a species follows each covariate over the map as
// a whole. A crater then need not give away all of its own signal that happens
// to lie along the covariate: only what the map leaves open.

// surveySlopes measures the slopes of every species at the null positions.
func (p *pipeline) surveySlopes() {
	p.slopes = make([]map[string]ejecta.Slope, len(p.sv.Species))
	for species := range p.slopes {
		var survey ejecta.SlopeSurvey
		var names []string
		for i := range p.nulls {
			if r := &p.nulls[i].result[species]; r.ok {
				survey.Add(r.evidence)
				for _, n := range r.evidence.Covariates {
					if !slices.Contains(names, n) {
						names = append(names, n)
					}
				}
			}
		}
		p.slopes[species] = p.believedSlopes(species, names, &survey)
	}
}

// believedSlopes keeps the slopes that enough places give, and says so.
func (p *pipeline) believedSlopes(species int, names []string, survey *ejecta.SlopeSurvey) map[string]ejecta.Slope {
	out := map[string]ejecta.Slope{}
	for _, n := range names {
		s, places, ok := survey.Slope(n)
		if !ok {
			p.note("%s: %d null positions tell how it follows %s; each crater is left to tell for itself", p.sv.Species[species].shownName(), places, n)
			continue
		}
		out[n] = s
		text := fmt.Sprintf("%s: follows %s by %.3g %s over the map, from place to place within %.2g", p.sv.Species[species].shownName(), n, s.Mean, p.slopeUnit(species, n), s.SD)
		p.notes = append(p.notes, text)
		p.prog.Note("%s", text)
	}
	return out
}

// slopeUnit is the unit of a slope, such as "ppm per K".
func (p *pipeline) slopeUnit(species int, covariate string) string {
	above, below := p.unitOf(species), "unit"
	for i := range p.sv.Covariates {
		if c := &p.sv.Covariates[i]; c.Name == covariate && c.Unit != "" {
			below = c.Unit
		}
	}
	return strings.TrimSpace(above + " per " + below)
}

// withSlopes gives a species' own slopes to the covariates of a site.
func (p *pipeline) withSlopes(species int, fields []ejecta.Field) []ejecta.Field {
	if p.slopes == nil || len(fields) == 0 {
		return fields
	}
	out := slices.Clone(fields)
	for i := range out {
		if s, ok := p.slopes[species][out[i].Name]; ok {
			out[i].Slope = &s
		}
	}
	return out
}
