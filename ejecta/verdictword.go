package ejecta

import "math"

// Words for a verdict, from the surest to the emptiest.
const (
	VerdictEnriched      = "enriched"
	VerdictCandidate     = "candidate"
	VerdictUpperLimit    = "upper_limit"
	VerdictNothing       = "nothing"
	VerdictNotMeasurable = "not_measurable"
)

// VerdictWord sums a finding up in one word. rate is the false discovery rate
// of the survey: a claimed excess or a direction that passes it is enriched,
// unless an alarm was raised; one that passes only the level of the survey, or
// with an alarm, is a candidate.
func (f *Finding) VerdictWord(rate float64) string {
	switch {
	case !f.Status.Measured():
		return VerdictNotMeasurable
	case f.passes(rate) && len(f.RaisedAlarms()) == 0:
		return VerdictEnriched
	case f.Claimed || f.Pattern.Directional():
		return VerdictCandidate
	case !math.IsNaN(f.UpperLimit95):
		return VerdictUpperLimit
	}
	return VerdictNothing
}

// passes reports whether a claimed excess, or a direction with a name, is kept
// at a false discovery rate.
func (f *Finding) passes(rate float64) bool {
	return f.Claimed && f.ExcessQ <= rate || f.Pattern.Directional() && f.AsymmetryQ <= rate
}
