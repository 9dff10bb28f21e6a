package reports

import (
	"fmt"
	"math"

	"rimcast/ejecta"
)

// targetHonest are the columns of a target that say how far to trust its place:
// the chance that it is real, its excess without the winner's curse, and each
// part of the score.
func targetHonest() []column[targetRow] {
	f := func(get func(*ejecta.Target) float64) func(targetRow) float64 {
		return func(r targetRow) float64 {
			if r.target.Species == "" { // not measured, or ranked before these were kept
				return math.NaN()
			}
			return get(r.target)
		}
	}
	list := []column[targetRow]{
		words("species", "species with the strongest excess here", func(r targetRow) string { return r.target.Species }),
		words("unit", docUnit, func(r targetRow) string { return r.unit }),
		amount("p_real", "1", "probability that this excess is real: one less the local false discovery rate, whose odds count once for each species that was looked at", f(func(t *ejecta.Target) float64 { return t.PReal })),
		amount("expected_false", "craters", "expected number of craters without a real excess among this and all better ones", f(func(t *ejecta.Target) float64 { return zeroAsMissing(t.ExpectedFalse) })),
		amount("excess_score", "standard errors", "score of the excess as observed", f(func(t *ejecta.Target) float64 { return t.ExcessScore })),
		amount("excess_score_true", "standard errors", "expected true score: the observed one drawn back by what the catalogue says (Tweedie's formula)", f(func(t *ejecta.Target) float64 { return zeroAsMissing(t.TrueScore) })),
		amount("excess", "species", "area mean over 1.1 to 2.5 crater radii, less background", f(func(t *ejecta.Target) float64 { return t.Excess })),
		amount("excess_shrunk", "species", "excess without the winner's curse, in proportion to excess_score_true", f(func(t *ejecta.Target) float64 { return zeroAsMissing(t.ExcessShrunk) })),
	}
	for _, name := range ejecta.ComponentNames() {
		list = append(list, amount("score_"+name, "1", "part of the score, weight included: "+name,
			func(r targetRow) float64 { return componentOf(r.target, name) }))
	}
	return list
}

func componentOf(t *ejecta.Target, name string) float64 {
	for _, c := range t.Components {
		if c.Name == name {
			return c.Value
		}
	}
	return math.NaN()
}

// unitOf is the unit of a species by name.
func (s *Survey) unitOf(species string) string {
	for _, sp := range s.Species {
		if sp.Name == species {
			return sp.Unit
		}
	}
	return ""
}

// measuredTargets is the number of targets with a measurement; they come first.
func (s *Survey) measuredTargets() int {
	n := len(s.Targets)
	for n > 0 && math.IsNaN(s.Targets[n-1].PReal) {
		n--
	}
	return n
}

// FalseSentence says how many of the first n targets are expected to be no real
// excess; empty where that is not known.
func (s *Survey) FalseSentence(n int) string {
	if n = min(n, s.measuredTargets()); n == 0 || !(s.Targets[n-1].ExpectedFalse > 0) {
		return ""
	}
	many := fmt.Sprintf("about %.1f", s.Targets[n-1].ExpectedFalse)
	if s.Targets[n-1].ExpectedFalse < 0.05 {
		many = "fewer than 0.1"
	}
	return fmt.Sprintf("Of the first %d targets %s are expected to be no real excess (the sum of one less p_real); alarms are not counted in that.", n, many)
}
