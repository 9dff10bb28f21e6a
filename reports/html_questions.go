package reports

import (
	"fmt"
	"math"
	"strings"

	"rimcast/ejecta"
)

// questionView is a question that is asked of every survey, what this one
// answers on the whole, and where the answer for each crater stands. What could
// not be asked says what it would need.
type questionView struct {
	Ask, Answer string
	Link, Where string // part of the page, and files
}

// questionViews are the questions in the order of the work: the signal, its
// errors, its impostors, what follows.
func questionViews(s *Survey) []questionView {
	q := tally{s: s}
	list := []questionView{
		{"Is there a blanket, and how far out is it seen?", q.blankets(), "sheets", "radial profile, excess, extent; findings.csv, radial.csv"},
		{"Is it the same all round, to one side, along an axis, in rays, or with a gap?", q.patterns(), "map", "rose, pattern, axis; azimuthal.csv"},
		{"Do the species point the same way?", q.contrasts(), "sheets", "two roses on one scale, Do the species agree; contrasts.csv"},
		{"Would a fainter blanket have been seen here?", q.limits(), "sheets", "detectable half the time, 95 %; rimcast sensitivity for all sizes and patterns"},
		{"Nothing found: is that a limit, or a hole in the data?", q.holes(), "asked", "status, coverage, upper limit; findings.csv"},
		{"Does it stay at another time of day?", q.day(), q.dayLink(), "Through the day, on each sheet; persistence.csv, epochs.csv"},
		{"Is the direction that of the sun?", q.alarm("axis_near_sun", "follows_sun"), "w-axis_near_sun", "alarms.csv"},
		{"Is it the orbit track, or a seam between strips?", q.alarm("axis_near_track", "seam_step", "one_strip"), "w-seam_step", "alarms.csv; kind seam of the overlay"},
		{"Is it only warmer or colder ground?", q.alarm("thermal"), "w-thermal", "figure without and with the covariates, thermal_share"},
		{"Is it a slope that faces the light?", q.alarm("illumination"), "w-illumination", "pixels within the rim are never used; alarms.csv"},
		{"Is it other ground, or a contact between two kinds?", q.alarm("albedo", "terrain_contact", "below_background"), "w-terrain_contact", "alarms.csv"},
		{"Is it from this crater, or from its neighbour?", q.alarm("neighbour_overlap", "changed_by_neighbour"), "w-changed_by_neighbour", "masked ground on the maps; alarms.csv"},
		{"Would other rings, centres or exponents say the same?", q.robust(), "w-robust_share", "same verdict under other choices; rimcast profile lists them"},
		{"How many of the findings are noise?", q.noise(), "trust", "q of the blanket and of the direction; p-values against chance"},
		{"Would the best ten be the best ten again?", q.ranks(), "best", "rank intervals; targets.csv"},
		{"Which shall be looked at, when, and from which side?", "The best targets are above, with their axis. rimcast followup turns them into requests with area, light and time.", "best", "targets.csv, overlay.geojson"},
		{"Are young craters richer than old ones like them?", q.controls(), q.controlsLink(), q.controlsWhere()},
		{"Could holes in the data make the direction?", q.alarm("coverage_can_fake"), "w-coverage_can_fake", "hatched sectors of the rose; alarms.csv"},
	}
	explained := map[string]bool{}
	for _, w := range wordViews(s) {
		explained["w-"+w.Term] = true
	}
	for i := range list {
		if v := &list[i]; strings.HasPrefix(v.Link, "w-") && !explained[v.Link] {
			v.Link = "words"
		}
	}
	return list
}

// tally counts over the findings of a survey.
type tally struct{ s *Survey }

func (q tally) count(yes func(*ejecta.Finding) bool) (n int) {
	for i := range q.s.Findings { // bare craters have nothing to count
		if yes(&q.s.Findings[i]) {
			n++
		}
	}
	return n
}

func (q tally) measured() int {
	return q.count(func(f *ejecta.Finding) bool { return f.Status.Measured() })
}

func (q tally) blankets() string {
	farthest := math.NaN()
	n := q.count(func(f *ejecta.Finding) bool {
		if f.Claimed && !(f.Extent <= farthest) && !math.IsNaN(f.Extent) {
			farthest = f.Extent
		}
		return f.Claimed
	})
	words := fmt.Sprintf("%d of %d measured findings pass the level of the survey", n, q.measured())
	if !math.IsNaN(farthest) {
		words += fmt.Sprintf("; the farthest is seen to %s crater radii", orUnknown(farthest))
	}
	return words + "."
}

func (q tally) patterns() string {
	parts := q.patternCounts()
	if len(parts) == 0 {
		return "No direction could be tested."
	}
	return "Findings by pattern: " + strings.Join(parts, ", ") + "."
}

func (q tally) patternCounts() (parts []string) {
	for _, p := range allPatterns[:len(allPatterns)-1] {
		if n := q.count(func(f *ejecta.Finding) bool { return f.Status.Measured() && f.Pattern == p }); n > 0 {
			parts = append(parts, fmt.Sprintf("%s %d", p, n))
		}
	}
	if n := q.count(func(f *ejecta.Finding) bool { return f.Status.Measured() && f.Pattern == "" }); n > 0 && len(parts) > 0 {
		parts = append(parts, fmt.Sprintf("not tested %d", n))
	}
	return parts
}

func (q tally) contrasts() string {
	if len(q.s.Contrasts) == 0 {
		return "Not asked: there are no two species to compare."
	}
	return fmt.Sprintf("%d of %d comparisons differ in shape at q of 0.1.", q.unlike(), len(q.s.Contrasts))
}

// unlike counts the contrasts of two shapes.
func (q tally) unlike() (n int) {
	for _, c := range q.s.Contrasts {
		if c.Q <= 0.1 {
			n++
		}
	}
	return n
}

// limits is the median rim excess that is found half the time, by species.
func (q tally) limits() string {
	var parts []string
	for _, sp := range q.s.Species {
		var list []float64
		for i := range q.s.Findings {
			if f := &q.s.Findings[i]; f.Species == sp.Name && f.Detectable50 > 0 {
				list = append(list, f.Detectable50)
			}
		}
		if len(list) > 0 {
			parts = append(parts, fmt.Sprintf("%s %s %s", DisplayText(sp.Name), orUnknown(ejecta.Median(list)), DisplayText(sp.Unit)))
		}
	}
	if len(parts) == 0 {
		return "No crater has a limit."
	}
	return "Rim excess found half the time, at the middle crater: " + strings.Join(parts, ", ") + "."
}

func (q tally) holes() string {
	none := q.count(func(f *ejecta.Finding) bool { return f.Status.Measured() && !f.Claimed })
	lost := q.s.Count() - q.measured()
	return fmt.Sprintf("%d findings are measured and claim nothing: they have an upper limit. %d could not be measured and have none.", none, lost)
}

// day says what stays, of what was seen at any time of day.
func (q tally) day() string {
	n := q.compared()
	if n == 0 {
		return "Not asked: it needs maps of one species at two times of day or more."
	}
	var parts []string
	for _, v := range []string{ejecta.Persistent, ejecta.Changing, ejecta.ComesAndGoes, ejecta.NotKnown} {
		if k := q.staying(v); k > 0 {
			parts = append(parts, fmt.Sprintf("%s %d", v, k))
		}
	}
	return fmt.Sprintf("%d craters and species compared between times of day: %s. Not known: nothing seen, or too faint to say.", n, strings.Join(parts, ", "))
}

// staying counts the blankets with a verdict about the times of day.
func (q tally) staying(verdict string) (n int) {
	for _, p := range q.s.Persistence {
		if p.Status.Measured() && p.Verdict == verdict {
			n++
		}
	}
	return n
}

// compared counts what was measured at several times of day.
func (q tally) compared() (n int) {
	for _, p := range q.s.Persistence {
		if p.Status.Measured() {
			n++
		}
	}
	return n
}

func (q tally) dayLink() string {
	if len(q.s.Persistence) > 0 {
		return "day"
	}
	return "sheets"
}

func (q tally) controls() string {
	if q.s.Controls.Rule == "" {
		return "Not asked: the survey does not say which craters are young."
	}
	words := fmt.Sprintf("%d of %d young craters are paired with an old one like them.", len(q.s.Controls.Pairs), q.s.Controls.Young)
	for _, sp := range q.s.Controls.Species {
		words += " " + capital(sp.Sentence) + "."
	}
	return words
}

func (q tally) controlsWhere() string {
	if q.s.Controls.Rule == "" {
		return "a column of age or class in the catalogue"
	}
	return "the pairs; controls.csv"
}

func (q tally) controlsLink() string {
	if q.s.Controls.Rule == "" {
		return "asked"
	}
	return "controls"
}

// alarm says how often each alarm was raised, or what it lacked.
func (q tally) alarm(names ...string) string {
	var parts []string
	for _, name := range names {
		if words := q.oneAlarm(name); words != "" {
			parts = append(parts, words)
		}
	}
	if len(parts) == 0 {
		return "Not asked."
	}
	return strings.Join(parts, "; ") + "."
}

func (q tally) oneAlarm(name string) string {
	c := q.s.alarmCounts()[name]
	switch {
	case c.ran > 0:
		return fmt.Sprintf("%s raised at %d of %d findings", name, c.raised, c.ran)
	case c.lacking != "":
		return fmt.Sprintf("%s could not run (%s)", name, cleanText(c.lacking))
	}
	return ""
}

func (q tally) robust() string {
	tried := q.count(func(f *ejecta.Finding) bool { return f.Robust.Tried > 0 })
	firm := q.count(func(f *ejecta.Finding) bool { return f.Robust.Tried > 0 && f.Robust.Share() >= 0.8 })
	if tried == 0 {
		return "Nothing was claimed, so nothing could fall."
	}
	return fmt.Sprintf("%d of %d claims stand under at least four of five other choices.", firm, tried)
}

// noise counts the null positions at which a direction is claimed.
func (q tally) noise() string {
	fired, places := 0, 0
	for _, n := range q.s.Nulls {
		places += len(n.PValues)
		for _, p := range n.PValues {
			if p <= 0.05 {
				fired++
			}
		}
	}
	if places == 0 {
		return "No null positions were measured; the p-values are those of the noise model alone."
	}
	return fmt.Sprintf("At places without a crater the test of a direction claims at 5 %% in %s of %d cases; each q is the share of false ones if the line is drawn there.",
		orUnknown(100*float64(fired)/float64(places))+" %", places)
}

func (q tally) ranks() string {
	top := q.s.topTargets(10)
	stay := 0.0
	for _, t := range top {
		stay += t.PTop10
	}
	return fmt.Sprintf("On average %s of the first %d stay among the best ten in repeated measurements.", orUnknown(stay), len(top))
}
