package main

import (
	"fmt"

	"rimcast/ejecta"
)

// scaleDoubted reports whether the null scale for a species at a place cannot be
// trusted.
func (p *pipeline) scaleDoubted(species, level int, pixels float64) bool {
	s := p.scales[scaleKey{species, level, sizeClass(pixels)}]
	return s == nil || s.doubt != ""
}

// doubtNotes say which null scales are in doubt, and what that did to the q
// values.
func (p *pipeline) doubtNotes() (notes []string) {
	for _, k := range p.scaleKeys() {
		s := p.scales[k]
		if s.doubt == "" {
			continue
		}
		f := float64(int(1) << k.level)
		notes = append(notes, fmt.Sprintf("%s: the null scale of craters of %.1f to %.1f pixels is in doubt: %s.", p.sv.Species[k.species].shownName(), s.radiusLo*f, s.radiusHi*f, s.doubt))
	}
	if len(notes) == 0 {
		return nil
	}
	return append(notes, p.fallbackNote())
}

func (p *pipeline) fallbackNote() string {
	species, fell := map[string]bool{}, ""
	for _, f := range p.findings {
		if f.ExcessQRule == ejecta.QRuleEmpirical && !species[f.Species] {
			species[f.Species] = true
			fell += ", " + f.Species
		}
	}
	if fell == "" {
		return "False discovery rates are by Benjamini and Hochberg all the same: too few craters are concerned, or too few are tested to fit a null to them. They lean on the noise model."
	}
	return "False discovery rates of " + fell[2:] + " are therefore no surer than a null fitted to the craters themselves allows (columns excess_q_rule and asymmetry_q_rule)."
}
