package main

import "rimcast/ejecta"

// kindUnits are the units of layers whose survey section names none; an
// incidence in another unit would have been refused.
var kindUnits = map[string]string{
	"incidence": "deg", "emission": "deg", "phase": "deg", "slope": "deg", "local_time": "h", "sun_azimuth": "deg",
}

// conditions are light and heat at a site, with their units.
func (p *pipeline) conditions(site *ejecta.Site, sun float64) []ejecta.Condition {
	list := site.Conditions(sun)
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
