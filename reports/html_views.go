package reports

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"rimcast/ejecta"
	"rimcast/geom"
)

// The views are what the page shows, joined and put into words.
type (
	bestView struct {
		ejecta.Target
		Crater  int
		Label   string
		Linked  bool
		Pattern string
		Alarms  []string
	}
	countView struct {
		Status string
		Count  int
	}
	wordView    struct{ Term, Kind, Short, Long string }
	pairView    struct{ Key, Value string }
	refusedView struct {
		Index      int
		ID, Reason string
	}
	nullView struct {
		NullSummary
		Fired string // share at the nominal 5 %
	}
)

func bestViews(s *Survey, n, sheets int) []bestView {
	var out []bestView
	for i, t := range s.topTargets(n) {
		c := s.crater(t.CraterIndex)
		list := s.findingsOf(t.CraterIndex)
		v := bestView{Target: t, Crater: t.CraterIndex, Label: htmlLabel(c), Linked: i < sheets, Pattern: patternText(craterPattern(list))}
		for _, f := range list {
			for _, a := range f.RaisedAlarms() {
				if !slices.Contains(v.Alarms, a) {
					v.Alarms = append(v.Alarms, a)
				}
			}
		}
		out = append(out, v)
	}
	return out
}

// htmlLabel names a crater on the page, where every script has glyphs.
func htmlLabel(c geom.Crater) string {
	id, name := DisplayText(c.ID), DisplayText(c.Name)
	if name == "" || name == id {
		return id
	}
	return name + " (" + id + ")"
}

// statusViews counts the findings by status, in the order of the manual.
func statusViews(s *Survey) []countView {
	counts := map[string]int{}
	for i := range s.Findings {
		counts[string(s.Findings[i].Status)]++
	}
	for status, n := range s.bare.Counts() {
		counts[string(status)] += n
	}
	var out []countView
	for _, term := range Terms("status") {
		if counts[term] > 0 {
			out = append(out, countView{term, counts[term]})
		}
	}
	return out
}

// wordViews explains the patterns, statuses and alarms that occur.
func wordViews(s *Survey) []wordView {
	seen := map[string]bool{}
	for i := range s.Findings {
		f := &s.Findings[i]
		seen[string(f.Status)], seen[string(f.Pattern)] = true, true
	}
	for status := range s.bare.Counts() {
		seen[string(status)], seen[""] = true, true
	}
	for name := range s.alarmCounts() {
		seen[name] = true
	}
	var out []wordView
	for _, e := range explanations() {
		if seen[e.term] || e.kind == "number" {
			out = append(out, wordView{e.term, e.kind, e.short, e.long})
		}
	}
	return out
}

// settingViews flattens settings to dotted keys in order.
func settingViews(settings map[string]any) []pairView {
	var out []pairView
	var walk func(prefix string, v any)
	walk = func(prefix string, v any) {
		switch v := v.(type) {
		case map[string]any:
			for _, k := range slices.Sorted(maps.Keys(v)) {
				walk(prefix+"."+k, v[k])
			}
		case []any:
			for i, e := range v {
				walk(fmt.Sprintf("%s %d", prefix, i+1), e)
			}
		default:
			out = append(out, pairView{prefix, fmt.Sprint(v)})
		}
	}
	for _, k := range slices.Sorted(maps.Keys(settings)) {
		walk(k, settings[k])
	}
	return out
}

func crsViews(s *Survey) []pairView {
	out := []pairView{{"coordinates of the results", s.CRSName()}}
	for _, k := range slices.Sorted(maps.Keys(s.Manifest.CRS)) {
		out = append(out, pairView{k, s.Manifest.CRS[k]})
	}
	return out
}

func refusedViews(s *Survey) []refusedView {
	var out []refusedView
	for _, r := range s.Catalogue.Refused[:min(50, len(s.Catalogue.Refused))] {
		out = append(out, refusedView{r.Index, DisplayText(r.ID), r.Reason})
	}
	return out
}

func nullViews(s *Survey) []nullView {
	var out []nullView
	for _, n := range s.Nulls {
		v := nullView{n, "–"}
		if len(n.PValues) > 0 {
			sorted := slices.Clone(n.PValues)
			slices.Sort(sorted)
			v.Fired = strconv.FormatFloat(100*pSeries{nulls: sorted}.observed(0.05), 'f', 1, 64) + " %"
		}
		out = append(out, v)
	}
	return out
}

// sheetView is one crater in depth.
type sheetView struct {
	ejecta.Target
	Crater            int
	Label, ID         string
	Lon, Lat, LonWest string
	RadiusKM          float64
	Species           []string
	Rows              []sheetRow
	Verdicts          []pairView
	Many              bool       // more species than fit side by side
	Families          []sheetRow // tests of a direction, one column per species
	Contrasts         []string
	Day               []string // what the times of day say
	Alarms            []alarmGroup
	Clear             []string
	NotRun            []lackGroup
	Figures           []figureView
}

type (
	sheetRow struct {
		Name, Explain string
		Cells         []string
	}
)

func newSheet(s *Survey, t ejecta.Target) (sheetView, error) {
	c := s.crater(t.CraterIndex)
	v := sheetView{
		Target: t, Crater: t.CraterIndex, Label: htmlLabel(c), ID: DisplayText(c.ID), RadiusKM: c.Radius / 1000,
		Lon: shortDegrees(eastLongitude(c.Centre.Lon)), LonWest: shortDegrees(westLongitude(c.Centre.Lon)), Lat: shortDegrees(c.Centre.Lat),
	}
	list := s.wholeOf(t.CraterIndex)
	v.Rows, v.Families, v.Many = sheetRows(list), familyRows(list), len(list) > 3
	for _, f := range list {
		v.Species = append(v.Species, fmt.Sprintf("%s (%s)", DisplayText(f.Species), unitText(f.Unit)))
		if words := cmp.Or(f.Verdict, f.Note, shortWord(f.Status)); !strings.Contains(t.Verdict, words) {
			v.Verdicts = append(v.Verdicts, pairView{f.Species, strings.TrimLeft(strings.TrimPrefix(words, f.Species), ": ")})
		}
	}
	v.Alarms, v.Clear, v.NotRun = raisedGroups(list), clearAlarms(list), lackGroups(list)
	v.Contrasts = ContrastLines(s.contrastsOf(t.CraterIndex))
	for _, p := range s.Persistence {
		if p.CraterIndex == t.CraterIndex {
			v.Day = append(v.Day, p.Verdict+": "+p.Sentence)
		}
	}
	for _, f := range CraterFigures(s, t.CraterIndex) {
		view, err := figureOf(f, true)
		if err != nil {
			return v, err
		}
		v.Figures = append(v.Figures, *view)
	}
	return v, nil
}

// shortDegrees is a coordinate with four decimals.
func shortDegrees(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }

// sheetRows are the numbers of a crater, one column per species.
func sheetRows(list []ejecta.Finding) []sheetRow {
	row := func(name, term string, get func(ejecta.Finding) string) sheetRow {
		r := sheetRow{Name: name, Explain: shortWord(term)}
		for _, f := range list {
			r.Cells = append(r.Cells, get(f))
		}
		return r
	}
	return []sheetRow{
		row("status", "", func(f ejecta.Finding) string { return string(f.Status) }),
		row("background", "", func(f ejecta.Finding) string { return withError(f.Background, f.BackgroundSE) }),
		row("excess, 1.1 to 2.5 R", "excess", func(f ejecta.Finding) string { return withError(f.Excess, f.ExcessSE) }),
		row("excess at the rim", "rim_excess", func(f ejecta.Finding) string { return withError(f.RimExcess, f.RimExcessSE) }),
		row("p, q of the blanket", "q", func(f ejecta.Finding) string { return chance(f.ExcessP) + ", " + chance(f.ExcessQ) }),
		row("decay exponent", "decay_exponent", func(f ejecta.Finding) string { return withError(f.Decay, f.DecaySE) }),
		row("extent, crater radii", "extent", func(f ejecta.Finding) string { return orDash(f.Extent) }),
		row("pattern", "", patternCell),
		row("asymmetry", "asymmetry", func(f ejecta.Finding) string { return withError(f.Asymmetry, f.AsymmetrySE) }),
		row("p, q of the direction", "p", func(f ejecta.Finding) string { return chance(f.AsymmetryP) + ", " + chance(f.AsymmetryQ) }),
		row("same verdict under other choices", "robust_share", func(f ejecta.Finding) string { return orDash(f.Robust.Share()) }),
		row("axis, degrees from north", "axis", axisCell),
		row("detectable half the time, 95 %", "detectable_50", func(f ejecta.Finding) string { return orDash(f.Detectable50) + ", " + orDash(f.Detectable95) }),
		row("upper limit, 95 %", "upper_limit_95", func(f ejecta.Finding) string { return orDash(f.UpperLimit95) }),
		row("coverage, masked", "coverage", func(f ejecta.Finding) string { return orDash(f.Coverage) + ", " + orDash(f.MaskShare) }),
		row("independent samples", "n_eff", func(f ejecta.Finding) string { return orDash(f.NEff) }),
		row("pixels, per radius", "", func(f ejecta.Finding) string { return strconv.Itoa(f.Pixels) + ", " + orDash(f.PixelsPer) }),
	}
}

// chance is a p or q for people: below 1e-12 its digits mean nothing.
func chance(p float64) string {
	if p < 1e-12 {
		return "< 1e-12"
	}
	return orDash(p)
}

func withError(v, se float64) string {
	if orDash(v) == "–" {
		return "–"
	}
	if orDash(se) == "–" {
		return orDash(v)
	}
	return ErrorDigits(v, se)
}

func patternCell(f ejecta.Finding) string {
	words := patternText(f.Pattern)
	if f.Ambiguous && f.RunnerUp != "" {
		words += " or " + string(f.RunnerUp)
	}
	if doubt := f.Doubt(); doubt != "" {
		words += ", but " + doubt
	}
	return words
}

func axisCell(f ejecta.Finding) string {
	if !f.Pattern.Directional() {
		return "–"
	}
	words := withError(f.Axis, f.AxisSE)
	for i, iv := range f.Axis95 {
		words += []string{"; 95 %: ", " and "}[min(i, 1)] + orDash(iv.Lo) + " to " + orDash(iv.Hi)
	}
	return words
}
