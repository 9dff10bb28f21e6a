package reports

import (
	"image/color"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rimcast/ejecta"
)

const (
	controlPanel   = 50 * vg.Millimeter
	controlCaption = 9 * vg.Millimeter
)

// controlsFigure draws the pairs of each species in the order of their
// difference, and beside the first how alike the pairs are.
func controlsFigure(s *Survey) (Figure, bool) {
	var list []ejecta.ControlSpecies
	for _, c := range s.Controls.Species {
		if len(c.Differences) > 0 {
			list = append(list, c)
		}
	}
	title := "Young craters against old ones like them"
	fig := Figure{
		Name: "controls", Title: title, Alt: controlsAlt(title, list), data: controlsData(s, list),
		Width: twoColumns, Height: vg.Length(len(list))*controlPanel + controlCaption + 5*vg.Millimeter,
	}
	fig.draw = func(p pen) {
		p.title(title)
		third := fig.Width / 3
		for i, c := range list {
			top := 5*vg.Millimeter + vg.Length(i)*controlPanel
			lo, hi := fig.Height-top-controlPanel, -top
			pairsPlot(c, speciesLook(i), i == len(list)-1).Draw(draw.Crop(p.Canvas, 2, -third-2, lo, hi))
			if i == 0 {
				drawBalance(pen{draw.Crop(p.Canvas, 2*third+4, -6, lo, hi)}, s.Controls.Balance)
			}
		}
		controlsLegend(p)
	}
	return fig, len(list) > 0
}

func controlsLegend(p pen) {
	p.legend(at(p.Min.X+8, p.Min.Y+7), []legendEntry{
		{"pair, ±1 s.e.", markSample(0, softColour)},
		{"mean and 95 % interval", func(p pen, lo, hi vg.Point) {
			boxSample(fade(accentColour, 0.18))(p, lo, hi)
			lineSample(stroke(accentColour, 1.1))(p, lo, hi)
		}},
		{"no difference", lineSample(stroke(inkColour, 0.7, 2, 1.5))},
		{"balance of all craters", markSample(1, rgb(0x9a9a94))},
		{"of the pairs", markSample(0, inkColour)},
	})
}

// sortedPairs are the differences from the smallest.
func sortedPairs(c ejecta.ControlSpecies) []ejecta.PairDifference {
	list := slices.Clone(c.Differences)
	slices.SortStableFunc(list, func(a, b ejecta.PairDifference) int {
		x, _ := a.Difference()
		y, _ := b.Difference()
		switch {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return list
}

func pairsPlot(c ejecta.ControlSpecies, l look, last bool) *plot.Plot {
	x := ""
	if last {
		x = "pairs, from the smallest difference"
	}
	p := newPlot(x, figureText(c.Species)+", young less old ("+unitText(c.Unit)+")")
	list := sortedPairs(c)
	var b bounds
	b.add(0, c.Paired.Lo, c.Paired.Hi)
	for _, d := range list {
		v, se := d.Difference()
		b.add(v-se, v+se)
	}
	p.X.Min, p.X.Max = 0.4, float64(len(list))+0.6
	p.X.Tick.Marker = plot.TickerFunc(wholeTicks)
	p.Y.Min, p.Y.Max = b.padded(0.06)
	p.Add(plotFunc(gridLines), plotFunc(func(q draw.Canvas, p *plot.Plot) { pairMarks(q, p, list, c.Paired, l) }))
	return p
}

// wholeTicks are round whole numbers.
func wholeTicks(lo, hi float64) (ticks []plot.Tick) {
	for _, v := range roundValues(lo, hi, 6) {
		if v == math.Trunc(v) && v > 0 {
			ticks = append(ticks, plot.Tick{Value: v, Label: tickLabel(v)})
		}
	}
	return ticks
}

func pairMarks(c draw.Canvas, p *plot.Plot, list []ejecta.PairDifference, m ejecta.PairedMean, l look) {
	x, y := p.Transforms(&c)
	q := pen{c}
	if !math.IsNaN(m.Mean) {
		q.fill(fade(accentColour, 0.18), rectangle(at(c.Min.X, y(m.Lo)), at(c.Max.X, y(m.Hi))))
		q.line(stroke(accentColour, 1.1), at(c.Min.X, y(m.Mean)), at(c.Max.X, y(m.Mean)))
	}
	q.line(stroke(inkColour, 0.7, 2, 1.5), at(c.Min.X, y(0)), at(c.Max.X, y(0)))
	size := min(2, max(0.8, 0.3*(c.Max.X-c.Min.X)/vg.Length(len(list))))
	for i, d := range list {
		v, se := d.Difference()
		q.line(stroke(l.colour, 0.7), at(x(float64(i+1)), y(v-se)), at(x(float64(i+1)), y(v+se)))
		q.mark(l.shape, at(x(float64(i+1)), y(v)), size, l.colour)
	}
}

// drawBalance draws a line for each covariate, with what all craters and what
// the pairs differ by.
func drawBalance(p pen, list []ejecta.Balance) {
	used := slices.DeleteFunc(slices.Clone(list), func(b ejecta.Balance) bool { return !b.Used })
	left, right := p.Min.X+8, p.Max.X-4
	top, bottom := p.Max.Y-2, p.Min.Y+24
	var b bounds
	b.add(-0.3, 0.3)
	for _, v := range used {
		b.add(v.Before, v.After)
	}
	lo, hi := b.padded(0.06)
	x := func(v float64) vg.Length { return left + (right-left)*vg.Length((v-lo)/(hi-lo)) }
	p.fill(bandColour, rectangle(at(x(-0.1), bottom), at(x(0.1), top)))
	p.line(stroke(inkColour, 0.7, 2, 1.5), at(x(0), bottom), at(x(0), top))
	p.line(stroke(softColour, 0.5), at(left, bottom), at(right, bottom))
	for _, v := range roundValues(lo, hi, 4) {
		p.line(stroke(softColour, 0.5), at(x(v), bottom), at(x(v), bottom-2.5))
		p.write(tickLabel(v), at(x(v), bottom-4), smallText, inkColour, text.XCenter, text.YTop)
	}
	p.write("young less old (standard deviations)", at((left+right)/2, bottom-13), plainText, inkColour, text.XCenter, text.YTop)
	for i, v := range used {
		row := top - (top-bottom)*(vg.Length(i)+0.7)/vg.Length(len(used))
		balanceRow(p, v, x, row, at(left, right))
	}
}

func balanceRow(p pen, b ejecta.Balance, x func(float64) vg.Length, y vg.Length, span vg.Point) {
	p.line(stroke(gridColour, 0.4), at(span.X, y), at(span.Y, y))
	p.halo(shorten(figureText(b.Name), 32), at((span.X+span.Y)/2, y+6), smallText)
	for _, m := range []struct {
		v     float64
		shape int
		c     color.NRGBA
	}{{b.Before, 1, rgb(0x9a9a94)}, {b.After, 0, inkColour}} {
		if !math.IsNaN(m.v) {
			p.mark(m.shape, at(x(m.v), y), 2.2, m.c)
		}
	}
}

func controlsAlt(title string, list []ejecta.ControlSpecies) string {
	alt := title + "."
	for _, c := range list {
		alt += " " + figureText(c.Sentence) + "."
	}
	return alt
}

func controlsData(s *Survey, list []ejecta.ControlSpecies) [][]string {
	rows := [][]string{{"part", "of", "unit", "young_id", "old_id", "value", "se", "lo95", "hi95", "after_matching"}}
	for _, c := range list {
		of, unit := NeutralText(c.Species), NeutralText(c.Unit)
		for _, d := range sortedPairs(c) {
			v, se := d.Difference()
			rows = append(rows, []string{"pair", of, unit, NeutralText(s.crater(d.Young).ID), NeutralText(s.crater(d.Old).ID), number(v), number(se), "", "", ""})
		}
		rows = append(rows, []string{"mean", of, unit, "", "", number(c.Paired.Mean), number(c.Paired.SE), number(c.Paired.Lo), number(c.Paired.Hi), ""})
	}
	for _, b := range s.Controls.Balance {
		rows = append(rows, []string{"balance", NeutralText(b.Name), "standard deviations", "", "", number(b.Before), "", "", "", number(b.After)})
	}
	return rows
}
