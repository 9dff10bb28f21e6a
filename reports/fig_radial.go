package reports

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rimcast/ejecta"
)

const radialPanel, radialGap = 46 * vg.Millimeter, 3 * vg.Millimeter

// radialHead is the share of a panel that its words have above the marks.
const radialHead = 0.06

// radialFigure draws the radial profiles of a crater, one panel per species.
func radialFigure(s *Survey, crater int) (Figure, bool) {
	var list []ejecta.Finding
	var index []int
	for i, f := range s.wholeOf(crater) {
		if len(f.Radial) > 0 {
			list, index = append(list, f), append(index, i)
		}
	}
	c := s.crater(crater)
	title := "Radial profile of " + label(c.ID, c.Name)
	columns, width := radialColumns(len(list))
	fig := Figure{
		Name: figureName(crater, c.ID, "radial"), Title: title, Alt: radialAlt(title, list),
		Width: width, Height: vg.Length((len(list)+columns-1)/columns)*(radialPanel+radialGap) + 10*vg.Millimeter,
		data: radialData(c.ID, list),
	}
	fig.draw = func(p pen) {
		p.title(title)
		radialLegend(p)
		for i, f := range list {
			top := 5*vg.Millimeter + vg.Length(i/columns)*(radialPanel+radialGap)
			left := vg.Length(i%columns) * (width - oneColumn)
			panel := draw.Crop(p.Canvas, left+2, left+oneColumn-width-4, fig.Height-top-radialPanel, -top)
			radialPlot(f, list, speciesLook(index[i]), i+columns >= len(list)).Draw(panel)
		}
	}
	return fig, len(list) > 0
}

// radialColumns puts more than three panels side by side: one column of them
// would be longer than a page.
func radialColumns(n int) (int, vg.Length) {
	if n > 3 {
		return 2, twoColumns
	}
	return 1, oneColumn
}

func radialLegend(p pen) {
	p.legend(at(p.Min.X+8, p.Min.Y+7), []legendEntry{
		{"ring mean, ±1 s.e.", func(p pen, lo, hi vg.Point) {
			boxSample(fade(softColour, 0.25))(p, lo, hi)
			markSample(0, softColour)(p, lo, hi)
		}},
		{"background, ±1 s.e.", lineSample(stroke(inkColour, 0.7, 2, 1.5))},
		{"fitted blanket", lineSample(stroke(accentColour, 1.2))},
	})
}

func radialPlot(f ejecta.Finding, all []ejecta.Finding, l look, last bool) *plot.Plot {
	x := ""
	if last {
		x = "range from the centre (crater radii)"
	}
	p := newPlot(x, f.Species+" ("+unitText(f.Unit)+")")
	p.X.Min, p.X.Max = 0, f.Radial[len(f.Radial)-1].RhoHi
	p.Y.Min, p.Y.Max = radialLimits(all, f)
	p.Add(plotFunc(radialGround), plotFunc(gridLines), plotFunc(func(c draw.Canvas, p *plot.Plot) { radialMarks(c, p, f, l) }))
	return p
}

// radialGround shades the range of the excess and marks the rim.
func radialGround(c draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&c)
	d := pen{c}
	hi := min(x(ejectaHi), c.Max.X)
	d.fill(bandColour, rectangle(at(x(ejectaLo), c.Min.Y), at(hi, c.Max.Y)))
	d.line(stroke(softColour, 0.6, 1, 1.5), at(x(1), c.Min.Y), at(x(1), c.Max.Y))
	d.write("rim", at(x(1)-2, c.Max.Y-2), smallText, softColour, text.XRight, text.YTop)
	d.write("excess", at((x(ejectaLo)+hi)/2, c.Max.Y-2), smallText, softColour, text.XCenter, text.YTop)
}

func radialMarks(c draw.Canvas, p *plot.Plot, f ejecta.Finding, l look) {
	x, y := p.Transforms(&c)
	d := pen{c}
	if !math.IsNaN(f.Background) {
		if f.BackgroundSE > 0 {
			d.fill(fade(inkColour, 0.12), rectangle(at(c.Min.X, y(f.Background-f.BackgroundSE)), at(c.Max.X, y(f.Background+f.BackgroundSE))))
		}
		d.line(stroke(inkColour, 0.7, 2, 1.5), at(c.Min.X, y(f.Background)), at(c.Max.X, y(f.Background)))
	}
	for _, run := range ringRuns(f.Radial, func(r ejecta.RingValue) float64 { return r.Mean + r.SE }) {
		var up, down []vg.Point
		for _, r := range run {
			up = append(up, at(x(ringMid(r)), y(r.Mean+r.SE)))
			down = append([]vg.Point{at(x(ringMid(r)), y(r.Mean-r.SE))}, down...)
		}
		d.fill(fade(l.colour, 0.25), polygon(append(up, down...)))
	}
	for _, run := range ringRuns(f.Radial, func(r ejecta.RingValue) float64 { return r.Model }) {
		var pts []vg.Point
		for _, r := range run {
			pts = append(pts, at(x(ringMid(r)), y(r.Model)))
		}
		d.line(stroke(accentColour, 1.2), pts...)
	}
	for _, r := range f.Radial {
		if !math.IsNaN(r.Mean) {
			d.mark(l.shape, at(x(ringMid(r)), y(r.Mean)), 2, l.colour)
		}
	}
}

// ringMid is where a ring is drawn: the range that halves its area.
func ringMid(r ejecta.RingValue) float64 {
	return math.Sqrt((r.RhoLo*r.RhoLo + r.RhoHi*r.RhoHi) / 2)
}

// ringRuns splits rings where a value is missing.
func ringRuns(rings []ejecta.RingValue, get func(ejecta.RingValue) float64) [][]ejecta.RingValue {
	var runs [][]ejecta.RingValue
	open := false
	for _, r := range rings {
		v := get(r)
		if math.IsNaN(v) || math.IsInf(v, 0) {
			open = false
			continue
		}
		if !open {
			runs = append(runs, nil)
			open = true
		}
		runs[len(runs)-1] = append(runs[len(runs)-1], r)
	}
	return runs
}

// radialLimits are the limits of a panel: as far below and above its own
// background as the panels of its unit need, so that one step of the axis is
// one amount in all of them.
func radialLimits(all []ejecta.Finding, f ejecta.Finding) (lo, hi float64) {
	var b bounds
	for _, o := range all {
		if o.Unit == f.Unit {
			addRings(&b, o)
		}
	}
	lo, hi = b.padded(0.08)
	hi += (hi - lo) * radialHead
	return lo + radialLevel(f), hi + radialLevel(f)
}

// addRings gathers what a panel shows, less its level.
func addRings(b *bounds, f ejecta.Finding) {
	level := radialLevel(f)
	b.add(-f.BackgroundSE, f.BackgroundSE)
	for _, r := range f.Radial {
		b.add(r.Mean-r.SE-level, r.Mean+r.SE-level, r.Model-level)
	}
}

// radialLevel is the background, the outermost mean where there is none, or zero.
func radialLevel(f ejecta.Finding) float64 {
	level := f.Background
	for i := len(f.Radial) - 1; i >= 0 && math.IsNaN(level); i-- {
		level = f.Radial[i].Mean
	}
	if math.IsNaN(level) {
		return 0
	}
	return level
}

func radialAlt(title string, list []ejecta.Finding) string {
	alt := title + "."
	for _, f := range list {
		alt += fmt.Sprintf(" %s: background %s %s, rim excess %s, decay exponent %s, extent %s crater radii.", f.Species, orUnknown(f.Background), f.Unit,
			orUnknown(f.RimExcess), orUnknown(f.Decay), orUnknown(f.Extent))
	}
	return alt
}

func radialData(id string, list []ejecta.Finding) [][]string {
	rows := [][]string{{"crater_id", "species", "unit", "rho_lo", "rho_hi", "rho_drawn", "mean", "se", "model", "background", "background_se"}}
	for _, f := range list {
		for _, r := range f.Radial {
			rows = append(rows, []string{NeutralText(id), NeutralText(f.Species), NeutralText(f.Unit), number(r.RhoLo), number(r.RhoHi), number(ringMid(r)),
				number(r.Mean), number(r.SE), number(r.Model), number(f.Background), number(f.BackgroundSE)})
		}
	}
	return rows
}

// bounds gathers the finite values that a figure must show.
type bounds struct {
	lo, hi float64
	some   bool
}

func (b *bounds) add(values ...float64) {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		if !b.some {
			b.lo, b.hi, b.some = v, v, true
		}
		b.lo, b.hi = min(b.lo, v), max(b.hi, v)
	}
}

// padded returns the bounds widened by a share of their span, never empty.
func (b bounds) padded(share float64) (lo, hi float64) {
	if !b.some {
		return 0, 1
	}
	pad := share * (b.hi - b.lo)
	if pad == 0 {
		pad = max(math.Abs(b.lo)*0.05, 1e-9)
	}
	return b.lo - pad, b.hi + pad
}

// label is how a crater is called in figures.
func label(id, name string) string {
	id, name = figureText(id), figureText(name)
	if name == "" || name == id {
		return id
	}
	return name + " (" + id + ")"
}

// figureText is DisplayText with a question mark for every character that
// the font of the figures has no glyph for.
func figureText(s string) string {
	return strings.Map(func(r rune) rune {
		if r < 0x250 || unicode.In(r, unicode.Greek, unicode.Cyrillic) || strings.ContainsRune("–—‘’“”…•", r) {
			return r
		}
		return '?'
	}, DisplayText(s))
}

// figureName is the file name of a crater's figure: the index makes it unique.
func figureName(crater int, id, what string) string {
	return fmt.Sprintf("c%06d-%s-%s", crater, SafeName(id), what)
}

// unitText names a unit, or says that there is none.
func unitText(unit string) string {
	if unit == "" {
		return "no unit given"
	}
	return DisplayText(unit)
}

func orUnknown(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "not measured"
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}
