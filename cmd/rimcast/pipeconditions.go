package main

import (
	"math"
	"slices"

	"rimcast/ejecta"
)

// kindUnits are the units of layers whose survey section names none; an
// incidence in another unit would have been refused.
var kindUnits = map[string]string{
	"incidence": "deg", "emission": "deg", "phase": "deg", "slope": "deg", "local_time": "h", "sun_azimuth": "deg",
}

// conditions are light and heat at a site, with their units. A local time that
// the survey gives for the whole map serves where no layer has it.
func (p *pipeline) conditions(species int, site *ejecta.Site, sun float64) []ejecta.Condition {
	list := site.Conditions(sun)
	isTime := func(c ejecta.Condition) bool { return c.Kind == "local_time" }
	if t := p.sv.Species[species].LocalTime; t != nil && !slices.ContainsFunc(list, isTime) {
		list = append(list, ejecta.Condition{Name: "local time", Kind: "local_time", Mean: *t, SD: math.NaN()})
	}
	for i := range list {
		if list[i].Unit = p.covariateUnit(list[i].Name); list[i].Unit == "" {
			list[i].Unit = kindUnits[list[i].Kind]
		}
	}
	return list
}

// covariateUnit is the unit that the survey gives for a covariate.
func (p *pipeline) covariateUnit(name string) string {
	for _, c := range p.sv.Covariates {
		if c.Name == name {
			return c.Unit
		}
	}
	return ""
}
