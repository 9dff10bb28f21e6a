package ejecta

import (
	"fmt"
	"math"
	"sort"
)

// NullClaims is how often ground without a crater makes a direction against
// which no other alarm speaks: for the null positions of one species the joint p
// of those directions, on their ground, and of the excess that they would have.
type NullClaims struct {
	Positions int
	P         []float64 // ascending
}

// Limits of the alarm of directions that are common without craters.
const (
	commonAlarm  = "common_direction"
	leastNulls   = 100  // positions
	commonChance = 0.01 // of as many claims as were found, if the noise model were right
)

// NullClaim is the joint p, see [NullClaims], of a direction at a null position
// that passes every alarm of the ground; NaN when there is none.
func (e *Evidence) NullClaim(set Settings, in AlarmInputs) float64 {
	if e.ground == nil {
		return math.NaN()
	}
	m := e.Measure(set, in.NullScale, in.Seed)
	if len(m.Classes) == 0 {
		return math.NaN()
	}
	list := []Alarm{e.contactAlarmOf(&m, set, in), e.seamAlarmOf(&m, set, in), e.deficitAlarmOf(&m), e.textureAlarmOf(&m, set, in)}
	for _, a := range list {
		if a.Raised && a.Name != seamAlarm {
			return math.NaN()
		}
	}
	if len(m.Classes) == 0 { // the seam took it
		return math.NaN()
	}
	return m.jointP()
}

// jointP is the p of the direction on its ground times that of the excess whose
// direction it would be.
func (m *Measurement) jointP() float64 {
	p := m.groundP
	if math.IsNaN(p) {
		p = m.Finding.AsymmetryP
	}
	return p * m.Blanket.P
}

// Add counts a null position with the p of its claim, NaN for none.
func (n *NullClaims) Add(p float64) {
	n.Positions++
	if !math.IsNaN(p) {
		at := sort.SearchFloat64s(n.P, p)
		n.P = append(n.P, 0)
		copy(n.P[at+1:], n.P[at:])
		n.P[at] = p
	}
}

// share is the share of null positions that claim a direction as plain as a
// joint p, with the crater as one of them: that none of m does says no more than
// that it is about one in m (Phipson & Smyth 2010, from memory).
func (n *NullClaims) share(p float64) float64 {
	k := sort.Search(len(n.P), func(i int) bool { return n.P[i] > p })
	return float64(k+1) / float64(n.Positions+1)
}

// tooMany reports whether null positions claim more directions at a level than
// chance allows.
func (n *NullClaims) tooMany(alpha float64) bool {
	return BinomialP(len(n.P), n.Positions, alpha) < commonChance
}

// commonAlarmOf distrusts a direction on a map whose ground makes directions
// without a crater: one as plain as those, and one without an excess. The value
// is the share of null positions with a direction and an excess as plain; it has
// a limit only where there are too many, see [DoubtCommon].
func commonAlarmOf(m *Measurement, set Settings, in AlarmInputs) Alarm {
	n, alpha := in.Nulls, set.WithDefaults().Alpha
	switch {
	case len(m.Classes) == 0:
		return notRun(commonAlarm, noDirectionOf)
	case n == nil || n.Positions < leastNulls:
		return notRun(commonAlarm, fmt.Sprintf("fewer than %d null positions were measured", leastNulls))
	}
	a := over(commonAlarm, n.share(m.jointP()), alpha, "share of null positions",
		"%d of %d places without a crater claim a direction too, where %.0f are expected", len(n.P), n.Positions, alpha*float64(n.Positions))
	if !n.tooMany(alpha) {
		a.Raised, a.Limit = false, math.NaN()
		return a
	}
	if !(m.Blanket.P < alpha) {
		a.Raised, a.Detail = true, a.Detail+"; and no excess is seen that could have a direction"
	}
	return a
}
