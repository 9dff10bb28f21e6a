package main

import (
	"fmt"
	"math"
	"slices"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
	"rimcast/reports"
)

// judgement compares the findings of an invented survey with its truth. A
// blanket is one species at one crater.
type judgement struct {
	PlantedCraters int      `json:"planted_craters"`
	Planted        int      `json:"planted"`         // blankets
	Found          int      `json:"found"`           // of them, enriched at the level of the survey
	Bare           int      `json:"bare"`            // measured grounds with nothing planted
	FalseRich      int      `json:"false_rich"`      // of them, called enriched
	PatternRight   int      `json:"pattern_right"`   // of the planted
	FalseDirection int      `json:"false_direction"` // directions where none was planted
	Axes           int      `json:"axes"`            // right patterns with a direction
	AxisMedian     float64  `json:"axis_median_deg"`
	AxisWorst      float64  `json:"axis_worst_deg"`
	TopTen         int      `json:"top_ten"`
	Lines          []string `json:"lines"` // one for each of a few craters
	Example        string   `json:"example"`

	errors []float64
}

// judgedFDR is the level at which a finding counts here, judgedLines the number
// of craters that are told one by one.
const (
	judgedFDR   = 0.1
	judgedLines = 3
)

func judge(v *testblanket.Survey, s *reports.Survey) judgement {
	j := judgement{Lines: []string{}}
	found := findingIndex(s)
	rich := map[string]bool{}
	for _, t := range v.Truth {
		f, ok := found[[2]string{t.CraterID, t.Species}]
		if !ok {
			continue
		}
		if t.Pattern == "none" {
			j.bare(t, f)
			continue
		}
		if !rich[t.CraterID] {
			rich[t.CraterID] = true
			j.PlantedCraters++
		}
		j.planted(t, f)
	}
	j.finish(v, s, rich, found)
	return j
}

// findingIndex finds a finding by crater id and species; of several epochs the
// first.
func findingIndex(s *reports.Survey) map[[2]string]ejecta.Finding {
	index := map[[2]string]ejecta.Finding{}
	for _, f := range s.All() {
		key := [2]string{s.Catalogue.Craters[f.CraterIndex].ID, f.Species}
		if _, ok := index[key]; !ok {
			index[key] = *f
		}
	}
	return index
}

// enriched reports whether a finding counts as an enrichment.
func enriched(f ejecta.Finding) bool { return f.Status.Measured() && f.ExcessQ <= judgedFDR }

// bare counts a ground on which nothing was planted. Where a covariate fakes a
// signal, being fooled is what the alarms are for, and is not counted here.
func (j *judgement) bare(t testblanket.Truth, f ejecta.Finding) {
	if t.Faked || !f.Status.Measured() {
		return
	}
	j.Bare++
	if enriched(f) {
		j.FalseRich++
	}
	if f.Pattern.Directional() {
		j.FalseDirection++
	}
}

func (j *judgement) planted(t testblanket.Truth, f ejecta.Finding) {
	j.Planted++
	if enriched(f) {
		j.Found++
	}
	planted := ejecta.Pattern(t.Pattern)
	if f.Pattern == planted {
		j.PatternRight++
		if e := axisError(t, f); !math.IsNaN(e) {
			j.errors = append(j.errors, e)
		}
	}
	if planted == ejecta.PatternSymmetric && f.Pattern.Directional() {
		j.FalseDirection++
	}
}

// axisError returns how far the direction is off, in degrees; NaN for patterns
// without one. An axis has no head: its error is at most 90 degrees. The
// direction of rays is that of the strongest, which may be any of those
// planted.
func axisError(t testblanket.Truth, f ejecta.Finding) float64 {
	switch f.Pattern {
	case ejecta.PatternOneSided, ejecta.PatternGap:
		return angleBetween(t.Axis, f.Axis, 360)
	case ejecta.PatternBilateral:
		return angleBetween(t.Axis, f.Axis, 180)
	case ejecta.PatternRays:
		best := math.NaN()
		for _, r := range t.Rays {
			if d := angleBetween(r, f.Axis, 360); !(d > best) {
				best = d
			}
		}
		return best
	}
	return math.NaN()
}

// angleBetween returns the smallest difference of two angles of a given
// period, in degrees.
func angleBetween(a, b, period float64) float64 {
	d := math.Mod(math.Abs(a-b), period)
	return math.Min(d, period-d)
}

func (j *judgement) finish(v *testblanket.Survey, s *reports.Survey, rich map[string]bool, found map[[2]string]ejecta.Finding) {
	slices.Sort(j.errors)
	if j.Axes = len(j.errors); j.Axes > 0 {
		j.AxisMedian, j.AxisWorst = j.errors[j.Axes/2], j.errors[j.Axes-1]
	}
	for _, t := range topTargets(s, 10) {
		if rich[t.ID] {
			j.TopTen++
		}
	}
	for _, c := range v.Craters[:min(judgedLines, len(v.Craters))] {
		j.Lines = append(j.Lines, j.line(v, c.ID, c.Name, found))
	}
	if len(v.Craters) > 0 {
		j.Example = v.Craters[0].ID
	}
}

// line sets what was planted at one crater against what was found.
func (j *judgement) line(v *testblanket.Survey, id, name string, found map[[2]string]ejecta.Finding) string {
	text := fmt.Sprintf("%s (%s)", name, id)
	for _, t := range v.Truth {
		if t.CraterID != id {
			continue
		}
		f := found[[2]string{id, t.Species}]
		text += fmt.Sprintf("; %s: planted %s, found %s", t.Species, withAxis(ejecta.Pattern(t.Pattern), t.Axis), foundText(f))
	}
	return text
}

func foundText(f ejecta.Finding) string {
	if !f.Status.Measured() {
		return "nothing: " + string(f.Status)
	}
	return withAxis(f.Pattern, f.Axis)
}

func withAxis(p ejecta.Pattern, axis float64) string {
	switch {
	case p == "":
		return "no pattern"
	case p == ejecta.PatternRays || !p.Directional() || math.IsNaN(axis):
		return string(p)
	}
	return fmt.Sprintf("%s at %.0f degrees", p, axis)
}
