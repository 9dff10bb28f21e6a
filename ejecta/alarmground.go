package ejecta

import (
	"fmt"
	"math"
)

// Alarms about how much ground was seen: holes near the rim, and the far field.

const (
	gapAlarmName        = "gap_probable"
	backgroundAlarmName = "background_short"

	holeLimit     = 60.0 // degrees
	farShareLimit = 0.3  // valid share of the far field
	spuriousLimit = 1.0  // standard errors
	seenLimit     = 3.0  // standard errors: a blanket is there
)

// coverageAlarm distrusts a direction found beside a wide hole near the rim,
// and works out what the fitted symmetric blanket leaves behind this crater's
// own mask. Free ring means take a symmetric blanket out pixel by pixel, so
// that this is next to nothing unless the cells are coarse.
func (e *Evidence) coverageAlarm(m *Measurement, set Settings, in AlarmInputs) Alarm {
	const name = "coverage_can_fake"
	if m.Direction == nil {
		return e.holeAlarm(name, m)
	}
	spurious := e.spuriousDirection(m, set, in)
	a := over(name, e.LargestHole, holeLimit, "degrees",
		"the widest hole near the rim spans %.0f degrees; the fitted symmetric blanket leaves %.2f standard errors of direction behind this mask", e.LargestHole, spurious)
	a.Raised = (a.Raised || spurious > spuriousLimit) && m.Finding.Pattern.Directional()
	return a
}

// holeAlarm is the coverage alarm where holes forbid a direction. The levels
// then rest on the side that is seen: the plane of the background cannot be told
// from a blanket that changes with direction, which moves background and rim
// excess by far more than their errors say.
func (e *Evidence) holeAlarm(name string, m *Measurement) Alarm {
	if e.Status != StatusNotTestable {
		return notRun(name, "no direction was tested")
	}
	a := over(name, e.LargestHole, holeLimit, "degrees",
		"the widest hole near the rim spans %.0f degrees; a blanket that changes with direction would move background and rim excess", e.LargestHole)
	a.Raised = a.Raised && m.Blanket.Z > seenLimit
	return a
}

// spuriousDirection is the largest score, in standard errors, that the fitted
// symmetric blanket gives the lobe and axis templates through the mask.
func (e *Evidence) spuriousDirection(m *Measurement, set Settings, in AlarmInputs) float64 {
	variance := e.Variance * in.NullScale
	sw := directionSweep(e.Gram, e.nuisance(set))
	col := colDecay + nearestNode(m.Blanket.exponent())
	a := m.Blanket.at(1)
	ghost := *m.Direction
	for i := range ghost.Score {
		ghost.Score[i] = a * sw.at(colCos+i, col) / variance
	}
	worst := 0.0
	for _, f := range []*family{lobeFamily, axisFamily} {
		sc := ghost.scan(f)
		worst = math.Max(worst, sc.z[sc.best])
	}
	return worst
}

// nearestNode is the number of the painted exponent nearest to b.
func nearestNode(b float64) int {
	best := 0
	for i, v := range decayNodes {
		if math.Abs(v-b) < math.Abs(decayNodes[best]-b) {
			best = i
		}
	}
	return best
}

// gapAlarm warns that a gap fits almost as well as the pattern chosen, whose
// direction would then be the opposite one.
func gapAlarm(m *Measurement) Alarm {
	if len(m.Classes) == 0 {
		return notRun(gapAlarmName, noDirectionOf)
	}
	lead := m.Classes[0]
	for _, c := range m.Classes {
		if c.pattern == PatternGap {
			a := over(gapAlarmName, lead.score-c.score, ambiguousLead, "score", "a gap of %.0f degrees scores %.1f less than %s", c.width, lead.score-c.score, lead.pattern)
			a.Raised = lead.pattern != PatternGap && lead.score-c.score < ambiguousLead
			return a
		}
	}
	return notRun(gapAlarmName, "no gap was fitted")
}

// backgroundAlarm distrusts levels whose background is not reached: rings that
// end too near, a far field with little valid ground, an excess that is still
// there in the last ring.
func (e *Evidence) backgroundAlarm(m *Measurement) Alarm {
	pixels, full := 0, 0
	for _, r := range e.Rings {
		if r.RhoLo >= math.Min(backgroundInner, 0.5*e.Layout.Outer) {
			pixels, full = pixels+r.Pixels, full+r.Full
		}
	}
	far := share(pixels, full)
	a := over(backgroundAlarmName, far, farShareLimit, "share", "%.0f %% of the far field is valid", 100*far)
	a.Raised = far < farShareLimit
	if e.Layout.Outer <= backgroundInner {
		a.Raised, a.Detail = true, a.Detail+fmt.Sprintf("; the rings end at %.1f radii", e.Layout.Outer)
	}
	if m.Finding.Extent >= e.Layout.Outer*(1-1e-9) {
		a.Raised, a.Detail = true, a.Detail+"; the excess is still there in the last ring"
	}
	return a
}
