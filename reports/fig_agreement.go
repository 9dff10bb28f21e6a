package reports

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rimcast/ejecta"
)

const (
	agreementHeight = 92 * vg.Millimeter
	agreementNames  = 5   // craters named at either end
	departLimit     = 0.1 // q below which a crater is marked
)

func joinWords(list []string) string { return strings.Join(list, "; ") }

// agreementFigure draws one species in two results: B against A, and the
// difference crater by crater.
func agreementFigure(c *Comparison, species int) (Figure, bool) {
	g := c.Agreements[species]
	var rows []ComparedCrater
	for _, r := range c.Rows {
		if r.Species == g.Species && !math.IsNaN(r.Departure.Sigma) {
			rows = append(rows, r)
		}
	}
	slices.SortStableFunc(rows, func(a, b ComparedCrater) int {
		switch {
		case a.Departure.Sigma < b.Departure.Sigma:
			return -1
		case a.Departure.Sigma > b.Departure.Sigma:
			return 1
		}
		return 0
	})
	title := fmt.Sprintf("%s in A, %s, and B, %s", figureText(g.Species), figureText(c.NameA), figureText(c.NameB))
	fig := Figure{
		Name: fmt.Sprintf("agreement-%d-%s", species+1, SafeName(g.Species)), Title: title, Alt: title + ". " + figureText(g.Sentence()) + ".",
		Width: twoColumns, Height: agreementHeight, data: agreementData(rows),
	}
	l := speciesLook(species)
	fig.draw = func(p pen) {
		p.title(title)
		half := fig.Width / 2
		scatterPlot(g, rows, l).Draw(draw.Crop(p.Canvas, 2, -half-4, 15, -14))
		differencePlot(g, rows, l).Draw(draw.Crop(p.Canvas, half+4, -6, 15, -14))
		agreementLegend(p, l)
	}
	return fig, len(rows) > 0
}

func agreementLegend(p pen, l look) {
	p.legend(at(p.Min.X+8, p.Min.Y+7), []legendEntry{
		{"crater, ±1 s.e.", markSample(l.shape, l.colour)},
		{fmt.Sprintf("departs, q < %g", departLimit), func(p pen, lo, hi vg.Point) {
			p.closed(stroke(inkColour, 0.8), disc(at((lo.X+hi.X)/2, (lo.Y+hi.Y)/2), 3.6))
		}},
		{"A and B alike", lineSample(stroke(inkColour, 0.7, 2, 1.5))},
		{"fitted line, bias ±1 s.e.", func(p pen, lo, hi vg.Point) {
			boxSample(fade(accentColour, 0.2))(p, lo, hi)
			lineSample(stroke(accentColour, 1.1))(p, lo, hi)
		}},
	})
}

func scatterPlot(g ejecta.Agreement, rows []ComparedCrater, l look) *plot.Plot {
	p := newPlot("excess in A ("+unitText(g.Unit)+")", "excess in B ("+unitText(g.Unit)+")")
	var b bounds
	for _, r := range rows {
		b.add(r.ExcessA-r.ExcessSEA, r.ExcessA+r.ExcessSEA, r.ExcessB-r.ExcessSEB, r.ExcessB+r.ExcessSEB)
	}
	p.X.Min, p.X.Max = b.padded(0.05)
	p.Y.Min, p.Y.Max = p.X.Min, p.X.Max
	p.Add(plotFunc(gridLines), plotFunc(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		q := pen{c}
		q.line(stroke(inkColour, 0.7, 2, 1.5), at(x(p.X.Min), y(p.X.Min)), at(x(p.X.Max), y(p.X.Max)))
		fittedLine(q, p, g.Line, x, y)
		for _, r := range rows {
			pt := at(x(r.ExcessA), y(r.ExcessB))
			q.line(stroke(fade(l.colour, 0.6), 0.5), at(x(r.ExcessA-r.ExcessSEA), pt.Y), at(x(r.ExcessA+r.ExcessSEA), pt.Y))
			q.line(stroke(fade(l.colour, 0.6), 0.5), at(pt.X, y(r.ExcessB-r.ExcessSEB)), at(pt.X, y(r.ExcessB+r.ExcessSEB)))
			departMark(q, r, pt, l)
		}
	}))
	return p
}

// departMark is the mark of a crater, with a circle where it departs.
func departMark(q pen, r ComparedCrater, pt vg.Point, l look) {
	q.mark(l.shape, pt, 1.7, l.colour)
	if r.Departure.Q < departLimit {
		q.closed(stroke(inkColour, 0.8), disc(pt, 3.6))
	}
}

// fittedLine draws the line with errors in both, within the frame.
func fittedLine(q pen, p *plot.Plot, line ejecta.Line, x, y func(float64) vg.Length) {
	if !line.OK {
		return
	}
	var pts []vg.Point
	const steps = 200
	for i := range steps + 1 {
		a := p.X.Min + (p.X.Max-p.X.Min)*float64(i)/steps
		if b := line.Intercept + line.Slope*a; b >= p.Y.Min && b <= p.Y.Max {
			pts = append(pts, at(x(a), y(b)))
		}
	}
	if len(pts) > 1 {
		q.line(stroke(accentColour, 1.1), pts...)
	}
}

func differencePlot(g ejecta.Agreement, rows []ComparedCrater, l look) *plot.Plot {
	p := newPlot("craters, from the lowest departure", "B less A ("+unitText(g.Unit)+")")
	var b bounds
	b.add(0)
	for _, r := range rows {
		b.add(r.Difference-r.DifferenceSE, r.Difference+r.DifferenceSE)
	}
	p.X.Min, p.X.Max = 0.4, float64(len(rows))+0.6
	p.X.Tick.Marker = plot.TickerFunc(wholeTicks)
	p.Y.Min, p.Y.Max = b.padded(0.1)
	p.Add(plotFunc(gridLines), plotFunc(func(c draw.Canvas, p *plot.Plot) { differenceMarks(c, p, g, rows, l) }))
	return p
}

func differenceMarks(c draw.Canvas, p *plot.Plot, g ejecta.Agreement, rows []ComparedCrater, l look) {
	x, y := p.Transforms(&c)
	q := pen{c}
	if !math.IsNaN(g.Bias) {
		q.fill(fade(accentColour, 0.2), rectangle(at(c.Min.X, y(g.Bias-g.BiasSE)), at(c.Max.X, y(g.Bias+g.BiasSE))))
		q.line(stroke(accentColour, 1.1), at(c.Min.X, y(g.Bias)), at(c.Max.X, y(g.Bias)))
	}
	q.line(stroke(inkColour, 0.7, 2, 1.5), at(c.Min.X, y(0)), at(c.Max.X, y(0)))
	for i, r := range rows {
		pt := at(x(float64(i+1)), y(r.Difference))
		q.line(stroke(fade(l.colour, 0.6), 0.5), at(pt.X, y(r.Difference-r.DifferenceSE)), at(pt.X, y(r.Difference+r.DifferenceSE)))
		departMark(q, r, pt, l)
		if r.Departure.Q < departLimit && (i < agreementNames || i >= len(rows)-agreementNames) {
			nameCrater(q, r, pt, 2*i >= len(rows))
		}
	}
}

// nameCrater writes the name of a crater to the free side of its mark.
func nameCrater(q pen, r ComparedCrater, pt vg.Point, right bool) {
	name := shorten(label(r.ID, r.Name), 22)
	if right {
		q.write(name, at(pt.X-5, pt.Y), smallText, inkColour, text.XRight, text.YCenter)
		return
	}
	q.write(name, at(pt.X+5, pt.Y), smallText, inkColour, text.XLeft, text.YCenter)
}

func agreementData(rows []ComparedCrater) [][]string {
	out := [][]string{{"order", "crater_id", "species", "unit", "excess_a", "excess_a_se", "excess_b", "excess_b_se", "difference", "difference_se", "departure_sigma", "departure_q"}}
	for i, r := range rows {
		out = append(out, []string{strconv.Itoa(i + 1), NeutralText(r.ID), NeutralText(r.Species), NeutralText(r.Unit), number(r.ExcessA), number(r.ExcessSEA), number(r.ExcessB), number(r.ExcessSEB),
			number(r.Difference), number(r.DifferenceSE), number(r.Departure.Sigma), number(r.Departure.Q)})
	}
	return out
}
