package ejecta

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Change is how the finding of one crater and species differs between two
// surveys, A and B. Differences are B less A; NaN where one side has no number.
type Change struct {
	Species, Unit      string
	VerdictA, VerdictB string // verdict words
	StatusA, StatusB   Status
	PatternA, PatternB Pattern

	ExcessA, ExcessSEA float64
	ExcessB, ExcessSEB float64
	Difference         float64
	DifferenceSE       float64
	Sigma              float64 // Difference over DifferenceSE

	AxisA, AxisB float64 // degrees
	AxisChange   float64 // degrees, the short way round
	AxisChangeSE float64

	AlarmsNew, AlarmsGone []string // raised in B only, in A only
	Importance            float64
	Why                   []string
}

// Weights of a change of words in the importance of a change, in units of one
// sigma of the excess difference: choices, not measurements.
const (
	importanceVerdict = 3
	importanceStatus  = 2
	importancePattern = 2
	importanceAlarm   = 1
	importanceMost    = 10 // no difference counts more sigma than this
)

// NewChange compares two findings of one crater and species. rateA and rateB
// are the false discovery rates of the surveys; correlation is that of the
// errors of the two excesses, 0 for maps that share nothing.
//
// Importance adds the sigma of the excess difference and of the axis change
// (ten at most), 3 for another verdict, 2 for another status or pattern, and 1
// for each alarm that came or went.
func NewChange(a, b *Finding, rateA, rateB, correlation float64) Change {
	c := Change{
		Species: a.Species, Unit: a.Unit, StatusA: a.Status, StatusB: b.Status, PatternA: a.Pattern, PatternB: b.Pattern,
		VerdictA: a.VerdictWord(rateA), VerdictB: b.VerdictWord(rateB),
	}
	c.ExcessA, c.ExcessSEA = measuredExcess(a)
	c.ExcessB, c.ExcessSEB = measuredExcess(b)
	c.Difference = c.ExcessB - c.ExcessA
	c.DifferenceSE = combinedError(c.ExcessSEA, c.ExcessSEB, correlation)
	c.Sigma = c.Difference / c.DifferenceSE
	c.AlarmsNew, c.AlarmsGone = without(b.RaisedAlarms(), a.RaisedAlarms()), without(a.RaisedAlarms(), b.RaisedAlarms())
	c.axes(a, b)
	c.weigh()
	return c
}

func measuredExcess(f *Finding) (value, se float64) {
	if !f.Status.Measured() {
		return math.NaN(), math.NaN()
	}
	return f.Excess, f.ExcessSE
}

// combinedError is the standard error of the difference of two numbers whose
// errors are correlated; NaN unless both errors are positive.
func combinedError(a, b, correlation float64) float64 {
	if !(a > 0 && b > 0) {
		return math.NaN()
	}
	return math.Sqrt(a*a + b*b - 2*correlation*a*b)
}

// without returns the names of list that are not in other.
func without(list, other []string) []string {
	return slices.DeleteFunc(slices.Clone(list), func(s string) bool { return slices.Contains(other, s) })
}

// axes compares the directions. A direction and an axis are compared as axes.
func (c *Change) axes(a, b *Finding) {
	nan := math.NaN()
	c.AxisA, c.AxisB, c.AxisChange, c.AxisChangeSE = directionOf(a), directionOf(b), nan, nan
	if math.IsNaN(c.AxisA) || math.IsNaN(c.AxisB) {
		return
	}
	turn := 360.0
	if a.Pattern == PatternBilateral || b.Pattern == PatternBilateral {
		turn = 180
	}
	c.AxisChange = math.Remainder(c.AxisB-c.AxisA, turn)
	c.AxisChangeSE = math.Hypot(a.AxisSE, b.AxisSE)
}

func directionOf(f *Finding) float64 {
	if !f.Pattern.Directional() {
		return math.NaN()
	}
	return f.Axis
}

// weigh fills Importance and Why.
func (c *Change) weigh() {
	add := func(weight float64, format string, args ...any) {
		c.Importance += weight
		c.Why = append(c.Why, fmt.Sprintf(format, args...))
	}
	if c.VerdictA != c.VerdictB {
		add(importanceVerdict, "verdict %s, was %s", c.VerdictB, c.VerdictA)
	}
	if c.StatusA != c.StatusB {
		add(importanceStatus, "status %s, was %s", c.StatusB, c.StatusA)
	}
	if c.PatternA != c.PatternB {
		add(importancePattern, "pattern %s, was %s", patternOrDash(c.PatternB), patternOrDash(c.PatternA))
	}
	if s := math.Abs(c.Sigma); s >= 2 {
		c.Why = append(c.Why, fmt.Sprintf("excess %+.1f sigma", c.Sigma))
	}
	if s := c.axisSigma(); s >= 2 {
		c.Why = append(c.Why, fmt.Sprintf("axis turned by %.0f degrees (%.1f sigma)", c.AxisChange, s))
	}
	c.weighAlarms(add)
	c.Importance += cappedSigma(c.Sigma) + cappedSigma(c.axisSigma())
}

func (c *Change) weighAlarms(add func(float64, string, ...any)) {
	if n := len(c.AlarmsNew); n > 0 {
		add(importanceAlarm*float64(n), "now raised: %s", strings.Join(c.AlarmsNew, ", "))
	}
	if n := len(c.AlarmsGone); n > 0 {
		add(importanceAlarm*float64(n), "no longer raised: %s", strings.Join(c.AlarmsGone, ", "))
	}
}

// axisSigma is the size of the axis change over its error, NaN without one.
func (c *Change) axisSigma() float64 {
	if !(c.AxisChangeSE > 0) {
		return math.NaN()
	}
	return math.Abs(c.AxisChange) / c.AxisChangeSE
}

// cappedSigma is the size of a difference in sigma, 0 when there is none.
func cappedSigma(s float64) float64 {
	return math.Min(math.Abs(orZero(s)), importanceMost)
}

func patternOrDash(p Pattern) string {
	if p == "" {
		return "not tested"
	}
	return string(p)
}

// Changed reports whether words changed or a number moved by two sigma.
func (c *Change) Changed() bool { return len(c.Why) > 0 }
