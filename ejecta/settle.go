package ejecta

import "math"

// Settle says how quiet a new observation has to be so that what is assumed of
// a crater comes out at a wanted level. In generalised least squares the
// information on an amplitude goes with one over the variance of the noise, so
// that at the same ground, pixels and correlation a score goes with one over
// its standard deviation.
type Settle struct {
	Level     float64 // wanted, standard errors
	Assumed   float64 // rim excess assumed, unit of the species, decay exponent 3
	Limit     bool    // it is the upper limit, since nothing is claimed
	SE        float64 // its present standard error
	Score     float64 // Assumed over SE
	Alone     float64 // noise of the new observation over that of the present map
	Joined    float64 // the same when both are joined; +Inf when the present map does already
	Direction float64 // the same, alone, for the direction; NaN without one
}

// Settle computes the noise that would settle a finding.
func (f *Finding) Settle(level float64) Settle {
	s := Settle{Level: level, SE: f.Detectable50 / quantile999, Score: f.honestScore(), Direction: f.directionFactor(level)}
	if !f.Claimed {
		s.Limit, s.Score = true, f.UpperLimit95/s.SE
	}
	s.Assumed = s.Score * s.SE
	s.Alone, s.Joined = s.Score/level, joinedFactor(s.Score, level)
	return s
}

// honestScore is the expected true score, where the catalogue tells; an observed
// one that was picked for its size would promise too much.
func (f *Finding) honestScore() float64 {
	if f.TrueScore > 0 {
		return f.TrueScore
	}
	return ScoreOf(f.ExcessP)
}

// joinedFactor solves z sqrt(1 + 1/k^2) = level for the noise factor k.
func joinedFactor(z, level float64) float64 {
	if z >= level {
		return math.Inf(1)
	}
	return 1 / math.Sqrt(level*level/(z*z)-1)
}

// directionFactor is the noise factor at which the p of the direction would be
// that of a score of level. The best score of a template goes as z/k, and its p
// as c exp(-z^2/2k^2) by the tube formula (see [TubeP]); c is taken from the p
// of all tests together, so that it has paid for the search.
func (f *Finding) directionFactor(level float64) float64 {
	if !f.Pattern.Directional() {
		return math.NaN()
	}
	z := f.bestTemplate()
	left := math.Log(math.Max(f.AsymmetryP, 1e-300)) + z*z/2 - math.Log(upperTail(level))
	if !(z > 0) || !(left > 0) {
		return math.NaN()
	}
	return z / math.Sqrt(2*left)
}

// bestTemplate is the largest score of the families that are one template
// turned round; the others have chi-squares.
func (f *Finding) bestTemplate() float64 {
	best := math.NaN()
	for _, t := range f.Families {
		switch t.Name {
		case lobeFamily.name, axisFamily.name, gapFamily.name, "regular rays":
			if !(t.Z <= best) {
				best = t.Z
			}
		}
	}
	return best
}

// Turning is the rim excess of a new observation at which the joined verdict
// turns: with less, a claimed excess is no longer claimed at level alpha; with
// more, one that is not becomes so. The two are joined by inverse variance:
//
//	A1 = s1^2 (z sqrt(1/s0^2 + 1/s1^2) - A0/s0^2)
func (s *Settle) Turning(now, alpha float64) float64 {
	w0, w1 := 1/(s.SE*s.SE), 1/(s.NewSE()*s.NewSE())
	return (ScoreOf(alpha)*math.Sqrt(w0+w1) - now*w0) / w1
}

// NewSE is the standard error of the rim excess in the observation asked for.
func (s *Settle) NewSE() float64 { return s.Alone * s.SE }
