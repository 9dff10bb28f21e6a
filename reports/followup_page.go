package reports

import (
	"cmp"
	_ "embed" // the page and its style
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strings"

	"rimcast/ejecta"
	"rimcast/geom"
)

var (
	//go:embed followup.html
	followUpText string
	//go:embed followup.css
	followUpStyle string
)

var followUpTemplate = template.Must(template.New("followup").Funcs(template.FuncMap{
	"show": DisplayText, "number": orDash, "long": longText, "firm": firmNumbers, "last": func(i, n int) bool { return i == n-1 },
}).Parse(followUpText))

// longText keeps a sentence whole, without characters that print badly.
func longText(s string) string {
	var parts []string
	for _, w := range strings.Fields(s) {
		parts = append(parts, DisplayText(w))
	}
	return strings.Join(parts, " ")
}

// followUpPage is what the template shows.
type followUpPage struct {
	*FollowUp
	Style  template.CSS
	Sheets []followUpSheet
}

// followUpSheet is one crater, ready to print.
type followUpSheet struct {
	*CraterRequest
	Label  string
	Places []pairView
	Plan   template.HTML
	Parts  []followUpPart
	Others string // species that have no room on the page
	Alarms []pairView
	Seen   []pairView
	Later  int // windows that have no room
}

// What fits on one page beside the place and the plan.
const (
	partsOnPage   = 2
	windowsOnPage = 6
)

// followUpPart is one species on a sheet.
type followUpPart struct {
	Title string
	Rows  []pairView
}

func writeFollowUpPage(w io.Writer, fu *FollowUp) error {
	p := followUpPage{FollowUp: fu, Style: template.CSS(followUpStyle)}
	for i := range fu.Craters {
		p.Sheets = append(p.Sheets, fu.sheet(&fu.Craters[i]))
	}
	return followUpTemplate.Execute(w, p)
}

func (fu *FollowUp) sheet(r *CraterRequest) followUpSheet {
	c := fu.crater(r)
	v := followUpSheet{CraterRequest: r, Label: htmlLabel(c), Places: fu.places(c)}
	shown := r.strongest(partsOnPage)
	slices.Sort(shown)
	var others []string
	for k := range r.Species {
		if slices.Contains(shown, k) {
			v.Parts = append(v.Parts, newFollowUpPart(c, &r.Species[k]))
		} else {
			others = append(others, DisplayText(r.Species[k].Finding.Species))
		}
	}
	v.Plan = planDrawing(r, shown)
	v.Others, v.Alarms = strings.Join(others, ", "), alarmsToSettle(r)
	for i := range r.Windows[:min(windowsOnPage, len(r.Windows))] {
		v.Seen = append(v.Seen, pairView{r.Windows[i].words(), r.Windows[i].Fits})
	}
	v.Later = len(r.Windows) - len(v.Seen)
	return v
}

// strongest are the n species with the least p of excess or direction.
func (r *CraterRequest) strongest(n int) []int {
	order := make([]int, len(r.Species))
	for i := range order {
		order[i] = i
	}
	least := func(k int) float64 {
		f := r.Species[k].Finding
		if math.IsNaN(f.AsymmetryP) {
			return f.ExcessP
		}
		return min(f.ExcessP, f.AsymmetryP)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(least(a), least(b)) })
	return order[:min(n, len(order))]
}

// places gives the centre in every convention in use.
func (fu *FollowUp) places(c geom.Crater) []pairView {
	lon, body := c.Centre.Lon, fu.Survey.Body
	graphic := shortDegrees(geom.Planetographic(body, c.Centre.Lat))
	if body.IsSphere() {
		graphic += " (the body is taken as a sphere)"
	}
	return []pairView{
		{"east longitude, −180 to 180", shortDegrees(eastLongitude(lon))}, {"east longitude, 0 to 360", shortDegrees(eastLongitude360(lon))},
		{"west longitude, 0 to 360", shortDegrees(westLongitude(lon))},
		{"planetocentric latitude", shortDegrees(c.Centre.Lat)}, {"planetographic latitude", graphic},
		{"rim radius", orDash(c.Radius/1000) + " km"}, {"reference system", fu.Survey.crsShort()},
	}
}

// crsShort names the reference system in a few words.
func (s *Survey) crsShort() string {
	if code := s.CRSCode(); code != "" {
		return "IAU_2015:" + code
	}
	return fmt.Sprintf("%s, radius %s m", DisplayText(s.Body.Name), orDash(s.Body.SemiMajor))
}

func newFollowUpPart(c geom.Crater, s *SpeciesRequest) followUpPart {
	f := s.Finding
	km := c.Radius / 1000
	p := followUpPart{Title: fmt.Sprintf("%s (%s)", DisplayText(f.Species), unitText(f.Unit))}
	p.Rows = []pairView{
		{"now", longText(f.Verdict)},
		{"cover", wedgeText(s.Wedges) + ", " + s.WedgeWhy},
		{"from the centre", rangeText(s, km)},
		{"background", fmt.Sprintf("some of the ring from %s to %s radii (%s to %s km), in the same observation", orDash(s.Reference[0]), orDash(s.Reference[1]), orDash(km*s.Reference[0]), orDash(km*s.Reference[1]))},
		{"pixel", fmt.Sprintf("at most %.0f m (now %.0f m)", c.Radius*s.Pixel, metresPerPixel(c, f))},
		{"noise", noiseText(s)},
		{"seen under", conditionsText(s)},
		{"local time", s.Light.LocalTime},
		{"incidence", s.Light.Incidence},
		{"why this light", s.Light.Why},
		{"changes the verdict", strings.Join(s.Change, "; ")},
	}
	return p
}

// conditionsText says under which light and heat the present map was made.
func conditionsText(s *SpeciesRequest) string {
	var parts []string
	if s.Epoch != "" {
		parts = append(parts, "epoch "+DisplayText(s.Epoch))
	}
	for _, c := range s.Finding.Conditions {
		text := DisplayText(c.Name) + " " + orDash(c.Mean)
		if !math.IsNaN(c.SD) {
			text += " ± " + orDash(c.SD)
		}
		parts = append(parts, strings.TrimSpace(text+" "+DisplayText(c.Unit)))
	}
	if parts == nil {
		return "not known: no layer of light or heat"
	}
	return strings.Join(parts, ", ") + " (mean and spread within three radii)"
}

func wedgeText(list []ejecta.Interval) string {
	var parts []string
	for _, w := range list {
		if w.Hi-w.Lo >= 360 {
			return "all azimuths"
		}
		parts = append(parts, fmt.Sprintf("%.0f° to %.0f°", w.Lo, math.Mod(w.Hi, 360)))
	}
	return "azimuths " + strings.Join(parts, " and ")
}

func rangeText(s *SpeciesRequest, km float64) string {
	text := fmt.Sprintf("%s to %s radii (%s to %s km)", orDash(s.RangeLo), orDash(s.RangeHi), orDash(km*s.RangeLo), orDash(km*s.RangeHi))
	if lo, hi := s.RangeHi95[0], s.RangeHi95[1]; !math.IsNaN(lo) && !math.IsNaN(hi) {
		text += fmt.Sprintf("; by the error of the excess the end may lie at %s to %s radii", orDash(lo), orDash(hi))
	}
	return text
}

// noiseText says how quiet the observation has to be.
func noiseText(s *SpeciesRequest) string {
	q, f := &s.Settle, s.Finding
	what := "a rim excess of " + strings.TrimSpace(orDash(q.Assumed)+" "+DisplayText(f.Unit))
	if q.Limit {
		what += " (the upper limit)"
	}
	text := fmt.Sprintf("%s times the present noise puts %s at %s standard errors (now %s)", orDash(q.Alone), what, orDash(q.Level), orDash(q.Score))
	if f.PixelSigma > 0 {
		text += fmt.Sprintf("; that is %s for a pixel of the present size (now %s)", orDash(q.Alone*f.PixelSigma), orDash(f.PixelSigma))
	}
	if !math.IsInf(q.Joined, 0) && !math.IsNaN(q.Joined) {
		text += fmt.Sprintf("; joined with the present map %s times will do", orDash(q.Joined))
	}
	if !math.IsNaN(q.Direction) {
		text += fmt.Sprintf("; the direction needs %s times", orDash(q.Direction))
	}
	return text
}

// alarmsToSettle lists the alarms of all species once.
func alarmsToSettle(r *CraterRequest) (out []pairView) {
	seen := map[string]bool{}
	for _, s := range r.Species {
		for _, a := range s.Alarms {
			if !seen[a.Name] {
				seen[a.Name] = true
				out = append(out, pairView{a.Name, a.Ask})
			}
		}
	}
	return out
}
