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
)

const pBins = 20

// nullsFigure draws the p-values of the craters and, beside them, how often
// the test fired at places without craters against how often it should.
func nullsFigure(s *Survey) (Figure, bool) {
	series := nullSeries(s)
	some := slices.ContainsFunc(series, func(n pSeries) bool { return len(n.craters)+len(n.nulls) > 0 })
	keys := newLegend(twoColumns-40, nullKeys(series))
	fig := Figure{
		Name: "calibration", Title: "p-values of the catalogue, and of places without craters", Alt: nullsAlt(series),
		Width: twoColumns, Height: 76*vg.Millimeter + keys.extra(), data: nullsData(series),
	}
	fig.draw = func(p pen) {
		half, below := fig.Width/2, 20+keys.extra()
		histogramPlot(histogramSeries(series)).Draw(draw.Crop(p.Canvas, 2, -half-6, below, -10))
		calibrationPlot(series).Draw(draw.Crop(p.Canvas, half+6, -6, below, -10))
		keys.draw(p, at(p.Min.X+30, p.Min.Y+8))
	}
	return fig, some
}

// nullKeys names the species with what was counted.
func nullKeys(series []pSeries) (entries []legendEntry) {
	for _, n := range series {
		words := fmt.Sprintf("%s (%d craters, %d null positions)", figureText(n.name), len(n.craters), len(n.nulls))
		entries = append(entries, legendEntry{words, lineSample(stroke(n.look.colour, 1.1, n.look.dashes...))})
	}
	return entries
}

// pSeries is the directional p-values of one species.
type pSeries struct {
	name    string
	look    look
	craters []float64
	nulls   []float64 // sorted
}

func nullSeries(s *Survey) []pSeries {
	out := make([]pSeries, len(s.Species))
	for i, sp := range s.Species {
		out[i] = pSeries{name: sp.Name, look: speciesLook(i)}
		for _, f := range s.Findings {
			_, p := f.PlainTests()
			if f.Species == sp.Name {
				out[i].craters = appendKnown(out[i].craters, p)
			}
		}
		s.bare.SieveTests(i, func(_, plain [2]float64) { out[i].craters = appendKnown(out[i].craters, plain[1]) })
		for _, n := range s.Nulls {
			if n.Species == sp.Name {
				out[i].nulls = append(out[i].nulls, n.PValues...)
			}
		}
		slices.Sort(out[i].nulls)
	}
	return out
}

// appendKnown appends a number that is not NaN.
func appendKnown(list []float64, v float64) []float64 {
	if math.IsNaN(v) {
		return list
	}
	return append(list, v)
}

// histogram counts p-values in equal bins and returns shares per bin relative
// to what no signal at all would give.
func (n pSeries) histogram() []float64 {
	share := make([]float64, pBins)
	for _, p := range n.craters {
		share[min(max(int(p*pBins), 0), pBins-1)] += pBins / float64(len(n.craters))
	}
	return share
}

// histogramSeries are the species, or when their outlines would hide each other
// all of them together.
func histogramSeries(series []pSeries) []pSeries {
	if len(series) <= mostOutlines {
		return series
	}
	all := pSeries{name: "all species together", look: look{colour: softColour}}
	for _, n := range series {
		all.craters = append(all.craters, n.craters...)
	}
	return []pSeries{all}
}

// mostOutlines is how many histograms over each other can be told apart.
const mostOutlines = 3

func histogramPlot(series []pSeries) *plot.Plot {
	p := newPlot("p of no direction, at the craters", "share of craters, relative to chance")
	p.X.Min, p.X.Max, p.Y.Min = 0, 1, 0
	p.Y.Max = 2
	for _, n := range series {
		p.Y.Max = max(p.Y.Max, 1.1*slices.Max(append(n.histogram(), 0)))
	}
	p.Add(plotFunc(gridLines), plotFunc(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		d := pen{c}
		for i, n := range series {
			n.bars(d, x, y, i == 0 && len(series) < 3)
		}
		d.line(stroke(inkColour, 0.8, 1, 1.5), at(x(0), y(1)), at(x(1), y(1)))
		d.halo("chance alone", at(x(0.55), y(1)+6), smallText)
		if len(series) == 1 {
			d.write(figureText(series[0].name), at((c.Min.X+c.Max.X)/2, c.Max.Y-3), smallText, softColour, text.XCenter, text.YTop)
		}
	}))
	return p
}

// bars draws a histogram as an outline, which may be filled.
func (n pSeries) bars(d pen, x, y func(float64) vg.Length, filled bool) {
	if len(n.craters) == 0 {
		return
	}
	pts := []vg.Point{at(x(0), y(0))}
	for i, v := range n.histogram() {
		pts = append(pts, at(x(float64(i)/pBins), y(v)), at(x(float64(i+1)/pBins), y(v)))
	}
	pts = append(pts, at(x(1), y(0)))
	if filled {
		d.fill(fade(n.look.colour, 0.22), polygon(pts))
	}
	d.line(stroke(n.look.colour, 1.1, n.look.dashes...), pts...)
}

// nominal are the levels at which the calibration is looked at.
func nominal() []float64 {
	var out []float64
	for e := -3.0; e < 0; e++ {
		for _, m := range []float64{1, 1.5, 2, 3, 5, 7} {
			out = append(out, m*math.Pow(10, e))
		}
	}
	return append(out, 1)
}

// observed is the share of null positions with a p of at most alpha.
func (n pSeries) observed(alpha float64) float64 {
	k, _ := slices.BinarySearchFunc(n.nulls, alpha, func(p, a float64) int {
		if p <= a {
			return -1
		}
		return 1
	})
	return float64(k) / float64(len(n.nulls))
}

func calibrationPlot(series []pSeries) *plot.Plot {
	p := newPlot("nominal level", "share of null positions at or below")
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Min, a.Max, a.Tick.Marker = -3, 0, plot.TickerFunc(decadeTicks)
	}
	p.Add(plotFunc(gridLines), plotFunc(func(c draw.Canvas, p *plot.Plot) {
		u, v := p.Transforms(&c)
		x := func(a float64) vg.Length { return u(math.Log10(a)) }
		y := func(a float64) vg.Length { return v(math.Log10(a)) }
		d := pen{c}
		calibrationBand(d, x, y, series)
		d.line(stroke(inkColour, 0.8, 1, 1.5), at(x(1e-3), y(1e-3)), at(x(1), y(1)))
		for _, n := range series {
			n.curve(d, x, y)
		}
		d.write("fires too often", at(c.Min.X+4, c.Max.Y-4), smallText, softColour, text.XLeft, text.YTop)
		d.write("fires too seldom", at(c.Max.X-10, c.Min.Y+4), smallText, softColour, text.XRight, text.YBottom)
	}))
	return p
}

// calibrationBand shades where 95 % of calibrated curves would lie, for the
// species with the fewest null positions.
func calibrationBand(d pen, x, y func(float64) vg.Length, series []pSeries) {
	n := 0
	for _, s := range series {
		if len(s.nulls) > 0 && (n == 0 || len(s.nulls) < n) {
			n = len(s.nulls)
		}
	}
	if n == 0 {
		return
	}
	var up, down []vg.Point
	for _, a := range nominal() {
		half := 1.96 * math.Sqrt(a*(1-a)/float64(n))
		up = append(up, at(x(a), y(min(a+half, 1))))
		down = append([]vg.Point{at(x(a), y(max(a-half, 1e-3)))}, down...)
	}
	d.fill(fade(softColour, 0.2), polygon(append(up, down...)))
}

func (n pSeries) curve(d pen, x, y func(float64) vg.Length) {
	var pts []vg.Point
	for _, a := range nominal() {
		if o := n.observed(a); len(n.nulls) > 0 && o >= 1e-3 {
			pts = append(pts, at(x(a), y(o)))
		}
	}
	if len(pts) > 1 {
		d.line(stroke(n.look.colour, 1.1, n.look.dashes...), pts...)
	}
	for _, pt := range pts {
		d.mark(n.look.shape, pt, 1.5, n.look.colour)
	}
}

func nullsAlt(series []pSeries) string {
	alt := "Left: histogram of the directional p-values of the craters. Right: share of null positions with a p at or below each nominal level."
	for _, n := range series {
		if len(n.nulls) > 0 {
			alt += fmt.Sprintf(" %s: at the nominal 5 %% the test fired at %s %% of %d null positions.", n.name, orUnknown(100*n.observed(0.05)), len(n.nulls))
		}
	}
	return alt
}

func nullsData(series []pSeries) [][]string {
	rows := [][]string{{"species", "part", "level", "value", "count"}}
	for _, n := range series {
		for i, v := range n.histogram() {
			rows = append(rows, []string{NeutralText(n.name), "histogram, upper edge of bin", number(float64(i+1) / pBins), number(v), strconv.Itoa(len(n.craters))})
		}
		for _, a := range nominal() {
			rows = append(rows, []string{NeutralText(n.name), "calibration", number(a), number(n.observed(a)), strconv.Itoa(len(n.nulls))})
		}
	}
	return rows
}
