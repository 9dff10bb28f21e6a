package reports

import (
	"bytes"
	"crypto/sha256"
	_ "embed" // the page, its style and its script
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"math"
	"strconv"
	"strings"
)

var (
	//go:embed report.html
	pageText string
	//go:embed report.css
	pageStyle string
	//go:embed report.js
	pageScript string
)

var pageTemplate = template.Must(template.New("report").Funcs(template.FuncMap{
	"show":    DisplayText,
	"number":  orDash,
	"chance":  chance,
	"said":    said,
	"say":     sentence,
	"firm":    firmNumbers,
	"explain": shortWord,
	"long":    longWord,
	"percent": func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) },
}).Parse(pageText))

// page is what the template shows.
type page struct {
	*Survey
	Policy   template.HTMLAttr // content security policy
	Style    template.CSS
	Script   template.JS
	Data     template.JS
	Overview *mapView
	Nulls    []nullView
	Calib    *figureView
	Day      *figureView
	Beside   *figureView
	Groups   *figureView // of the population
	Ranks    *figureView
	Best     []bestView
	Sheets   []sheetView
	Statuses []countView
	Words    []wordView
	Asked    []questionView
	Settings []pairView
	CRS      []pairView
	Refused  []refusedView
	Cut      int // craters left out of the embedded table
}

// WriteReport writes the report: one page that needs nothing else, sends no
// request, and runs one script that its content security policy names by
// hash.
func WriteReport(w io.Writer, s *Survey, opt Options) error {
	p, err := newPage(s, opt)
	if err != nil {
		return err
	}
	return pageTemplate.Execute(w, p)
}

func newPage(s *Survey, opt Options) (*page, error) {
	sheets := opt.sheetTop(len(s.Targets))
	data, err := json.Marshal(newTableData(s, sheets)) // escapes < > & and line separators
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256([]byte(pageScript))
	p := &page{
		Survey: s, Style: template.CSS(pageStyle), Script: template.JS(pageScript), Data: template.JS(data),
		Policy: template.HTMLAttr(`content="default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'sha256-` + base64.StdEncoding.EncodeToString(sum[:]) + `'; base-uri 'none'; form-action 'none'"`),
		Best:   bestViews(s, min(10, len(s.Targets)), sheets),
		Asked:  questionViews(s), Statuses: statusViews(s), Words: wordViews(s), Settings: settingViews(s.Manifest.Settings), CRS: crsViews(s), Refused: refusedViews(s),
		Nulls: nullViews(s),
	}
	for i, kept := range s.keptCraters() {
		if i >= 0 && !kept {
			p.Cut++
		}
	}
	return p, p.draw(s, sheets)
}

// draw renders the figures of the page.
func (p *page) draw(s *Survey, sheets int) error {
	var err error
	if p.Overview, err = newMapView(s, sheets); err != nil {
		return err
	}
	if p.Calib, err = figureOf(nullsFigure(s)); err != nil {
		return err
	}
	if p.Day, err = figureOf(cycleFigure(s)); err != nil {
		return err
	}
	if p.Groups, err = figureOf(populationFigure(s)); err != nil {
		return err
	}
	if p.Beside, err = figureOf(controlsFigure(s)); err != nil {
		return err
	}
	if p.Ranks, err = figureOf(ranksFigure(s)); err != nil {
		return err
	}
	for _, t := range s.topTargets(sheets) {
		view, err := newSheet(s, t)
		if err != nil {
			return err
		}
		p.Sheets = append(p.Sheets, view)
	}
	return nil
}

// figureView is a drawing inside the page.
type figureView struct {
	Name, Title string
	SVG         template.HTML
	Wide        bool
}

// figureOf renders a figure; nil when there is nothing to show. The drawing
// is trusted markup: every text in it was escaped when it was drawn.
func figureOf(f Figure, some bool) (*figureView, error) {
	if !some {
		return nil, nil
	}
	var b bytes.Buffer
	if err := f.writeSVG(&b); err != nil {
		return nil, err
	}
	_, svg, _ := strings.Cut(b.String(), "?>\n")
	return &figureView{f.Name, f.Title, template.HTML(svg), f.Width > oneColumn}, nil
}

// mapView is the overview map with a link on every crater that has a sheet.
type mapView struct {
	figureView
	Width, Height            float64 // points
	West, East, South, North float64
	X0, Y0, X1, Y1           float64 // frame of the map in the drawing, from the top left
	Links                    []linkView
}

type linkView struct {
	Crater int
	X, Y   float64
	Label  string
}

func newMapView(s *Survey, sheets int) (*mapView, error) {
	fig, some := overviewFigure(s)
	view, err := figureOf(fig, some)
	if err != nil || view == nil {
		return nil, err
	}
	m := newOverview(s)
	h := float64(fig.Height)
	v := &mapView{figureView: *view, Width: float64(fig.Width), Height: h, West: m.west, East: m.east, South: m.south, North: m.north,
		X0: float64(overviewLeft), X1: float64(overviewLeft + m.width()), Y0: h - float64(overviewBelow+m.height()), Y1: h - float64(overviewBelow)}
	for _, t := range s.topTargets(sheets) {
		c := s.crater(t.CraterIndex)
		pt := m.place(t.CraterIndex)
		v.Links = append(v.Links, linkView{t.CraterIndex, float64(pt.X), h - float64(pt.Y), fmt.Sprintf("%d. %s", t.Rank, label(c.ID, c.Name))})
	}
	return v, nil
}

// orDash is a number with four digits for people, or a dash.
func orDash(v float64) string {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return "–"
	case v == 0:
		return "0"
	case math.Abs(v) >= 1e4 && math.Abs(v) < 1e7:
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}

func shortWord(term any) string {
	short, _, _ := Explain(fmt.Sprint(term))
	return short
}

func longWord(term any) string {
	_, long, _ := Explain(fmt.Sprint(term))
	return long
}
