package reports

import (
	"cmp"
	"io"
	"math"
	"path/filepath"
	"strings"

	"rimcast/ejecta"
	"rimcast/geom"
)

// FollowUp is a list of requests for observations: what the writers of the
// follow-up sheets read.
type FollowUp struct {
	Survey   *Survey
	Craters  []CraterRequest // rank order
	Level    float64         // score that settles a question, standard errors
	Alpha    float64         // level of the survey's claims
	Filter   string          // what was filtered by, in words; empty when nothing was
	LeftOut  int             // better ranked craters that the filter left out
	Options  Options
	Citation string // how to name the source: result directory, version, seed
}

// CraterRequest is one sheet.
type CraterRequest struct {
	Target  ejecta.Target
	Species []SpeciesRequest
	Windows []Window // when the crater can be seen, as the user says
}

// SpeciesRequest is what is asked for one species at a crater.
type SpeciesRequest struct {
	Finding *ejecta.Finding
	Epoch   string // of the map, as the survey names it
	ejecta.Request
}

// Window is an occasion on which a crater can be seen, as the user gave it. NaN
// stands for a number that was not given.
type Window struct {
	From, To                   string
	MinIncidence, MaxIncidence float64
	LocalTime                  float64 // hours
	Fits                       string  // "yes", "no", or "not known"
}

// Answer words of Window.Fits.
const (
	FitsYes     = "yes"
	FitsNo      = "no"
	FitsUnknown = "not known"
)

// NewCraterRequest works out the sheet of a target; ok is false when no species
// was measured there. epochs names the epoch of each species.
func NewCraterRequest(s *Survey, t ejecta.Target, level, alpha float64, epochs map[string]string) (r CraterRequest, ok bool) {
	r.Target = t
	list := s.wholeOf(t.CraterIndex)
	for i := range list {
		f := &list[i]
		if f.Status.Measured() && !math.IsNaN(f.Detectable50) {
			r.Species = append(r.Species, SpeciesRequest{f, cmp.Or(f.Epoch, epochs[f.Species]), ejecta.NewRequest(f, level, alpha, timesOf(list, f.Quantity)...)})
		}
	}
	return r, len(r.Species) > 0
}

// timesOf are the local times of the maps of a quantity, where they are known.
func timesOf(list []ejecta.Finding, quantity string) (hours []float64) {
	for i := range list {
		if c, ok := list[i].Condition("local_time"); ok && list[i].Quantity == quantity {
			hours = append(hours, c.Mean)
		}
	}
	return hours
}

// Judge says of every window whether it has the light that is asked for, for one
// species at least. A species for which nothing is known asks for nothing.
func (r *CraterRequest) Judge() {
	for i := range r.Windows {
		r.Windows[i].Fits = r.fits(&r.Windows[i])
	}
}

// fits reports whether a window serves at least one species.
func (r *CraterRequest) fits(w *Window) string {
	best := FitsNo
	for _, s := range r.Species {
		switch hour, angle := w.hourFits(s.Light.Hours), w.angleFits(s.Light.Angles); {
		case hour == FitsNo || angle == FitsNo:
		case hour == FitsYes || angle == FitsYes:
			return FitsYes
		default:
			best = FitsUnknown
		}
	}
	return best
}

func (w *Window) hourFits(wanted []ejecta.Interval) string {
	if math.IsNaN(w.LocalTime) || wanted == nil {
		return FitsUnknown
	}
	for _, iv := range wanted {
		if w.LocalTime >= iv.Lo && w.LocalTime <= iv.Hi {
			return FitsYes
		}
	}
	return FitsNo
}

// angleFits asks whether the incidences offered and wanted overlap.
func (w *Window) angleFits(wanted *ejecta.Interval) string {
	lo, hi := w.MinIncidence, w.MaxIncidence
	switch {
	case wanted == nil || math.IsNaN(lo) && math.IsNaN(hi):
		return FitsUnknown
	case !math.IsNaN(hi) && hi < wanted.Lo, !math.IsNaN(lo) && lo > wanted.Hi:
		return FitsNo
	}
	return FitsYes
}

// FollowUpMark is the file by which a directory of follow-up sheets is known.
const FollowUpMark = "followup.csv"

// WriteFollowUp writes the sheets into dir: a table, outlines, a page to print,
// and the description of the table.
func WriteFollowUp(dir string, fu *FollowUp) error {
	for _, f := range []file{
		{FollowUpMark, func(w io.Writer) error { return followUpTable.write(w, fu.rows()) }},
		{"followup.geojson", func(w io.Writer) error { return writeFollowUpOutlines(w, fu) }},
		{"followup.html", func(w io.Writer) error { return writeFollowUpPage(w, fu) }},
		{"schema.json", func(w io.Writer) error {
			return writeJSON(w, schemaFile{schemaText, []schemaResource{resource(followUpTable)}})
		}},
	} {
		if err := writeFile(filepath.Join(dir, f.name), f.write); err != nil {
			return err
		}
	}
	return nil
}

// crater is the crater of a sheet.
func (fu *FollowUp) crater(r *CraterRequest) geom.Crater {
	return fu.Survey.crater(r.Target.CraterIndex)
}

// metresPerPixel is the present pixel.
func metresPerPixel(c geom.Crater, f *ejecta.Finding) float64 {
	return zeroAsMissing(c.Radius / f.PixelsPer)
}

// windowsText lists windows in one cell.
func windowsText(list []Window) string {
	var parts []string
	for _, w := range list {
		parts = append(parts, strings.TrimSpace(w.words()+" ("+w.Fits+")"))
	}
	return strings.Join(parts, "; ")
}

// words writes a window for people.
func (w *Window) words() string {
	var parts []string
	if w.From != "" || w.To != "" {
		parts = append(parts, w.From+" to "+w.To)
	}
	if !math.IsNaN(w.LocalTime) {
		parts = append(parts, "local time "+number(w.LocalTime)+" h")
	}
	if lo, hi := number(w.MinIncidence), number(w.MaxIncidence); lo != "" || hi != "" {
		parts = append(parts, "incidence "+lo+" to "+hi+" deg")
	}
	if parts == nil {
		return "visible"
	}
	return strings.Join(parts, ", ")
}
