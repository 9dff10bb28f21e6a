package ejecta

import (
	"fmt"
	"math"
	"strings"
)

// Describe writes the verdict of a finding, one sentence for a person. alpha is
// the level at which an excess is claimed.
func (f *Finding) Describe(alpha float64) {
	f.Claimed = f.Status.Measured() && f.ExcessP < alpha
	f.Verdict = f.sentence()
}

func (f *Finding) sentence() string {
	if !f.Status.Measured() {
		return fmt.Sprintf("%s not measured: %s", f.Species, f.reason())
	}
	var parts []string
	switch {
	case !f.Claimed && !f.Pattern.Directional() && f.poorer():
		return fmt.Sprintf("%s is poorer near the crater, by %s ± %s at the rim; nothing richer found", f.Species, f.amount(-f.RimExcess), f.amount(f.RimExcessSE))
	case !f.Claimed && !f.Pattern.Directional():
		return fmt.Sprintf("%s: nothing found; a rim excess above %s is excluded at 95 %%", f.Species, f.amount(f.UpperLimit95))
	case f.Claimed:
		parts = append(parts, fmt.Sprintf("%s rim excess %s (p %s)", f.Species, f.amount(f.RimExcess), probability(f.ExcessP)))
	case f.poorer():
		parts = append(parts, f.Species+" poorer near the crater on the whole")
	default:
		parts = append(parts, f.Species+" without a clear overall excess")
	}
	parts = append(parts, f.directionPhrase())
	if !math.IsNaN(f.Extent) {
		parts = append(parts, fmt.Sprintf("seen to %.1f radii", f.Extent))
	}
	return strings.Join(parts, ", ")
}

// poorLimit is how many standard errors below the background the rim must lie
// before the ground is called poorer.
const poorLimit = 4.0

// poorer reports whether the ground near the crater clearly has less than its
// surroundings: the tests look for an excess only, and say "nothing".
func (f *Finding) poorer() bool { return f.RimExcess < -poorLimit*f.RimExcessSE }

func (f *Finding) reason() string {
	if f.Note != "" {
		return f.Note
	}
	return string(f.Status)
}

func (f *Finding) directionPhrase() string {
	word := ""
	switch f.Pattern {
	case PatternOneSided:
		word = fmt.Sprintf("one-sided towards %.0f degrees", f.Axis)
	case PatternBilateral:
		word = fmt.Sprintf("along the axis %.0f/%.0f degrees", f.Axis, f.Axis+180)
	case PatternRays:
		word = fmt.Sprintf("in %d rays, the strongest at %.0f degrees", len(f.Lobes), f.Axis)
	case PatternGap:
		word = fmt.Sprintf("with a gap %.0f degrees wide at %.0f degrees", f.GapWidth, f.Axis)
	case PatternSymmetric:
		return "the same in all directions as far as the data tell"
	default:
		return "direction not tested"
	}
	if f.Ambiguous {
		word += fmt.Sprintf(" (or %s)", f.RunnerUp)
	}
	if doubt := f.Doubt(); doubt != "" {
		return word + fmt.Sprintf(" (p %s, but %s)", probability(f.AsymmetryP), doubt)
	}
	return word + fmt.Sprintf(" (p %s)", probability(f.AsymmetryP))
}

// amount is a number with the unit of the species, if it has one.
func (f *Finding) amount(x float64) string {
	return withUnit(fmt.Sprintf("%.3g", x), f.Unit)
}

// withUnit is a number and its unit; the unit of what has none is 1 and is not
// said, lest it be read as a digit.
func withUnit(number, unit string) string {
	if unit == "1" {
		return number
	}
	return strings.TrimSpace(number + " " + unit)
}

// probability writes a p-value with its sign of comparison.
func probability(p float64) string {
	switch {
	case math.IsNaN(p):
		return "unknown"
	case p < 1e-12:
		return "< 1e-12"
	case p < 0.001:
		return fmt.Sprintf("= %.0e", p)
	}
	return fmt.Sprintf("= %.3f", p)
}

// Describe writes the sentence of a contrast from the two findings. alpha is
// the level at which a difference is claimed.
func (c *Contrast) Describe(a, b *Finding, alpha float64) {
	if c.Status != StatusOK {
		return
	}
	p := "p " + probability(c.P)
	c.Claimed = c.P < alpha
	if !c.Claimed {
		c.Sentence = fmt.Sprintf("no difference in shape shown between %s and %s; %s", c.SpeciesA, c.SpeciesB, p)
		return
	}
	if !a.Pattern.Directional() && !b.Pattern.Directional() {
		c.Sentence = fmt.Sprintf("%s and %s differ, but neither shows a direction of its own; %s", c.SpeciesA, c.SpeciesB, p)
		return
	}
	c.Sentence = fmt.Sprintf("%s, %s; the shapes differ, %s", shapePhrase(a), shapePhrase(b), p)
}

func shapePhrase(f *Finding) string {
	switch f.Pattern {
	case PatternSymmetric:
		return f.Species + " is symmetric"
	case PatternBilateral:
		return fmt.Sprintf("%s leaves along %.0f/%.0f degrees", f.Species, f.Axis, f.Axis+180)
	case PatternOneSided:
		return fmt.Sprintf("%s leaves towards %.0f degrees", f.Species, f.Axis)
	case PatternRays:
		return fmt.Sprintf("%s leaves in %d rays", f.Species, len(f.Lobes))
	case PatternGap:
		return fmt.Sprintf("%s has a gap at %.0f degrees", f.Species, f.Axis)
	}
	return f.Species + " shows nothing"
}
