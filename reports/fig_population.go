package reports

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rimcast/ejecta"
)

// populationPanels are the properties of the figure. Size is that of excavation
// depth with another scale.
var populationPanels = []struct{ property, label string }{
	{"excavation_depth", "excavation depth (km)"}, {"latitude", "latitude, no sign (degrees)"}, {"age", "age (as in the catalogue)"},
	{"freshness", "freshness"}, {"class", "class"},
}

// popSeries is one species in the figure.
type popSeries struct {
	species, unit string
	look          look
	groups        []ejecta.PopulationGroup
}

// populationFigure draws share of rich craters and mean excess by group, one
// column for each property.
func populationFigure(s *Survey) (Figure, bool) {
	var series []popSeries
	var shown []int
	for i, sp := range s.Species {
		series = append(series, popSeries{sp.Name, sp.Unit, speciesLook(i), s.PopulationOf(sp.Name)})
	}
	for k, panel := range populationPanels {
		if slices.ContainsFunc(series, func(q popSeries) bool { return len(q.of(panel.property)) > 1 }) {
			shown = append(shown, k)
		}
	}
	title := "Rich craters and mean excess by group of craters, not matched in anything else"
	keys := newLegend(twoColumns-16, populationKeys(series))
	fig := Figure{Name: "population", Title: title, Alt: populationAlt(title, series), data: populationData(s), Width: twoColumns, Height: 120*vg.Millimeter + keys.extra()}
	fig.draw = func(p pen) {
		p.title(title)
		below := 18 + keys.extra()
		column, row := fig.Width/vg.Length(len(shown)), (fig.Height-14-below)/2
		for i, k := range shown {
			left, right := vg.Length(i)*column+2, vg.Length(i+1)*column-fig.Width-4
			sharePlot(k, series).Draw(draw.Crop(p.Canvas, left, right, below+row, -14))
			excessPlot(k, series).Draw(draw.Crop(p.Canvas, left, right, below, -16-row))
		}
		keys.draw(p, at(p.Min.X+8, p.Min.Y+9))
	}
	return fig, len(shown) > 0
}

func populationKeys(series []popSeries) (entries []legendEntry) {
	for _, q := range series {
		entries = append(entries, legendEntry{figureText(q.species), q.sample})
	}
	return append(entries, legendEntry{"95 % interval of the share, standard error of the excess", func(p pen, lo, hi vg.Point) {
		p.line(stroke(softColour, 0.8), at((lo.X+hi.X)/2, lo.Y-2), at((lo.X+hi.X)/2, hi.Y+2))
	}})
}

func (q popSeries) sample(p pen, lo, hi vg.Point) {
	lineSample(stroke(q.look.colour, 1, q.look.dashes...))(p, lo, hi)
	markSample(q.look.shape, q.look.colour)(p, lo, hi)
}

// of are the groups of one property.
func (q popSeries) of(property string) (out []ejecta.PopulationGroup) {
	for _, g := range q.groups {
		if g.Property == property {
			out = append(out, g)
		}
	}
	return out
}

// popPoint is a group in a panel.
type popPoint struct{ x, y, lo, hi float64 }

func sharePlot(k int, series []popSeries) *plot.Plot {
	p := populationPlot(k, "share of rich craters", series, func(g ejecta.PopulationGroup) popPoint {
		return popPoint{y: g.Rich / float64(g.N), lo: g.RichLo, hi: g.RichHi}
	})
	p.Y.Min = 0
	return p
}

func excessPlot(k int, series []popSeries) *plot.Plot {
	label := "mean excess"
	if units := unitsOf(series); len(units) == 1 && units[0] != "" {
		label += " (" + figureText(units[0]) + ")"
	} else {
		label += " (unit of each)"
	}
	return populationPlot(k, label, series, func(g ejecta.PopulationGroup) popPoint {
		return popPoint{y: g.MeanExcess, lo: g.MeanExcess - g.MeanExcessSE, hi: g.MeanExcess + g.MeanExcessSE}
	})
}

func unitsOf(series []popSeries) (units []string) {
	for _, q := range series {
		if !slices.Contains(units, q.unit) {
			units = append(units, q.unit)
		}
	}
	return units
}

// populationPlot draws the groups of every species at their medians, classes
// side by side.
func populationPlot(k int, label string, series []popSeries, value func(ejecta.PopulationGroup) popPoint) *plot.Plot {
	panel := populationPanels[k]
	p := newPlot(panel.label, label)
	lines := make([][]popPoint, len(series))
	var ticks []plot.Tick
	for i, q := range series {
		for n, g := range q.of(panel.property) {
			pt := value(g)
			switch panel.property {
			case "class":
				pt.x = float64(n)
				ticks = append(ticks, plot.Tick{Value: pt.x, Label: figureText(g.Class)})
			case "excavation_depth":
				pt.x = math.Log10(g.Middle / 1000)
			default:
				pt.x = g.Middle
			}
			lines[i] = append(lines[i], pt)
		}
	}
	fitAxes(p, lines)
	switch panel.property {
	case "class":
		p.X.Tick.Marker = plot.ConstantTicks(ticks)
	case "excavation_depth":
		p.X.Tick.Marker = plot.TickerFunc(depthTicks)
	}
	p.Add(plotFunc(gridLines), plotFunc(func(c draw.Canvas, p *plot.Plot) {
		for i, q := range series {
			q.curve(pen{c}, p, c, lines[i], (vg.Length(i)-vg.Length(len(series)-1)/2)*3)
		}
	}))
	return p
}

// fitAxes makes room for the marks.
func fitAxes(p *plot.Plot, lines [][]popPoint) {
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), 0.0, 0.0
	for _, line := range lines {
		for _, pt := range line {
			x0, x1 = min(x0, pt.x), max(x1, pt.x)
			if !math.IsNaN(pt.lo + pt.hi) {
				y0, y1 = min(y0, pt.lo), max(y1, pt.hi)
			}
		}
	}
	p.X.Min, p.X.Max = x0-0.12*(x1-x0)-1e-9, x1+0.12*(x1-x0)+1e-9
	p.Y.Min, p.Y.Max = y0-0.06*(y1-y0), y1+0.06*(y1-y0)+1e-12
}

// depthTicks are round depths on an axis of decimal logarithms.
func depthTicks(lo, hi float64) (ticks []plot.Tick) {
	for decade := math.Floor(lo); decade <= hi; decade++ {
		for _, m := range []float64{1, 2, 5} {
			if v := decade + math.Log10(m); v >= lo && v <= hi {
				ticks = append(ticks, plot.Tick{Value: v, Label: strconv.FormatFloat(math.Pow(10, decade)*m, 'g', 3, 64)})
			}
		}
	}
	return ticks
}

func (q popSeries) curve(d pen, p *plot.Plot, c draw.Canvas, line []popPoint, shift vg.Length) {
	u, v := p.Transforms(&c)
	var pts []vg.Point
	for _, pt := range line {
		x := u(pt.x) + shift
		if !math.IsNaN(pt.lo + pt.hi) {
			d.line(stroke(fade(q.look.colour, 0.7), 0.7), at(x, v(pt.lo)), at(x, v(pt.hi)))
		}
		pts = append(pts, at(x, v(pt.y)))
	}
	if len(pts) > 1 {
		d.line(stroke(q.look.colour, 0.9, q.look.dashes...), pts...)
	}
	for _, pt := range pts {
		d.mark(q.look.shape, pt, 1.9, q.look.colour)
	}
	if len(pts) == 0 {
		d.write("not known", at((c.Min.X+c.Max.X)/2, (c.Min.Y+c.Max.Y)/2), smallText, softColour, text.XCenter, text.YCenter)
	}
}

func populationAlt(title string, series []popSeries) string {
	alt := title + "."
	for _, q := range series {
		if list := q.of("excavation_depth"); len(list) > 1 {
			a, b := list[0], list[len(list)-1]
			alt += fmt.Sprintf(" %s: %.0f %% rich at %s km depth, %.0f %% at %s km.", figureText(q.species), 100*a.Rich/float64(a.N), number(a.Middle/1000), 100*b.Rich/float64(b.N), number(b.Middle/1000))
		}
	}
	return alt
}

// populationData is the table behind the figure.
func populationData(s *Survey) [][]string {
	rows := [][]string{populationTable.header()}
	for r := range s.populationRows() {
		var row []string
		for _, c := range populationTable.columns {
			row = append(row, c.cell(r))
		}
		rows = append(rows, row)
	}
	return rows
}
