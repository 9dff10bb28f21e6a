package ejecta

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// RankWeights are the weights of the components of a target's score by name.
type RankWeights map[string]float64

// Score components in the order in which they are reported.
const (
	ScoreExcess   = "excess"
	ScorePattern  = "pattern"
	ScoreExtent   = "extent"
	ScoreContrast = "contrast"
	ScoreFresh    = "freshness"
	ScoreAlarms   = "alarms"
)

// DefaultWeights are the weights that Rank uses for names not given.
func DefaultWeights() RankWeights {
	return RankWeights{ScoreExcess: 1, ScorePattern: 0.5, ScoreExtent: 0.5, ScoreContrast: 0.5, ScoreFresh: 0.25, ScoreAlarms: 1}
}

// ComponentNames lists the components in report order.
func ComponentNames() []string {
	return []string{ScoreExcess, ScorePattern, ScoreExtent, ScoreContrast, ScoreFresh, ScoreAlarms}
}

// RankInput is one crater as the ranking sees it.
type RankInput struct {
	CraterIndex int
	Findings    []Finding
	Contrasts   []Contrast
	Freshness   float64 // NaN when the catalogue gives none
}

// Rank orders the craters by score, the weighted sum of
//
//	excess     (1 - local fdr) times the largest excess over its error, compressed
//	pattern    score of the strongest direction, compressed the same way, times
//	           the chances that both excess and direction are real; one that an
//	           alarm puts down to the ground does not count
//	extent     radii beyond the rim where the excess is seen, compressed, times the chance
//	           that it is real
//	contrast   1 - q of the strongest species contrast
//	freshness  as the catalogue gives it
//	alarms     minus one half for each raised alarm of the species that the
//	           excess and the direction are taken from, but those that speak of the
//	           reading alone: a background not reached, which understates the
//	           excess, and a gap that fits as well
//
// Rank intervals come from repeated measurements, drawn with a seeded generator:
// for each species of every crater a true score of the excess and one of the
// direction, given the observed ones and the catalogue, and new noise. Ties keep
// catalogue order; craters without a measurement come last.
func Rank(in []RankInput, weights RankWeights, seed uint64) []Target {
	return RankBeside(in, nil, nil, weights, seed)
}

// place is the score that a target is ranked by: nothing can be said for one
// that could not be measured.
func (t *Target) place() float64 {
	if t.Species == "" {
		return math.Inf(-1)
	}
	return t.Score
}

// score sums the components.
func score(in *RankInput, w RankWeights) Target {
	t := Target{CraterIndex: in.CraterIndex}
	best := bestFinding(in.Findings)
	t.describe(best, in.tested())
	values := map[string]float64{}
	if best != nil {
		values[ScoreExcess] = (1 - orZero(best.LocalFDR)) * compressed(ScoreOf(best.ExcessP))
		values[ScoreExtent] = (1 - orZero(best.LocalFDR)) * compressed(orZero(best.Extent)-1)
	}
	pattern, from := strongestDirection(in.Findings)
	values[ScorePattern] = pattern
	for _, c := range in.Contrasts {
		if c.Q < 0.1 {
			values[ScoreContrast] = math.Max(values[ScoreContrast], 1-c.Q)
		}
	}
	values[ScoreFresh] = orZero(in.Freshness)
	values[ScoreAlarms] = -0.5 * float64(len(loweringAlarms(best, from)))
	for _, name := range ComponentNames() {
		v := w[name] * values[name]
		t.Components = append(t.Components, Component{name, v})
		t.Score += v
	}
	t.Why = why(best, t.Components)
	t.Verdict = verdict(in, best)
	return t
}

// describe copies what a target says of its strongest excess.
func (t *Target) describe(best *Finding, species int) {
	nan := math.NaN()
	t.PReal, t.ExcessScore, t.TrueScore, t.Excess, t.ExcessShrunk = nan, nan, nan, nan, nan
	if best == nil {
		return
	}
	t.Species, t.PReal = best.Species, 1-pickedFDR(best.LocalFDR, species)
	t.ExcessScore, t.TrueScore = ScoreOf(best.ExcessP), best.TrueScore
	t.Excess, t.ExcessShrunk = best.Excess, best.ExcessShrunk()
}

// tested is the number of species with a test of the excess.
func (in *RankInput) tested() (n int) {
	for i := range in.Findings {
		if f := &in.Findings[i]; f.Status.Measured() && !math.IsNaN(f.ExcessP) {
			n++
		}
	}
	return n
}

// pickedFDR is the local false discovery rate of the strongest of n species: a
// crater without any excess had n chances to look so strong, which multiplies
// the odds of being false by n. Where the species share their noise it is
// cautious.
func pickedFDR(local float64, n int) float64 {
	return float64(n) * local / (1 + float64(n-1)*local)
}

// strongestDirection is the score of the direction that counts most, and whose it
// is; nil when none counts.
func strongestDirection(list []Finding) (score float64, from *Finding) {
	for i := range list {
		if v := directionScore(&list[i]); v > score {
			score, from = v, &list[i]
		}
	}
	return score, from
}

// directionScore is what the direction of a species adds to a target.
func directionScore(f *Finding) float64 {
	if !f.Pattern.Directional() || f.Doubt() != "" {
		return 0
	}
	real := (1 - orZero(f.LocalFDR)) * (1 - orZero(f.DirectionFDR))
	return real * compressed(ScoreOf(f.AsymmetryP))
}

// loweringAlarms are the raised alarms that speak against some findings, each
// once; a finding may be nil.
func loweringAlarms(list ...*Finding) (names []string) {
	for _, f := range list {
		if f == nil {
			continue
		}
		for _, name := range f.RaisedAlarms() {
			if name != backgroundAlarmName && name != gapAlarmName && !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	return names
}

// verdict joins what was found in each species; the best one speaks when
// nothing was.
func verdict(in *RankInput, best *Finding) string {
	var said []string
	for _, f := range in.Findings {
		if f.Claimed || f.Pattern.Directional() {
			said = append(said, f.Verdict)
		}
	}
	for _, c := range in.Contrasts {
		if c.Claimed && c.Q < 0.1 {
			said = append(said, fmt.Sprintf("%s and %s differ in shape (p %s)", c.SpeciesA, c.SpeciesB, probability(c.P)))
		}
	}
	switch {
	case len(said) > 0:
		return strings.Join(said, "; ")
	case best != nil:
		return best.Verdict
	case len(in.Findings) > 0:
		return in.Findings[0].Verdict
	}
	return ""
}

// compressed keeps one huge score from outweighing everything else.
func compressed(z float64) float64 { return math.Log1p(math.Max(z, 0)) }

func orZero(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

func bestFinding(list []Finding) *Finding {
	var best *Finding
	for i := range list {
		f := &list[i]
		if f.Status.Measured() && (best == nil || f.ExcessP < best.ExcessP) {
			best = f
		}
	}
	return best
}

func why(best *Finding, parts []Component) string {
	if best == nil {
		return "not measured"
	}
	text := fmt.Sprintf("%s excess at %.1f sigma", best.Species, ScoreOf(best.ExcessP))
	for _, p := range parts[1:] {
		switch {
		case p.Value > 0 && p.Name == ScorePattern:
			text += ", a direction"
		case p.Value > 0 && p.Name == ScoreExtent:
			text += fmt.Sprintf(", seen to %.1f radii", best.Extent)
		case p.Value > 0 && p.Name == ScoreContrast:
			text += ", species differ in shape"
		case p.Value > 0 && p.Name == ScoreFresh:
			text += ", fresh"
		case p.Value < 0:
			text += ", lowered by alarms"
		}
	}
	return text
}
